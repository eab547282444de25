"""The plan as staged on the day: measured marks and latencies put in, simulated again, corrected."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from choreo.geometry import Path
from choreo.plan.record import EncounterPlan, Piece, Plan
from choreo.problem import paths_by_mover
from choreo.scenario import Measured, Scenario, Span
from choreo.verdict.answer import answer
from choreo.verify import verify
from choreo.words import ChoreoError


@dataclass(frozen=True, slots=True)
class StagedEncounter:
    """What an encounter becomes with the marks and latencies as measured."""

    name: str
    planned: EncounterPlan
    measured: float | None
    within: bool


@dataclass(frozen=True, slots=True)
class Correction:
    """A setting or launch that puts things right: what, from, to, unit."""

    what: str
    planned: float
    corrected: float
    unit: str


@dataclass(frozen=True, slots=True)
class StagedCheck:
    """Moved marks in metres (along, beside the path), encounters as they would come out, corrections."""

    moved: Mapping[str, tuple[float, float]]
    encounters: tuple[StagedEncounter, ...]
    corrections: tuple[Correction, ...]
    corrected_verdict: str

    @property
    def within(self) -> bool:
        return all(encounter.within for encounter in self.encounters)


def check_staged(scenario: Scenario, plan: Plan, measured: Measured) -> StagedCheck:
    """Simulate a plan from the measured marks with the measured latencies, and correct it.

    Settings, launch times and ramps stay as planned for the simulation. The correction solves the scenario anew
    with the marks fixed where they are and every trigger setting free; if that can't be, with the marks as the
    scenario allows.
    """
    paths = paths_by_mover(scenario)
    stations, beside = _stations(measured, plan, paths)
    as_staged = _with_latencies(scenario, measured)
    moved_plan = _moved(scenario, plan, stations)
    verification = verify(as_staged, paths, moved_plan)
    encounters = tuple(
        _staged(name, one, verification.measured.get(name)) for name, one in plan.encounters.items()
    )
    corrected = _corrected(as_staged, stations)
    moved = {
        name: (
            stations.get(name, mover.start.station_m) - mover.start.station_m,
            beside.get(name, 0.0),
        )
        for name, mover in plan.movers.items()
    }
    return StagedCheck(
        moved, encounters, _corrections(plan, corrected, stations), corrected.verdict
    )


def _corrected(scenario: Scenario, stations: Mapping[str, float]) -> Plan:
    """Plan anew from these marks; where nothing works from them, let the marks move too.

    A settle time may be lost, or a mark may lie a little before its path begins.
    """
    try:
        corrected = answer(_free_settings(_at_marks(scenario, stations)))
    except ChoreoError:
        return answer(_free_settings(scenario))
    if corrected.verdict == "feasible":
        return corrected
    return answer(_free_settings(scenario))


def _staged(name: str, planned: EncounterPlan, measured: float | None) -> StagedEncounter:
    if measured is None:
        return StagedEncounter(name, planned, None, False)
    low, high = planned.wanted
    within = low - planned.tolerance <= measured <= high + planned.tolerance
    return StagedEncounter(name, planned, measured, within)


def _stations(
    measured: Measured, plan: Plan, paths: Mapping[str, Path]
) -> tuple[dict[str, float], dict[str, float]]:
    """Measured stations; marks given as x and y are dropped on the path, the rest is told as beside."""
    stations = dict(measured.stations_m)
    beside = {}
    for name, (x, y) in measured.points_m.items():
        near = plan.movers[name].start.station_m
        station = float(paths[name].nearest(x, y, near))
        pose = paths[name].pose(np.array([station]))
        heading = float(pose.heading_rad[0])
        across = -(x - pose.x_m[0]) * math.sin(heading) + (y - pose.y_m[0]) * math.cos(heading)
        stations[name] = station
        beside[name] = float(across)
    return stations, beside


def _with_latencies(scenario: Scenario, measured: Measured) -> Scenario:
    triggers = {
        name: replace(trigger, latency_s=measured.latencies_s.get(name, trigger.latency_s))
        for name, trigger in scenario.triggers.items()
    }
    return replace(scenario, triggers=triggers)


def _moved(scenario: Scenario, plan: Plan, stations: Mapping[str, float]) -> Plan:
    """Shift each mover's motion to its measured mark; times, settings and ramps stay.

    A hold that lasts until an encounter is followed a while longer, since a late mover still holds when it is met.
    """
    movers = {}
    for name, mover in plan.movers.items():
        shift = stations.get(name, mover.start.station_m) - mover.start.station_m
        open_ended = {
            phase.name
            for phase in scenario.movers[name].programme
            if phase.until is not None and phase.until.kind == "encounter"
        }
        pieces = _followed(mover.pieces, open_ended, shift)
        start = replace(mover.start, station_m=mover.start.station_m + shift)
        movers[name] = replace(mover, start=start, pieces=pieces)
    return replace(plan, movers=movers)


def _followed(pieces: tuple[Piece, ...], holds: set[str], shift_m: float) -> tuple[Piece, ...]:
    """Move pieces by shift_m; let the holds named last LATE_S longer and all that follows begin later."""
    moved, late_s, along_m = [], 0.0, shift_m
    for piece in pieces:
        longer = LATE_S if piece.phase in holds else 0.0
        moved.append(
            replace(
                piece,
                start_s=piece.start_s + late_s,
                duration_s=piece.duration_s + longer,
                station_m=piece.station_m + along_m,
            )
        )
        late_s, along_m = late_s + longer, along_m + longer * piece.speed_mps
    return tuple(moved)


def _at_marks(scenario: Scenario, stations: Mapping[str, float]) -> Scenario:
    movers = {}
    for name, mover in scenario.movers.items():
        if name in stations:
            at = Span(lo=stations[name], hi=stations[name])
            mover = replace(mover, start=replace(mover.start, station=at))
        movers[name] = mover
    return replace(scenario, movers=movers)


def _free_settings(scenario: Scenario) -> Scenario:
    free = Span(lo=-math.inf, hi=math.inf)
    triggers = {name: replace(trigger, setting=free) for name, trigger in scenario.triggers.items()}
    return replace(scenario, triggers=triggers)


def _corrections(
    plan: Plan, corrected: Plan, stations: Mapping[str, float]
) -> tuple[Correction, ...]:
    if corrected.verdict != "feasible":
        return ()
    found = []
    for name, trigger in plan.triggers.items():
        new = corrected.triggers[name]
        what = f"trigger {name}: {trigger.condition}"
        found.append(Correction(what, trigger.setting, new.setting, trigger.setting_unit))
    for name, mover in plan.movers.items():
        after = corrected.movers[name]
        if mover.pieces and mover.launched_by in ("go", "time"):
            found.append(Correction(f"launch of {name}", mover.launch_s, after.launch_s, "s"))
        now = stations.get(name, mover.start.station_m)
        if abs(after.start.station_m - now) > SAME_MARK_M:
            found.append(Correction(f"start mark of {name}", now, after.start.station_m, "m"))
    return tuple(found)


# How much later than planned an encounter is still followed.
LATE_S = 3.0

# Marks nearer than a millimetre are the same mark.
SAME_MARK_M = 1 / 1000
