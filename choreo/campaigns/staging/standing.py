"""Obstacles that a sight has moved, stood where a tape finds them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from choreo.campaigns.staging.cover import least_cover
from choreo.campaigns.staging.member import Member
from choreo.case import Answer, Case, answer_with_sights, sights_in, survey, with_sights_of
from choreo.plans import Plan
from choreo.scenario import Scenario
from choreo.scenario.records.edits import with_mover

# Obstacles stand at whole multiples of the coarsest of these (m) from where the sight is still as wanted.
ROUND_M = (0.1, 0.05, 0.01)
# So often it is looked whether a variant's sight is as wanted with the obstacles where another one's stand.
MOST_LOOKS = 400

# Where what sights move stands: x and y in m, heading in rad, each.
Places = tuple[tuple[float, float, float], ...]


def standing_round(case: Case, plan: Plan) -> tuple[Case, Plan]:
    """Give a case, and its plan, with obstacles that sights move at round places, and no sight that moves them.

    plan: of the case, feasible. Where the sight isn't as wanted from any round place, obstacles stand where it is.
    """
    if not any(one.moving is not None for one in case.scenario.sights.values()):
        return case, plan
    found = survey(*answer_with_sights(case))
    moved = with_sights_of(case, found.plan)
    if not _as_wanted(found):
        return moved, plan
    for step_m in ROUND_M:
        other = case.changed(_rounded(moved.scenario, step_m))
        again = survey(*answer_with_sights(other))
        if _as_wanted(again):
            return other, replace(again.plan, fingerprint=plan.fingerprint)
    return moved, plan


def moved_by_sights(scenario: Scenario) -> frozenset[str]:
    """Give the obstacles that sights move."""
    return frozenset(one.moving for one in scenario.sights.values() if one.moving is not None)


def standing_together(members: Sequence[Member]) -> list[Member]:
    """Give the members with what sights move at as few places as serve them all, of the places where it stands.

    Each is planned and looked at anew from another's place; where its sight isn't as wanted then, it keeps its own.
    """
    alike: dict[object, list[Member]] = {}
    for member in members:
        if member.moved:
            alike.setdefault((member.moved, member.bare_layout), []).append(member)
    found = {member.index: member for member in members}
    for group in alike.values():
        found |= {one.index: one for one in _together(group)}
    return list(found.values())


def _together(group: Sequence[Member]) -> list[Member]:
    every = sorted(
        dict.fromkeys(_places(one) for one in group),
        key=lambda there: sum(_apart_m(there, _places(one)) for one in group),
    )
    places = every[:: max(1, -(-len(every) * len(group) // MOST_LOOKS))]
    sets = [
        frozenset(
            number
            for number, one in enumerate(group)
            if _places(one) == there or _seen_from(one, there)
        )
        for there in places
    ]
    chosen = least_cover([*sets, *(frozenset({number}) for number in range(len(group)))]).chosen
    moved = []
    for number, one in enumerate(group):
        shared = [
            places[choice] for choice in chosen if choice < len(places) and number in sets[choice]
        ]
        own = not shared or _places(one) in shared
        moved.append(one if own else _stood(one, shared[0]) or one)
    return moved


def _places(member: Member) -> Places:
    movers = member.case.scenario.movers
    stands = (movers[name].stand for name in sorted(member.moved))
    return tuple(stand for stand in stands if stand is not None)


def _apart_m(one: Places, other: Places) -> float:
    return sum(math.dist(a[:2], b[:2]) for a, b in zip(one, other, strict=True))


def _at(member: Member, there: Places) -> Case:
    scenario = member.case.scenario
    for name, stand in zip(sorted(member.moved), there, strict=True):
        scenario = with_mover(scenario, name, replace(scenario.movers[name], stand=stand))
    return member.case.changed(scenario)


def _seen_from(member: Member, there: Places) -> bool:
    """Whether every sight is as wanted with the obstacles there, by the member's own plan."""
    return all(one.within is not False for one in sights_in(_at(member, there), member.own))


def _stood(member: Member, there: Places) -> Member | None:
    case = _at(member, there)
    again = survey(*answer_with_sights(case))
    if not _as_wanted(again):
        return None
    plan = replace(again.plan, fingerprint=member.own.fingerprint)
    return Member(member.index, case, plan, moved=member.moved)


def _as_wanted(found: Answer) -> bool:
    space = found.plan.space
    if found.plan.verdict != "feasible" or space is None or not space.clear:
        return False
    return all(one.within is not False for one in space.sights)


def _rounded(scenario: Scenario, step_m: float) -> Scenario:
    """The scenario with what sights move at round places along its heading: in x or y, whichever changes more."""
    for name in dict.fromkeys(one.moving for one in scenario.sights.values()):
        mover = None if name is None else scenario.movers[name]
        if name is None or mover is None or mover.stand is None:
            continue
        x_m, y_m, heading_rad = mover.stand
        cos, sin = math.cos(heading_rad), math.sin(heading_rad)
        if abs(cos) >= abs(sin):
            there_m = _round(x_m, step_m)
            stand = (there_m, y_m + (there_m - x_m) * sin / cos, heading_rad)
        else:
            there_m = _round(y_m, step_m)
            stand = (x_m + (there_m - y_m) * cos / sin, there_m, heading_rad)
        scenario = with_mover(scenario, name, replace(mover, stand=stand))
    sights = {name: replace(one, moving=None) for name, one in scenario.sights.items()}
    return replace(scenario, sights=sights)


def _round(place_m: float, step_m: float) -> float:
    return round(round(place_m / step_m) * step_m, 6)
