"""Paths that change between forwards and backwards: a mover rests at each change, and meets others after the last."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import assert_never

from choreo.geometry import Path, cusps_of, last_leg_m
from choreo.problem.records import MoverProblem, Ramp
from choreo.scenario import Contact, Event, Gap, Scenario
from choreo.words import Finding
from choreo.words.kinds import CONDITIONS
from choreo.words.tolerances import SAME_POINT_M


def cusp_faults(
    scenario: Scenario, paths: Mapping[str, Path], movers: tuple[MoverProblem, ...]
) -> list[Finding]:
    """Find movers that don't stop where their path turns back, and what isn't planned of such ones. paths: by mover."""
    turning = {mover.name: mover for mover in movers if cusps_of(paths[mover.name])}
    if not turning:
        return []
    return [
        *(one for mover in turning.values() for one in _passed(scenario, paths, mover)),
        *_in_company(scenario, turning),
        *_early(scenario, paths, turning),
    ]


def _passed(
    scenario: Scenario, paths: Mapping[str, Path], mover: MoverProblem
) -> Iterator[Finding]:
    """Changes of direction at which a mover does not rest, of those that lie before its last stop at a place."""
    rests = [one.ends_at_m for one in mover.phases if isinstance(one, Ramp) and _rests(one)]
    if not mover.phases:
        return
    ends_m = rests[-1] if rests and rests[-1] is not None else paths[mover.name].length_m
    for cusp_m in cusps_of(paths[mover.name]):
        passed = mover.start.lo < cusp_m - SAME_POINT_M and cusp_m < ends_m - SAME_POINT_M
        if passed and not any(
            one is not None and abs(one - cusp_m) <= SAME_POINT_M for one in rests
        ):
            values = {"mover": mover.name, "station": f"{cusp_m:.3f} m"}
            place = scenario.origin("movers", mover.name, "programme")
            path = scenario.origin("paths", scenario.movers[mover.name].path or "")
            yield Finding("problem.turns-at-speed", "error", place, values, (path,) if path else ())


def _rests(ramp: Ramp) -> bool:
    return ramp.to.hi <= 0.0


def _in_company(scenario: Scenario, turning: Mapping[str, MoverProblem]) -> Iterator[Finding]:
    """Others on the path of one that turns back: who is ahead of whom changes there."""
    for name in turning:
        path = scenario.movers[name].path
        others = [
            one for one, mover in scenario.movers.items() if mover.path == path and one > name
        ]
        for other in others:
            values = {"mover": name, "other": other, "path": path or ""}
            place = scenario.origin("movers", other, "path")
            yield Finding("problem.turning-lane", "error", place, values)


def _early(
    scenario: Scenario, paths: Mapping[str, Path], turning: Mapping[str, MoverProblem]
) -> Iterator[Finding]:
    """Passes, gaps and triggers by gap that don't belong to what a mover does after its last change of direction."""
    for name, encounter in scenario.encounters.items():
        pair = [one for one in (encounter.of, encounter.with_) if one in turning]
        if isinstance(encounter, Contact) or not pair:
            continue
        ends = (encounter.at, encounter.held_until) if isinstance(encounter, Gap) else (None,)
        known = all(
            event is not None and _after(event, scenario, paths, turning[pair[0]])
            for event in ends
            if event is not None or not isinstance(encounter, Gap)
        )
        if not known or len(pair) > 1:
            kind = "gap" if isinstance(encounter, Gap) else "pass"
            values = {"what": f"encounter `{name}`", "kind": kind, "mover": pair[0]}
            yield Finding(
                "problem.turning-encounter", "error", scenario.origin("encounters", name), values
            )
    for name, trigger in scenario.triggers.items():
        movers = [one for one in (trigger.watch, trigger.to or "") if one in turning]
        if CONDITIONS[trigger.condition].to_mover and movers:
            values = {"what": f"trigger `{name}`", "kind": "gap", "mover": movers[0]}
            yield Finding(
                "problem.turning-encounter", "error", scenario.origin("triggers", name), values
            )


def _after(
    event: Event, scenario: Scenario, paths: Mapping[str, Path], mover: MoverProblem
) -> bool:
    """Whether an event surely comes when a mover is past its last change of direction."""
    last_m = last_leg_m(paths[mover.name])
    match event.kind:
        case "phase start" | "phase end":
            if event.mover != mover.name:
                return False
            names = [one.name for one in scenario.movers[mover.name].programme]
            stops = [
                one.name
                for one in mover.phases
                if isinstance(one, Ramp)
                and one.ends_at_m is not None
                and abs(one.ends_at_m - last_m) <= SAME_POINT_M
            ]
            return bool(stops) and names.index(event.name or "") > names.index(stops[-1])
        case "encounter":
            met = scenario.encounters.get(event.name or "")
            return isinstance(met, Contact) and mover.name in (met.of, met.with_)
        case "trigger" | "instant" | "launch" | "mark start" | "mark end":
            return False
    assert_never(event.kind)
