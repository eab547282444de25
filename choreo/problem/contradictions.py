"""Encounters and start marks that contradict each other whatever the numbers are: who is ahead, what touched before.

Movers on one path all go the same way and can't pass through one another. What happens after a contact isn't planned.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import combinations

import numpy as np

from choreo.geometry import Path, body_corners, lap_of
from choreo.scenario import Contact, Encounter, Event, Gap, Mover, Scenario
from choreo.words import Finding, Origin
from choreo.words.tolerances import OVERLAP_M


def contradictions(scenario: Scenario, paths: Mapping[str, Path]) -> list[Finding]:
    """Find movers named the wrong way round, encounters after a contact, and bodies that overlap where they start."""
    return [
        *_swapped(scenario, paths),
        *_after_contacts(scenario),
        *_overlapping(scenario, paths),
    ]


def _swapped(scenario: Scenario, paths: Mapping[str, Path]) -> Iterator[Finding]:
    """Gaps whose `of` is ahead, by the start marks or by a contact of the same two."""
    for name, gap in scenario.encounters.items():
        if not isinstance(gap, Gap) or not _in_one_lane(gap, scenario, paths):
            continue
        contact = next((one for one, met in scenario.encounters.items() if _hits(met, gap)), None)
        why = _by_marks(scenario, gap)
        related = None
        if contact is not None:
            why = f"in encounter `{contact}` the front of {gap.with_} meets {gap.of}"
            related = scenario.origin("encounters", contact)
        if why is None or gap.wanted.lo < 0.0:
            continue
        values = {"encounter": name, "of": gap.of, "with": gap.with_, "why": why}
        place = scenario.origin("encounters", name)
        yield Finding("problem.swapped", "error", place, values, (related,) if related else ())


def _hits(contact: Encounter, gap: Gap) -> bool:
    """Whether it is a contact in which `with` of a gap drives into its `of`."""
    one = isinstance(contact, Contact) and contact.face == "front"
    return one and (contact.of, contact.with_) == (gap.with_, gap.of)


def _by_marks(scenario: Scenario, gap: Gap) -> str | None:
    """How the start marks say that `of` is ahead; None where they don't."""
    ahead, behind = scenario.movers[gap.of], scenario.movers[gap.with_]
    ahead_m, behind_m = _waits_at(ahead), _waits_at(behind)
    if ahead_m is None or behind_m is None:
        return None
    if ahead_m - ahead.body.rear_m < behind_m + behind.body.front_m:
        return None
    return f"{gap.of} starts at station {ahead_m:g} m, {gap.with_} at {behind_m:g} m"


def _in_one_lane(gap: Gap, scenario: Scenario, paths: Mapping[str, Path]) -> bool:
    """Whether both follow one path that has ends; on a loop everybody is ahead of everybody."""
    of, with_ = scenario.movers[gap.of].path, scenario.movers[gap.with_].path
    return of is not None and of == with_ and lap_of(paths[gap.of]) is None


def _waits_at(mover: Mover) -> float | None:
    """The given station in m at which a mover is at go; None where it is open, or where it rolls to it."""
    start = mover.start
    if mover.path is None:
        return 0.0
    known = start.station.fixed and (start.speed_mps == 0.0 or start.at_go)
    return start.station.lo if known else None


def _after_contacts(scenario: Scenario) -> Iterator[Finding]:
    """Encounters that can't come before a contact of the same two, or of one of them."""
    for first, contact in scenario.encounters.items():
        if not isinstance(contact, Contact):
            continue
        pair = {contact.of, contact.with_}
        for name, encounter in scenario.encounters.items():
            both = pair & {encounter.of, encounter.with_}
            if name == first or not both or not _follows(scenario, name, encounter, first, both):
                continue
            values = {"encounter": name, "contact": first, "movers": " and ".join(sorted(both))}
            same = both == pair
            yield Finding(
                "problem.after-contact" if same else "problem.touched-before",
                "error" if same else "warning",
                scenario.origin("encounters", name),
                values,
                tuple(filter(None, (scenario.origin("encounters", first),))),
            )


def _follows(
    scenario: Scenario, name: str, encounter: Encounter, contact: str, both: set[str]
) -> bool:
    """Whether an encounter comes after a contact; a gap of the same two that is judged at it does too."""
    if not isinstance(encounter, Gap):
        return _is_after(scenario, Event("encounter", name), contact) > 0
    ends = [encounter.at, *([encounter.held_until] if encounter.held_until else [])]
    late = max(_is_after(scenario, event, contact) for event in ends)
    apart = encounter.wanted.lo > encounter.tolerance
    return late > 0 or (late == 0 and len(both) > 1 and apart)


def _is_after(scenario: Scenario, event: Event, contact: str) -> int:
    """1: an event comes after a contact, by the programme of some mover; 0: at it; -1: neither is known."""
    if event == Event("encounter", contact):
        return 0
    late = -1
    for name, mover in scenario.movers.items():
        untils = [phase.until for phase in mover.programme]
        if Event("encounter", contact) not in untils:
            continue
        touched = untils.index(Event("encounter", contact))
        if event in untils[touched + 1 :] and event not in untils[:touched]:
            late = 1
        if event.mover != name or event.kind not in ("phase start", "phase end"):
            continue
        index = [phase.name for phase in mover.programme].index(event.name or "")
        boundary = index + (event.kind == "phase end")
        if boundary > touched:
            late = max(late, 1 if boundary > touched + 1 else 0)
    return late


def _overlapping(scenario: Scenario, paths: Mapping[str, Path]) -> Iterator[Finding]:
    """Bodies that lie in each other at their given start marks; of two that only stand obstacles may."""
    places = {}
    for name, mover in scenario.movers.items():
        station = _waits_at(mover)
        if station is not None:
            poses = paths[name].pose(np.array([station]))
            places[name] = body_corners(mover.body.corners_m, poses)[0]
    for a, b in combinations(places, 2):
        both = scenario.movers[a], scenario.movers[b]
        stand = not any(one.programme for one in both)
        if stand and any(one.kind == "obstacle" for one in both):
            continue
        if depth_m(places[a], places[b]) > OVERLAP_M:
            origin, related = (_place_of(scenario, name) for name in (b, a))
            yield Finding(
                "problem.stand-overlap" if stand else "problem.start-overlap",
                "error",
                origin,
                {"a": a, "b": b},
                (related,),
            )


def _place_of(scenario: Scenario, name: str) -> Origin:
    """Give the place where a file says where one stands or starts."""
    stands = scenario.movers[name].stand is not None
    return scenario.origin("movers", name, "stand" if stands else "start")


def depth_m(one: np.ndarray, other: np.ndarray) -> float:
    """How deep two convex polygons, corners (k, 2) in m counter-clockwise, lie in each other; negative: apart."""
    return float(depths_m(one[None], other[None])[0])


def depths_m(ones: np.ndarray, others: np.ndarray) -> np.ndarray:
    """Give how deep (m) the n pairs of convex polygons lie in each other, corners (n, k, 2), as depth_m.

    Either may be a single one, (1, k, 2), in every pair.
    """
    depths = []
    for a, b in ((ones, others), (others, ones)):
        edges = np.roll(a, -1, axis=1) - a
        normals = np.stack((edges[..., 1], -edges[..., 0]), axis=-1)
        normals /= np.hypot(edges[..., 0], edges[..., 1])[..., None]
        beyond = (b @ normals.swapaxes(1, 2)).min(axis=1) - np.sum(normals * a, axis=-1)
        depths.append(-beyond.max(axis=1))
    return np.asarray(np.minimum(*depths))
