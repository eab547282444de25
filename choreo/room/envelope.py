"""All that a run may take of its ground: the planned motions, how each mover stops, what each sweeps."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from choreo.geometry import Path, motion_headings
from choreo.ground import Ground
from choreo.ground.limits import GroundLimits
from choreo.ground.stop import LEAST_BRAKE_MPS2, Stop
from choreo.ground.under import surface_in
from choreo.plans.record import Plan
from choreo.room.aside import Aside, aside_of, with_aside
from choreo.room.keep_out import widened
from choreo.room.sweep import Swept, swept
from choreo.scenario import Safety
from choreo.track.tracks import Track, tracks_of
from choreo.words.records import dataclass

# Directions along a path are looked at in so many places.
HEADINGS = 400


@dataclass(frozen=True, slots=True)
class Envelope:
    """By mover: its planned motion, how it stops (movers that move only), and what it sweeps either way.

    asides: of those that are steered by angle, how far beside their path they come; it is part of what they sweep.
    """

    tracks: Mapping[str, Track]
    stops: Mapping[str, Stop]
    sweeps: Mapping[str, Swept]
    asides: Mapping[str, Aside]


def envelope_of(
    on_site: GroundLimits, paths: Mapping[str, Path], plan: Plan, ground: Ground | None = None
) -> Envelope:
    """Make the motions, stops and sweeps of a plan. paths: by mover.

    ground: a stop may run onto another area; the worst surface it can reach decides its braking. None: as under the
    path.
    """
    tracks = tracks_of(on_site.scenario, paths, plan)
    stops: dict[str, Stop] = {}
    sweeps: dict[str, Swept] = {}
    asides: dict[str, Aside] = {}
    for name, track in tracks.items():
        stop = on_site.stops[name] if track.moves else None
        sweeps[name] = swept(track, stop)
        if stop is None:
            continue
        aside = aside_of(on_site.scenario, track)
        if aside is not None:
            asides[name] = aside
            sweeps[name] = with_aside(sweeps[name], track, stop, aside)
        stops[name], sweeps[name] = _on_reached_ground(track, stop, sweeps[name], aside, ground)
    return Envelope(tracks, stops, sweeps, asides)


def _on_reached_ground(
    track: Track, stop: Stop, sweep: Swept, aside: Aside | None, ground: Ground | None
) -> tuple[Stop, Swept]:
    """Lengthen stops until all ground that they reach is counted; each round adds at least one area."""
    if ground is None:
        return stop, sweep
    stations = np.linspace(
        track.motion.start_m, track.states(np.array([track.end_s]))[0][0], HEADINGS
    )
    headings = motion_headings(track.path, stations)
    for _ in ground.areas:
        reached = stop.surface.with_worse(surface_in(ground, sweep.with_stops, headings))
        if reached == stop.surface:
            break
        stop = stop.on(reached)
        # Ground that leaves no braking is a failed check; the sums need some.
        stop = replace(stop, brake_mps2=max(stop.brake_mps2, LEAST_BRAKE_MPS2))
        sweep = with_aside(swept(track, stop), track, stop, aside)
    return stop, sweep


def swept_area(envelope: Envelope, safety: Safety) -> BaseGeometry:
    """Give all that is swept by plan or by a stop from any instant, widened by path and position errors, in m."""
    together = shapely.union_all([one.with_stops for one in envelope.sweeps.values()])
    return widened(together, safety.error_m)
