"""What each mover does in its own time: the plan's commands in the scenario's phases.

The order of phases, what ends them and what launches a mover come from the scenario; only commanded
accelerations, durations, the start mark and free launch times come from the plan.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import assert_never

from choreo.plans.record import MoverPlan, Piece
from choreo.scenario import Mover, Phase, Scenario


@dataclass(frozen=True, slots=True)
class ScriptPhase:
    """One phase: its commands, and the trigger or the time after go that ends it (None: its duration)."""

    phase: Phase
    index: int
    durations_s: tuple[float, ...]
    accels_mps2: tuple[float, ...]
    jerks_mps3: tuple[float, ...]
    ended_by: str | None
    ends_at_s: float | None


@dataclass(frozen=True, slots=True)
class Script:
    """A mover's start, launch (a time, or the trigger it waits for) and phases after the launch."""

    name: str
    start_m: float
    start_mps: float
    launch_s: float
    launch_trigger: str | None
    launch_phase: int | None
    phases: tuple[ScriptPhase, ...]
    strays: tuple[Piece, ...]

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
    if mover.start.at_go:
        launch_s = 0.0
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
        tuple(phases),
        tuple(rest),
    )


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
