"""What each mover does in its own time: the plan's commands in the scenario's phases.

The order of phases, what ends them and what launches a mover come from the scenario; only commanded
accelerations, durations, the start mark and free launch times come from the plan.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from itertools import zip_longest
from typing import assert_never

from choreo.plans.record import MoverPlan, Piece
from choreo.scenario import Mover, Phase, Scenario
from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class ScriptPhase:
    """One phase: its commands, and the trigger or the time after go that ends it (None: its duration).

    late_s: from that trigger's act to the motion of the next phase.
    """

    phase: Phase
    index: int
    durations_s: tuple[float, ...]
    accels_mps2: tuple[float, ...]
    jerks_mps3: tuple[float, ...]
    ended_by: str | None
    ends_at_s: float | None
    late_s: float = 0.0

    @property
    def brakes(self) -> bool:
        """Whether it slows down."""
        parts = zip(self.durations_s, self.accels_mps2, self.jerks_mps3, strict=True)
        return any(a < 0 or a + j * d < 0 for d, a, j in parts if d > 0)


@dataclass(frozen=True, slots=True)
class Script:
    """A mover's start, launch (a time, or the trigger it waits for) and phases after the launch.

    launch_late_s, brake_late_s: from a command to the motion, of a launch from rest and of braking.
    """

    name: str
    start_m: float
    start_mps: float
    launch_s: float
    launch_trigger: str | None
    launch_phase: int | None
    phases: tuple[ScriptPhase, ...]
    strays: tuple[Piece, ...]
    launch_late_s: float = 0.0
    brake_late_s: float = 0.0

    @property
    def triggers(self) -> tuple[str, ...]:
        """Name the triggers this mover waits for."""
        ending = [phase.ended_by for phase in self.phases]
        return tuple(name for name in (self.launch_trigger, *ending) if name is not None)

    def holds_in(self, phase: str) -> bool:
        """Say whether a phase, by its name, is a hold."""
        return any(one.phase.name == phase and one.phase.kind == "hold" for one in self.phases)


def scripts_of(scenario: Scenario, movers: Mapping[str, MoverPlan]) -> dict[str, Script]:
    """Write every mover's script.

    movers: the plan's, by name. Pieces that fit no phase of the programme in its order are kept
    as strays.
    """
    return {
        name: _script(name, mover, movers[name])
        for name, mover in scenario.movers.items()
        if name in movers
    }


def _script(name: str, mover: Mover, plan: MoverPlan) -> Script:
    rest = list(plan.pieces)
    launch_s, launch_trigger, launch_phase = plan.launch_s, None, None
    launch_late_s = mover.launch_latency_s if mover.start.speed_mps == 0 else 0.0
    if mover.start.at_go:
        launch_s = launch_late_s
    phases: list[ScriptPhase] = []
    for index, phase in enumerate(mover.programme):
        pieces = _pieces_of(phase, rest)
        if index == 0 and phase.kind == "wait":
            launch_phase, launch_trigger = index, phase.for_trigger
            launch_s = launch_s if phase.for_s is None else phase.for_s
            continue
        phases.append(
            ScriptPhase(
                phase=phase,
                index=index,
                durations_s=tuple(piece.duration_s for piece in pieces),
                accels_mps2=tuple(piece.accel_mps2 for piece in pieces),
                jerks_mps3=tuple(piece.jerk_mps3 for piece in pieces),
                ended_by=ending_trigger(phase),
                # A wait is over at a time after go, a hold after a time of its own.
                ends_at_s=phase.for_s if phase.kind == "wait" else None,
            )
        )
    return Script(
        name,
        plan.start.station_m,
        plan.start.speed_mps,
        launch_s,
        launch_trigger,
        launch_phase,
        tuple(_late(phases, mover.launch_latency_s, mover.brake_latency_s)),
        tuple(rest),
        launch_late_s,
        mover.brake_latency_s,
    )


def _late(phases: list[ScriptPhase], launch_s: float, brake_s: float) -> Iterator[ScriptPhase]:
    """What a trigger ends goes on until the drive has followed: it stands on, or holds its speed on."""
    for phase, after in zip_longest(phases, phases[1:]):
        late_s = 0.0
        if phase.ended_by is not None and after is not None:
            late_s = launch_s if phase.phase.kind == "wait" else brake_s if after.brakes else 0.0
        yield replace(phase, late_s=late_s) if late_s else phase


def _pieces_of(phase: Phase, rest: list[Piece]) -> list[Piece]:
    taken: list[Piece] = []
    while rest and rest[0].phase == phase.name:
        taken.append(rest.pop(0))
    return taken


def ending_trigger(phase: Phase) -> str | None:
    """Name the trigger that ends a phase; None where something else does."""
    match phase.kind:
        case "wait":
            return phase.for_trigger
        case "hold":
            until = phase.until
            return until.name if until is not None and until.kind == "trigger" else None
        case "ramp" | "stop":
            return None
        case _:
            assert_never(phase.kind)
