"""The room beside a straight on which a mover is steered by angle: a weave, a sine with dwell.

The planned motion is that of the straight; where the mover is beside it, and when, no plan knows. What is counted is a
bound of how far each point of its body comes aside (`choreo.courses.Steered`), and of a stop that leaves the way in the
direction which the body has then.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from choreo.courses import Steered
from choreo.geometry import body_corners
from choreo.ground.stop import Stop
from choreo.plans.room_record import PairClearance
from choreo.room.stopping import stops_of
from choreo.room.sweep import Swept
from choreo.scenario import Scenario
from choreo.track.tracks import Track
from choreo.words import Finding
from choreo.words.display import kmh
from choreo.words.records import dataclass

# Lateral accelerations (m/s2) and widths (m) that are more by less than this are rounding.
ROUNDING = 1e-9
# The planned speed is looked at so often (s); below the other one (m/s) nobody weaves.
LOOK_S = 0.05
CRAWL_MPS = 0.1


@dataclass(frozen=True, slots=True)
class Aside:
    """How far a mover comes aside, along which stretch of its path (stations in m).

    lateral_mps2: of which it is counted; limit_mps2: of the mover there. middle_m: how far its middle comes, reach_m:
    the farthest point of its body, beyond where it is on the straight.
    """

    steered: Steered
    from_m: float
    to_m: float
    lateral_mps2: float
    limit_mps2: float
    middle_m: float
    reach_m: float


def aside_of(scenario: Scenario, track: Track) -> Aside | None:
    """Give how far a mover comes aside; None where it isn't steered by angle. scenario: with limits on its ground."""
    mover = scenario.movers[track.name]
    spec = scenario.paths.get(mover.path or "")
    if spec is None or spec.course is None or spec.course.steered is None or not track.moves:
        return None
    steered = spec.course.steered
    times = np.linspace(0.0, track.end_s, math.ceil(track.end_s / LOOK_S) + 1)
    stations, speeds = track.states(times)
    first = max(steered.begin_m, float(stations[0]))
    last = min(steered.end_m, float(stations[-1]))
    on_it = speeds[(stations >= first) & (stations <= last)]
    if first >= last or not len(on_it):
        return None
    # Who is slower than it is laid out for turns farther for the same lateral acceleration.
    steered = replace(steered, speed_mps=min(steered.speed_mps, max(float(on_it.max()), CRAWL_MPS)))
    limit = mover.limits.lateral_mps2
    lateral = steered.counted(limit)
    reach = steered.reach_m(lateral, track.radius_m)
    return Aside(steered, first, last, lateral, limit, steered.reach_m(lateral, 0.0), reach)


def with_aside(swept: Swept, track: Track, stop: Stop, aside: Aside | None) -> Swept:
    """Widen what a mover sweeps where it is steered by angle: by its way aside, and by stops that are begun there."""
    if aside is None:
        return swept
    stops = stops_of(track, stop)
    here = (stops.here_m >= aside.from_m) & (stops.here_m <= aside.to_m)
    ways = stops.ways_m[here]
    planned = _strip(track, aside.from_m, aside.to_m, aside.reach_m)
    way = float(ways.max()) if len(ways) else 0.0
    stopping = aside.steered.reach_m(aside.lateral_mps2, track.radius_m + way)
    stopped = _strip(track, aside.from_m, aside.to_m + way, stopping)
    return Swept(
        shapely.union_all([swept.planned, planned]),
        shapely.union_all([swept.with_stops, planned, stopped]),
    )


def _strip(track: Track, from_m: float, to_m: float, by_m: float) -> BaseGeometry:
    """Sweep a body along a straight between stations in m, widened to either side."""
    ends = track.path.pose(np.array([from_m, to_m]))
    corners = body_corners(track.corners_m, ends).reshape(-1, 2)
    heading = float(ends.heading_rad[0])
    across = by_m * np.array([-np.sin(heading), np.cos(heading)])
    return shapely.convex_hull(
        shapely.multipoints(np.concatenate((corners + across, corners - across)))
    )


def nearer(
    pairs: tuple[PairClearance, ...], asides: Mapping[str, Aside]
) -> tuple[PairClearance, ...]:
    """Take ways aside off least distances: when each is where beside its straight, nobody knows."""

    def of(pair: PairClearance) -> float:
        return sum(asides[name].reach_m for name in (pair.a, pair.b) if name in asides)

    return tuple(
        one if one.meets_s is not None else replace(one, least_m=max(one.least_m - of(one), 0.0))
        for one in pairs
    )


def aside_findings(
    scenario: Scenario, tracks: Mapping[str, Track], asides: Mapping[str, Aside]
) -> Iterator[Finding]:
    """Tell what was counted and what wasn't; an error where a lane or the mover's limit is too small for it."""
    for name, one in asides.items():
        path = scenario.movers[name].path or ""
        place = scenario.origin("paths", path)
        half = float(np.abs(tracks[name].corners_m[:, 1]).max())
        takes, lane = 2.0 * (half + one.reach_m), one.steered.lane_m
        told = {"mover": name, "path": path}
        if lane is not None and takes > lane + ROUNDING:
            what = f"its body takes {takes:.2f} m of a lane that is {lane:g} m wide"
            instead = "Write a wider `lane width`, or leave it out where there is no lane."
            yield Finding("space.aside", "error", place, {**told, "what": what, "instead": instead})
        asked = one.steered.asked_mps2
        if asked > one.limit_mps2 + ROUNDING:
            what = f"it takes {asked:.2f} m/s2 sideways, its limit is {one.limit_mps2:.2f} m/s2"
            instead = "Ask for less, or have a mover drive it that can do that."
            yield Finding("space.aside", "error", place, {**told, "what": what, "instead": instead})
        values = {
            **told,
            "middle": f"{one.middle_m:.2f}",
            "reach": f"{one.reach_m:.2f}",
            "lateral": f"{one.lateral_mps2:.2f}",
            "speed": kmh(one.steered.speed_mps),
            "from": f"{one.from_m:.1f}",
            "to": f"{one.to_m:.1f}",
        }
        yield Finding("space.aside-counted", "warning", place, values)


def unsure(
    scenario: Scenario, pairs: tuple[PairClearance, ...], asides: Mapping[str, Aside]
) -> Iterator[Finding]:
    """Tell whom a mover may touch that comes aside."""
    for pair in pairs:
        for name, other in ((pair.a, pair.b), (pair.b, pair.a)):
            if name in asides and pair.meets_s is None and pair.least_m <= 0.0:
                path = scenario.movers[name].path or ""
                what = f"it may come as far as {other} is, by plan"
                instead = f"Move {other} farther away from that straight."
                values = {"mover": name, "path": path, "what": what, "instead": instead}
                yield Finding("space.aside", "error", scenario.origin("paths", path), values)
