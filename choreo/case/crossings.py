"""Where the ways of movers cross that a simulation saw touch though nobody asked for it."""

from __future__ import annotations

from choreo.case.record import Case
from choreo.geometry import conflict_zone
from choreo.linear import Crossing
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
