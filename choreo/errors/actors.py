"""Who is on stage: one mover's body, path, start and phases as they are driven by plan."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from itertools import zip_longest

import numpy as np
from numpy.typing import NDArray

from choreo.errors.in_step import Stepping
from choreo.errors.shapes import Shape
from choreo.geometry import Path
from choreo.motion.cubic import gained
from choreo.plans.record import MoverPlan
from choreo.plans.record import Piece as PlanPiece
from choreo.scenario import Mover, Phase
from choreo.track.motion import STANDS_MPS
from choreo.words.kinds import PHASES, PhaseKind
from choreo.words.records import dataclass

Floats = NDArray[np.float64]


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
    stepping: Stepping | None = None

    @property
    def lead(self) -> str | None:
        """Whom it goes in step with, if it does."""
        return None if self.stepping is None else self.stepping.law.mover

    @property
    def moves(self) -> bool:
        """Whether it ever has a speed."""
        return any(len(step.durations_s) for step in self.steps)

    @property
    def on_stroke(self) -> bool:
        """Whether it moves on something that ends."""
        return self.moves and math.isfinite(self.mover.limits.stroke_m)

    @property
    def awaits(self) -> frozenset[str]:
        """The triggers that launch it or end a phase of it."""
        names = [self.launched_by, *(step.ended_by for step in self.steps)]
        return frozenset(name for name in names if name is not None)

    @property
    def lasts_until(self) -> frozenset[str]:
        """The encounters up to which a phase of it lasts."""
        return frozenset(step.until for step in self.steps if step.until is not None)


def actor_of(name: str, mover: Mover, path: Path, plan: MoverPlan) -> Actor:
    """Read what a mover does off a plan; path: its own."""
    programme = list(enumerate(mover.programme))
    waits, launched_by = None, None
    if programme and not PHASES[programme[0][1].kind].moves:
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
            late_s = braking_s if PHASES[step.kind].moves else mover.launch_latency_s
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
    if until is not None and PHASES[phase.kind].moves:
        # Until what others do or a clock: as long as by plan.
        ended_by = until.name if until.kind == "trigger" else None
        encounter = until.name if until.kind == "encounter" else None
        if until.kind in ("mark start", "mark end"):
            ends = path.marks[until.name or ""]
            station = ends[0] if until.kind == "mark start" else ends[1]
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
        way_m=phase.for_m,
        station_m=station,
        ends_at_s=None if PHASES[phase.kind].moves else phase.for_s,
    )
