"""The plan as staged on the day: measured marks and latencies put in, simulated again, corrected."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from choreo.case import Case, answer
from choreo.geometry import Path, PosedInArrays, Poses
from choreo.geometry.loop import lap_of
from choreo.measured.file import Measurements
from choreo.plans.record import EncounterPlan, MoverPlan, Piece, Plan
from choreo.scenario import Mover, Scenario, Span
from choreo.scenario.records.edits import with_each_mover, with_each_trigger
from choreo.scenario.records.scenario import FREE
from choreo.verification import verify
from choreo.words import ChoreoError, Finding
from choreo.words.records import dataclass

Array = NDArray[np.float64]


# What else than the encounters makes a staged run invalid: lost settling, a trigger never fired, limits passed. An
# intended contact at another time is judged by its value.
BROKEN = (
    "verify.not-settled",
    "verify.trigger-unsettled",
    "verify.trigger-never",
    "verify.unintended-contact",
    "verify.speed",
    "verify.acceleration",
    "verify.lateral",
)
# Settings and times that differ by less than this (m, s, m/s) are set the same.
SAME_SETTING = 1 / 2000
# Rates that differ by less (m/s2) are shown the same.
SAME_RATE_MPS2 = 1 / 200
# How much later than planned an encounter is still followed.
LATE_S = 3.0
# Marks nearer than a millimetre are the same mark.
SAME_MARK_M = 1 / 1000
# A mark is set to the millimetre, which at walking pace is 1 ms, and settings are read to the millisecond: settling
# that falls short by less than both together (s) is rounding, since a plan may use it up to the last.
ROUNDING_S = 2 / 1000


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
    """What the measured marks and latencies make of a plan.

    moved: marks in metres (along, beside the path). broken: what the simulation from these marks finds wrong besides
    the encounters (settling lost, a limit passed). corrections belong together; marks_moved are the movers whose start
    marks they move from where they are now.
    """

    moved: Mapping[str, tuple[float, float]]
    encounters: tuple[StagedEncounter, ...]
    broken: tuple[Finding, ...]
    corrections: tuple[Correction, ...]
    marks_moved: tuple[str, ...]
    corrected_verdict: str

    @property
    def marks_kept(self) -> bool:
        """Whether the corrections leave every mark where it is."""
        return self.corrected_verdict == "feasible" and not self.marks_moved

    @property
    def within(self) -> bool:
        return not self.broken and all(encounter.within for encounter in self.encounters)


class Displaced(PosedInArrays):
    """A path moved sideways as a whole, as a mark beside it moves a mover that starts there.

    Whether the mover steers back onto its path is not known; that it does not is the careful supposition. Each mover's
    path is moved across its heading at the start.
    """

    def __init__(self, path: Path, beside_m: float) -> None:
        self._path = path
        heading = float(path.pose(np.array([0.0])).heading_rad[0])
        self._dx_m, self._dy_m = -beside_m * math.sin(heading), beside_m * math.cos(heading)

    @property
    def length_m(self) -> float:
        return self._path.length_m

    @property
    def marks(self) -> dict[str, tuple[float, float]]:
        return self._path.marks

    def pose(self, s_m: Array) -> Poses:
        """Give the moved poses."""
        poses = self._path.pose(s_m)
        return replace(poses, x_m=poses.x_m + self._dx_m, y_m=poses.y_m + self._dy_m)

    def stretches(self) -> tuple[tuple[float, float, float, float], ...]:
        """Give the path's own stretches: moving changes no curvature."""
        return self._path.stretches()

    def nearest(self, x_m: float, y_m: float, near_m: float | None = None) -> float:
        """Give the station nearest to a point."""
        return self._path.nearest(x_m - self._dx_m, y_m - self._dy_m, near_m)


class DisplacedLoop(Displaced):
    """A closed path moved sideways: it stays closed."""

    def __init__(self, path: Path, beside_m: float, lap_m: float) -> None:
        super().__init__(path, beside_m)
        self.lap_m = lap_m


def displaced(path: Path, beside_m: float) -> Path:
    """Give a path moved sideways, to the left of its heading at its beginning; the path itself where it isn't moved."""
    if beside_m == 0.0:
        return path
    lap_m = lap_of(path)
    return Displaced(path, beside_m) if lap_m is None else DisplacedLoop(path, beside_m, lap_m)


def check_staged(
    case: Case, plan: Plan, measured: Measurements, *, marks_may_move: bool = False
) -> StagedCheck:
    """Simulate a plan from the measured marks with the measured latencies, and correct it.

    Settings, launch times and ramps stay as planned for the simulation. The correction solves the scenario anew with
    every trigger setting free, every ramp as planned and every mark where it is (measured, or else planned); if that
    can't be, with as few marks moved as will do. marks_may_move: also where it is well as it is.
    """
    stations, beside = _stations(measured, plan, case.paths)
    encounters, broken = simulated(case, plan, measured)
    marks = {name: stations.get(name, one.start.station_m) for name, one in plan.movers.items()}
    moved = {
        name: (marks[name] - mover.start.station_m, beside.get(name, 0.0))
        for name, mover in plan.movers.items()
    }
    well = not broken and all(one.within for one in encounters)
    corrected = _corrected(
        case,
        plan,
        _with_latencies(case.scenario, measured),
        marks,
        only_settings=well and not marks_may_move,
    )
    if corrected is None:
        # It is well as it is, and no setting makes it better.
        return StagedCheck(moved, encounters, broken, (), (), "feasible")
    return StagedCheck(
        moved,
        encounters,
        broken,
        _corrections(plan, corrected, marks),
        _marks_moved(corrected, marks),
        corrected.verdict,
    )


def simulated(
    case: Case, plan: Plan, measured: Measurements
) -> tuple[tuple[StagedEncounter, ...], tuple[Finding, ...]]:
    """Give what encounters become from the measured marks, and what else breaks there beyond rounding."""
    stations, beside = _stations(measured, plan, case.paths)
    paths = {name: displaced(path, beside.get(name, 0.0)) for name, path in case.paths.items()}
    as_staged = _with_latencies(case.scenario, measured)
    verification = verify(as_staged, paths, _moved(case.scenario, plan, stations), plan)
    broken = tuple(one for one in verification.findings if one.code in BROKEN and not _rounded(one))
    encounters = tuple(
        _staged(name, one, verification.measured.get(name)) for name, one in plan.encounters.items()
    )
    return encounters, broken


def _rounded(finding: Finding) -> bool:
    """Whether settling falls short only by what marks and times are rounded by."""
    steady_s, wanted_s = finding.values.get("steady_s"), finding.values.get("wanted_s")
    if not isinstance(steady_s, float) or not isinstance(wanted_s, float):
        return False
    return steady_s >= wanted_s - ROUNDING_S


def _corrected(
    case: Case, plan: Plan, scenario: Scenario, marks: Mapping[str, float], *, only_settings: bool
) -> Plan | None:
    """Plan anew from these marks; where nothing works from them, let one of them move, then all, and the ramps too.

    A settle time may be lost, or a mark may lie a little before its path begins. only_settings: None where a mark would
    have to move.
    """
    free = _free_settings(scenario)
    kept = _feasible(case, plan, _at_marks(free, marks))
    if kept is not None or only_settings:
        return kept
    moving = [name for name in marks if scenario.movers[name].programme]
    alone = [
        found
        for name in moving
        if (found := _feasible(case, plan, _at_marks(free, _without(marks, name)))) is not None
    ]
    if alone:
        return min(alone, key=lambda found: _farthest_m(found, marks))
    return answer(case.changed(free)).plan


def _feasible(case: Case, plan: Plan, scenario: Scenario) -> Plan | None:
    """The plan of a feasible scenario driving its ramps as `plan` does; None else, as for a mark beyond its path."""
    try:
        found = answer(case.changed(scenario))
    except ChoreoError:
        return None
    return found.plan if found.feasible and not _other_rates(plan, found.plan) else None


def _other_rates(plan: Plan, other: Plan) -> list[Correction]:
    """Where two plans drive a phase at another greatest rate (m/s2, magnitude)."""
    found = []
    for name, mover in plan.movers.items():
        before, after = _rates(mover), _rates(other.movers[name])
        for phase in mover.phases:
            was, now = before.get(phase.name, 0.0), after.get(phase.name, 0.0)
            if abs(now - was) > SAME_RATE_MPS2:
                found.append(Correction(f"{phase.name} of {name}", was, now, "m/s2"))
    return found


def _rates(mover: MoverPlan) -> dict[str, float]:
    """The greatest acceleration or braking by phase, in m/s2."""
    rates: dict[str, float] = {}
    for piece in mover.pieces:
        ends = (piece.accel_mps2, piece.accel_mps2 + piece.jerk_mps3 * piece.duration_s)
        rates[piece.phase] = max(rates.get(piece.phase, 0.0), *map(abs, ends))
    return rates


def _without(marks: Mapping[str, float], name: str) -> dict[str, float]:
    return {other: station for other, station in marks.items() if other != name}


def _farthest_m(plan: Plan, marks: Mapping[str, float]) -> float:
    """How far a mark has to move, in mm steps: the first of equals is taken."""
    return max(round(abs(plan.movers[n].start.station_m - at), 3) for n, at in marks.items())


def _staged(name: str, planned: EncounterPlan, measured: float | None) -> StagedEncounter:
    if measured is None:
        return StagedEncounter(name, planned, None, False)
    return StagedEncounter(name, planned, measured, planned.is_within(measured))


def _stations(
    measured: Measurements, plan: Plan, paths: Mapping[str, Path]
) -> tuple[dict[str, float], dict[str, float]]:
    """Measurements stations; marks given as x and y are dropped on the path, the rest is told as beside."""
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


def _with_latencies(scenario: Scenario, measured: Measurements) -> Scenario:
    return with_each_trigger(
        scenario,
        lambda name, one: replace(one, latency_s=measured.latencies_s.get(name, one.latency_s)),
    )


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
    def marked(name: str, mover: Mover) -> Mover:
        if name not in stations:
            return mover
        return replace(mover, start=replace(mover.start, station=Span.at(stations[name])))

    return with_each_mover(scenario, marked)


def _free_settings(scenario: Scenario) -> Scenario:
    return with_each_trigger(scenario, lambda _name, trigger: replace(trigger, setting=FREE))


def _marks_moved(corrected: Plan, marks: Mapping[str, float]) -> tuple[str, ...]:
    """The movers that a corrected plan starts elsewhere than where their marks are."""
    if corrected.verdict != "feasible":
        return ()
    return tuple(
        name
        for name, station in marks.items()
        if abs(corrected.movers[name].start.station_m - station) > SAME_MARK_M
    )


def _corrections(plan: Plan, corrected: Plan, marks: Mapping[str, float]) -> tuple[Correction, ...]:
    if corrected.verdict != "feasible":
        return ()
    found = []
    for name, trigger in plan.triggers.items():
        new = corrected.triggers[name]
        what = f"trigger {name}: {trigger.condition}"
        if abs(new.setting - trigger.setting) > SAME_SETTING:
            found.append(Correction(what, trigger.setting, new.setting, trigger.setting_unit))
    for name, mover in plan.movers.items():
        after = corrected.movers[name]
        late = abs(mover.launch_s - after.launch_s) > SAME_SETTING
        by_progress = mover.in_step is not None and mover.in_step.launched_at_m is not None
        if mover.pieces and mover.launch_kind != "trigger" and late and not by_progress:
            found.append(Correction(f"launch of {name}", mover.launch_s, after.launch_s, "s"))
        if name in _marks_moved(corrected, marks):
            what = f"start mark of {name}"
            found.append(Correction(what, marks[name], after.start.station_m, "m"))
    return (*found, *_other_rates(plan, corrected))
