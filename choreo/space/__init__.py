"""Room: clearance, stopping, no return, keep-out, sight lines. What decides whether a test may be run at all."""

from choreo.space.on_site import OnSite, on_site, on_surface
from choreo.space.sight_plans import sights_of, with_sights
from choreo.space.survey import Stage, footprint, stage_of, survey
from choreo.space.track import Track, track_of

__all__ = [
    "OnSite",
    "Stage",
    "Track",
    "footprint",
    "on_site",
    "on_surface",
    "sights_of",
    "stage_of",
    "survey",
    "track_of",
    "with_sights",
]
