"""Room: clearance, stopping, no return, keep-out, sight lines. What decides whether a test may be run at all."""

from choreo.space.judge import failed_apart_from_the_site
from choreo.space.on_site import OnSite, on_site, on_surface
from choreo.space.sight_plans import sights_of, with_sights
from choreo.space.stage import Stage, footprint, stage_of
from choreo.space.survey import survey
from choreo.space.track import Track, track_of, tracks_of

__all__ = [
    "OnSite",
    "Stage",
    "Track",
    "failed_apart_from_the_site",
    "footprint",
    "on_site",
    "on_surface",
    "sights_of",
    "stage_of",
    "survey",
    "track_of",
    "tracks_of",
    "with_sights",
]
