"""What is the same in every run of a plan: who is on stage, what each does and in which order things happen."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import combinations, zip_longest
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from choreo.errors.shapes import Shape
from choreo.geometry import Path
from choreo.motion.cubic import gained
from choreo.plans.record import MoverPlan, Plan
from choreo.plans.record import Piece as PlanPiece
from choreo.scenario import Contact, Mover, Phase, Scenario
from choreo.track.motion import motion_of
from choreo.words.kinds import PHASES, PhaseKind

Floats = NDArray[np.float64]

# What is slower than this (m/s) stands.
STANDS_MPS = 1e-6
# Pairs that aren't to touch are looked at this often (s) by plan.
CLOCK_S = 0.05


@dataclass(frozen=True, eq=False)
class Step:
    """One phase as it is driven by plan: commands of constant jerk, and what ends it.

    durations_s, accels_mps2 (at each one's start), jerks_mps3: shape (commands,). from_mps, to_mps: planned speeds at
    its ends. ended_by: a trigger, late_s from its act to the motion of the next phase. until: the encounter up to which
    it lasts. way_m: the way after which it ends. station_m: the station at which it ends. ends_at_s: the time after go.
    With none of these it lasts as long as by plan.
    """

    index: int
    name: str
    kind: PhaseKind
    durations_s: Floats
    accels_mps2: Floats
    jerks_mps3: Floats
    from_mps: float
    to_mps: float
    ended_by: str | None = None
    late_s: float = 0.0
    until: str | None = None
    way_m: float | None = None
    station_m: float | None = None
    ends_at_s: float | None = None

    @property
    def changes_speed(self) -> bool:
        """Whether it is a ramp or a stop."""
        return PHASES[self.kind].changes_speed

    @property
    def planned_s(self) -> float:
        """How long it lasts by plan."""
        return float(self.durations_s.sum())


@dataclass(frozen=True, eq=False)
class Actor:
    """One mover: its body on its path, its start and what it does. launched_by: the trigger that it waits for."""

    name: str
    mover: Mover
    path: Path
    shape: Shape
    start_m: float
    start_mps: float
    launch_s: float
    launched_by: str | None
    launch_late_s: float
    waits: int | None
    steps: tuple[Step, ...]

    @property
    def moves(self) -> bool:
        """Whether it ever has a speed."""
        return any(len(step.durations_s) for step in self.steps)

    @property
    def awaits(self) -> frozenset[str]:
        """The triggers that launch it or end a phase of it."""
        names = [self.launched_by, *(step.ended_by for step in self.steps)]
        return frozenset(name for name in names if name is not None)

    @property
    def lasts_until(self) -> frozenset[str]:
        """The encounters up to which a phase of it lasts."""
        return frozenset(step.until for step in self.steps if step.until is not None)


@dataclass(frozen=True, slots=True)
class Happening:
    """A trigger that acts, or an encounter up to which somebody's phase lasts; time_s: by plan."""

    kind: Literal["trigger", "encounter"]
    name: str
    time_s: float


@dataclass(frozen=True, eq=False)
class Bystanders:
    """Two movers that aren't to touch. times_s, apart_m: their separation by plan, shape (times,)."""

    a: str
    b: str
    times_s: Floats
    apart_m: Floats


@dataclass(frozen=True, eq=False)
class Stage:
    """A plan, ready to be run many times. happenings: in the order of the plan."""

    scenario: Scenario
    plan: Plan
    actors: Mapping[str, Actor]
    happenings: tuple[Happening, ...]
    bystanders: tuple[Bystanders, ...]

    @property
    def conditions(self) -> tuple[str, ...]:
        """Everything by which a run can fail, in words; outcomes name them by their index here."""
        found: list[str] = []
        for name in self.scenario.encounters:
            found += [f"{name} missed", f"{name} outside its tolerance", f"{name} on another face"]
        found += [f"{one.a} touches {one.b}" for one in self.bystanders]
        found += [f"{name} leaves its path" for name, one in self.actors.items() if one.moves]
        return tuple(found)

    def leans_on(self, one: Happening) -> frozenset[str]:
        """Give the movers on whose motion it depends when something happens."""
        if one.kind == "encounter":
            met = self.scenario.encounters[one.name]
            return frozenset((met.of, met.with_))
        return frozenset(self.plan.triggers[one.name].watched)

    def changed_by(self, one: Happening) -> frozenset[str]:
        """Give the movers whose motion it changes that something happens."""
        return frozenset(
            name
            for name, actor in self.actors.items()
            if one.name in (actor.awaits if one.kind == "trigger" else actor.lasts_until)
        )


def stage_of(scenario: Scenario, paths: Mapping[str, Path], plan: Plan) -> Stage:
    """Set up a feasible plan. scenario: as its ground lets it be driven; paths: by mover."""
    actors = {
        name: _actor(name, mover, paths[name], plan.movers[name])
        for name, mover in scenario.movers.items()
    }
    lasting = {name for actor in actors.values() for name in actor.lasts_until}
    happenings = [Happening("trigger", name, one.acts_at_s) for name, one in plan.triggers.items()]
    happenings += [
        Happening("encounter", name, plan.encounters[name].time_s) for name in sorted(lasting)
    ]
    ordered = tuple(sorted(happenings, key=lambda one: one.time_s))
    return Stage(scenario, plan, actors, ordered, tuple(_bystanders(scenario, actors, plan)))


def _actor(name: str, mover: Mover, path: Path, plan: MoverPlan) -> Actor:
    programme = list(enumerate(mover.programme))
    waits, launched_by = None, None
    if programme and programme[0][1].kind == "wait":
        waits, launched_by = 0, programme[0][1].for_trigger
        programme = programme[1:]
    steps = []
    speed = plan.start.speed_mps
    pieces = list(plan.pieces)
    for index, phase in programme:
        step = _step(index, phase, _pieces_of(index, phase, pieces), speed, path)
        steps.append(step)
        speed = step.to_mps
    return Actor(
        name,
        mover,
        path,
        Shape.of(path, mover.body.corners_m),
        plan.start.station_m,
        plan.start.speed_mps,
        plan.launch_s,
        launched_by,
        mover.launch_latency_s if mover.start.speed_mps == 0 else 0.0,
        waits,
        tuple(_with_late_drives(steps, mover)),
    )


def _with_late_drives(steps: list[Step], mover: Mover) -> Iterator[Step]:
    """What a trigger ends goes on until the drive has followed."""
    for step, after in zip_longest(steps, steps[1:]):
        late_s = 0.0
        if step.ended_by is not None and after is not None:
            brakes = after.changes_speed and after.to_mps < after.from_mps
            braking_s = mover.brake_latency_s if brakes else 0.0
            late_s = mover.launch_latency_s if step.kind == "wait" else braking_s
        yield replace(step, late_s=late_s)


def _pieces_of(index: int, phase: Phase, pieces: list[PlanPiece]) -> list[PlanPiece]:
    """Take a phase's pieces off the front; documents of earlier versions name phases only."""
    taken = []
    while pieces and (
        pieces[0].phase == phase.name
        if pieces[0].phase_index is None
        else pieces[0].phase_index == index
    ):
        taken.append(pieces.pop(0))
    return taken


def _step(index: int, phase: Phase, pieces: list[PlanPiece], speed_mps: float, path: Path) -> Step:
    table = np.array([(p.duration_s, p.accel_mps2, p.jerk_mps3) for p in pieces], dtype=float)
    durations, accels, jerks = table.reshape(-1, 3).T
    to_mps = speed_mps + float(np.sum(gained(durations, accels, jerks)))
    if abs(to_mps) < STANDS_MPS:
        to_mps = 0.0
    until = phase.until
    ended_by = phase.for_trigger
    encounter: str | None = None
    station: float | None = None
    if until is not None and phase.kind == "hold":
        match until.kind:
            case "trigger":
                ended_by = until.name
            case "encounter":
                encounter = until.name
            case "mark start":
                station = path.marks[until.name or ""][0]
            case "mark end":
                station = path.marks[until.name or ""][1]
            case _:
                pass  # what others do or a clock: as long as by plan
    return Step(
        index,
        phase.name,
        phase.kind,
        durations,
        accels,
        jerks,
        speed_mps,
        to_mps,
        ended_by=ended_by,
        until=encounter,
        way_m=phase.for_m if phase.kind == "hold" else None,
        station_m=station,
        ends_at_s=phase.for_s if phase.kind == "wait" else None,
    )


def _bystanders(
    scenario: Scenario, actors: Mapping[str, Actor], plan: Plan
) -> Iterator[Bystanders]:
    """All pairs that aren't to touch, of which one moves at least."""
    intended = {
        frozenset((one.of, one.with_))
        for one in scenario.encounters.values()
        if isinstance(one, Contact)
    }
    motions = {name: motion_of(one) for name, one in plan.movers.items()}
    end_s = max((one.end_s for one in motions.values()), default=0.0)
    times = np.linspace(0.0, max(end_s, CLOCK_S), max(2, math.ceil(end_s / CLOCK_S) + 1))
    placed = {
        name: actor.shape.place(motions[name].states(times)[0]) for name, actor in actors.items()
    }
    for a, b in combinations(actors, 2):
        if frozenset((a, b)) in intended or not (actors[a].moves or actors[b].moves):
            continue
        apart = actors[a].shape.separation_m(placed[a], actors[b].shape, placed[b])
        yield Bystanders(a, b, times, apart)
