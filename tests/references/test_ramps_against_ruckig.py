"""Ramps of a plan against Ruckig, a library that gives time-optimal motions under jerk limits.

A plan with the shortest runway drives each ramp as hard as limits allow; so does Ruckig in its velocity
interface, in closed form. The plan's solver leaves a stretch of a ramp that is not needed (the constant rate
of a short ramp) some microseconds long instead of none, so the two must agree to 1e-5 s and 1e-5 m.
"""

import pytest
import ruckig

from choreo.plans.record import PlanEvent
from tests.references.scenario_texts import CAR, LANE, planned

ACCEL_MPS2, BRAKE_MPS2, JERK_MPS3 = 3.0, 6.0, 4.0


def _time_optimal(from_mps: float, to_mps: float) -> tuple[float, float]:
    """Duration in s and distance in m of Ruckig's ramp between two steady speeds."""
    wanted = ruckig.InputParameter(1)
    wanted.control_interface = ruckig.ControlInterface.Velocity
    wanted.current_position, wanted.current_acceleration = [0.0], [0.0]
    wanted.current_velocity, wanted.target_velocity = [from_mps], [to_mps]
    wanted.target_acceleration = [0.0]
    wanted.max_acceleration, wanted.min_acceleration = [ACCEL_MPS2], [-BRAKE_MPS2]
    wanted.max_jerk = [JERK_MPS3]
    trajectory = ruckig.Trajectory(1)
    result = ruckig.Ruckig(1).calculate(wanted, trajectory)
    assert result in (ruckig.Result.Working, ruckig.Result.Finished)
    return trajectory.duration, trajectory.at_time(trajectory.duration)[0][0]


def _planned_ramp(from_mps: float, to_mps: float) -> tuple[float, float]:
    limits = (
        f"limits: {{speed: 150 km/h, accelerate: {ACCEL_MPS2} m/s2, "
        f"brake: {BRAKE_MPS2} m/s2, jerk: {JERK_MPS3} m/s3}}"
    )
    body = CAR[: CAR.index("    limits")]
    steady = f"""\
      - ramp: {{to: {from_mps} m/s}}
      - {{hold: {{for: 1 s}}, name: before}}
"""
    plan = planned(f"""\
choreo: 1
title: Ramp
paths:
{LANE}
movers:
  subject:
    path: lane
{body}    {limits}
    start: {{station: 0 m}}
    programme:
{steady if from_mps > 0 else ""}      - {{ramp: {{to: {to_mps} m/s}}, name: change}}
""")
    events: dict[str, PlanEvent] = {event.name: event for event in plan.movers["subject"].events}
    begin = events["end of before" if from_mps > 0 else "launch"]
    end = events["end of change"]
    return end.time_s - begin.time_s, end.station_m - begin.station_m


@pytest.mark.parametrize(
    ("from_mps", "to_mps"),
    [
        # From rest; below 2.25 m/s the full acceleration is never reached.
        (0.0, 0.5),
        (0.0, 1.4),
        (0.0, 2.25),
        (0.0, 5.0),
        (0.0, 13.9),
        (0.0, 36.0),
        # From speed to speed, up and down; above a change of 9 m/s the full braking is reached.
        (8.0, 9.0),
        (8.0, 22.0),
        (22.0, 21.0),
        (22.0, 8.0),
        (36.0, 14.0),
        # To rest.
        (5.0, 0.0),
        (30.0, 0.0),
    ],
)
def test_ramp_of_a_plan_takes_ruckigs_time_and_distance(from_mps: float, to_mps: float) -> None:
    duration_s, distance_m = _time_optimal(from_mps, to_mps)
    planned_s, planned_m = _planned_ramp(from_mps, to_mps)
    assert planned_s == pytest.approx(duration_s, abs=1e-5)
    assert planned_m == pytest.approx(distance_m, abs=1e-5)
