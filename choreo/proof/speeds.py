"""The speeds that a programme gives at its phase boundaries."""

from __future__ import annotations

from choreo.problem.records import Hold, MoverProblem, Phase, Ramp, Wait
from choreo.scenario import Span


def phases_with_speeds(mover: MoverProblem) -> list[tuple[Span, Phase]]:
    """Give every phase with the speed at its start."""
    speed, pairs = Span.at(mover.start_speed_mps), []
    for phase in mover.phases:
        pairs.append((speed, phase))
        speed = _speed_after(speed, phase)
    return pairs


def speed_before(mover: MoverProblem, boundary: int) -> Span:
    """Give the speed that a mover has at a phase boundary: 0 is the first one's start."""
    speed = Span.at(mover.start_speed_mps)
    for phase in mover.phases[:boundary]:
        speed = _speed_after(speed, phase)
    return speed


def _speed_after(speed: Span, phase: Phase) -> Span:
    match phase:
        case Ramp():
            return phase.to
        case Wait() | Hold():
            return speed
