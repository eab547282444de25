"""Where the ways of movers cross, or join, that a simulation saw touch though nobody asked for it."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from choreo.case.record import Case
from choreo.geometry import GapTrack, conflict_zone
from choreo.linear import Crossing, Merging
from choreo.scenario import Gap
from choreo.solve.reading import Reading
from choreo.verification import Verification


def crossings_of(case: Case, verification: Verification, room_m: float) -> list[Crossing]:
    """Give the crossing of each pair that touches unasked, wider by room_m on both sides; none within a lane."""
    movers, paths = case.scenario.movers, case.paths
    found = []
    for a, b in verification.touching:
        zone = conflict_zone(paths[a], movers[a].body, paths[b], movers[b].body)
        if zone is not None:
            entries = zone.entry_a_m - room_m, zone.entry_b_m - room_m
            exits = zone.exit_a_m + room_m, zone.exit_b_m + room_m
            found.append(Crossing(a, b, entries[0], exits[0], entries[1], exits[1]))
    return found


# So often a plan is looked at for when two come into one lane (s).
LOOKS_S = 0.1


def merging_of(
    case: Case, verification: Verification, reading: Reading
) -> Iterator[tuple[Merging, ...]]:
    """Give the pairs that touch unasked where their ways join, in the orders that they may have.

    Who is behind by a gap stays behind; first all others are as the plan has them when they join, then the other way.
    """
    found = list(_merging(case, verification, reading))
    yield tuple(first for first, _ in found)
    if any(first is not second for first, second in found):
        yield tuple(second for _, second in found)


def _merging(
    case: Case, verification: Verification, reading: Reading
) -> Iterator[tuple[Merging, Merging]]:
    behind = {
        (one.of, one.with_) for one in case.scenario.encounters.values() if isinstance(one, Gap)
    }
    for a, b in verification.touching:
        if case.paths[a] is case.paths[b]:
            continue
        if (a, b) in behind or (b, a) in behind:
            known = _pair(case, *((a, b) if (a, b) in behind else (b, a)))
            yield known, known
            continue
        first, second = _pair(case, a, b), _pair(case, b, a)
        motions = reading.movers[a], reading.movers[b]
        ends_s = max(motion.phases[-1].end_s if motion.phases else 0.0 for motion in motions)
        for time_s in np.arange(0.0, ends_s, LOOKS_S).tolist():
            at_a, at_b = (motion.at(time_s)[0] for motion in motions)
            if first.in_lane(at_b) and second.in_lane(at_a):
                ahead = first.room_m(at_a, at_b) > second.room_m(at_b, at_a)
                yield (first, second) if ahead else (second, first)
                break


def _pair(case: Case, behind: str, ahead: str) -> Merging:
    """Two of which the one ahead comes into the lane of the other, or the other way round."""
    path, other = case.paths[behind], case.paths[ahead]
    back, front = (case.scenario.movers[name].body for name in (behind, ahead))
    relation = GapTrack(path, other, front.front_m, front.rear_m)
    wide_m = sum(max(abs(y) for _, y in one.corners_m) for one in (back, front))

    def in_lane(station_m: float) -> bool:
        at = other.pose(np.array([station_m]))
        x, y = float(at.x_m[0]), float(at.y_m[0])
        foot = path.pose(np.array([path.nearest(x, y)]))
        return math.hypot(x - float(foot.x_m[0]), y - float(foot.y_m[0])) < wide_m

    return Merging(behind, ahead, relation.at, back.front_m, in_lane)
