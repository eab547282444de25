"""The speed that a programme gives at a phase boundary."""

from __future__ import annotations

from choreo.problem.records import MoverProblem, Ramp, Range


def speed_before(mover: MoverProblem, boundary: int) -> Range:
    """Give the speed that a mover has at a phase boundary."""
    speed = Range(mover.start_speed_mps, mover.start_speed_mps)
    for phase in mover.phases[:boundary]:
        if isinstance(phase, Ramp):
            speed = phase.to
    return speed
