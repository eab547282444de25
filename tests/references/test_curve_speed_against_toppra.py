"""The quickest run along a curve against TOPP-RA, a library for time-optimal motion along a given path.

A car starts at rest, comes to an arc that its lateral limit allows a certain speed on, and leaves it. The
best there is: accelerate, brake so late that it has that speed where the arc begins, keep it, accelerate.
The programme below can do just that. TOPP-RA knows no programme: it gets the curvature along the product's
path and the limits, and works on a grid of stations.
"""

import math
from dataclasses import dataclass

import numpy as np
import pytest
import toppra
import toppra.algorithm
import toppra.constraint

from choreo.geometry import CurvePath, Path
from choreo.pace import Drive, drive, lasts_s, zones_of
from tests.references.scenario_texts import path_of, planned

ACCEL_MPS2, BRAKE_MPS2, CAP_MPS = 3.0, 5.0, 70 / 3.6
STEP_M = 0.02
# TOPP-RA holds its limits at grid points only. Where the curvature jumps, a point belongs to the straight, so it
# may cut one step of the arc short at either end: at 7.7 m/s, the slowest here, 0.02 m are 0.0026 s. The settle
# time of 0.001 s before the arc costs the programme the rest.
SAME_S = 0.0036


@dataclass(frozen=True)
class Road:
    """A straight, a curve with a lateral limit, a straight."""

    before_m: float
    curve: str
    after_m: float
    lateral_mps2: float

    @property
    def pieces(self) -> str:
        return (
            f"{{line: {self.before_m} m}}, {{{self.curve}, name: curve}}, "
            f"{{line: {self.after_m} m, name: out}}"
        )


def _planned_s(road: Road) -> float:
    """Time from rest to the end of the second straight, driven at the top speed there."""
    plan = planned(f"""\
choreo: 1
title: Quickest way along a curve
prefer: quickest run
paths:
  road: {{start: [0 m, 0 m], heading: 0 deg, pieces: [{road.pieces}, {{line: 200 m}}]}}
movers:
  subject:
    path: road
    body: {{length: 4.30 m, width: 1.80 m, front overhang: 3.40 m}}
    limits:
      speed: 70 km/h
      accelerate: {ACCEL_MPS2} m/s2
      brake: {BRAKE_MPS2} m/s2
      lateral: {road.lateral_mps2} m/s2
    start: {{station: 0 m}}
    programme:
      - ramp: {{to: 10..70 km/h}}
      - hold: {{}}
      - {{ramp: {{to: 10..70 km/h}}, name: slow}}
      - hold: {{settle: 0.001 s, settled by: start of subject.curve, until: end of subject.curve}}
      - ramp: {{to: 70 km/h}}
      - {{hold: {{until: end of subject.out}}, name: away}}
""")
    events = {event.name: event for event in plan.movers["subject"].events}
    assert events["end of slow"].speed_mps < events["end of ramp"].speed_mps - 0.1
    return events["end of away"].time_s


def _time_optimal_s(road: Road) -> float:
    """TOPP-RA's time from rest at station 0 to the end of the road at the top speed."""
    return _time_optimal_path_s(path_of(road.pieces), road.lateral_mps2, STEP_M, CAP_MPS)


def _time_optimal_path_s(path: Path, lateral_mps2: float, step_m: float, end_mps: float) -> float:
    stations = np.arange(0.0, path.length_m, step_m)
    jumps = [end for _, end, _, _ in path.stretches()]
    grid = np.unique(np.concatenate([stations, jumps]))
    ends = np.array([0.0, path.length_m])
    way = toppra.SplineInterpolator(ends, ends[:, None])
    algorithm = toppra.algorithm.TOPPRA(
        [
            toppra.constraint.JointVelocityConstraintVarying(
                lambda s: np.array([[0.0, _limit_mps(path, s, lateral_mps2)]])
            ),
            toppra.constraint.JointAccelerationConstraint(np.array([[-BRAKE_MPS2, ACCEL_MPS2]])),
        ],
        way,
        gridpoints=grid,
        solver_wrapper="seidel",
    )
    trajectory = algorithm.compute_trajectory(0.0, end_mps)
    assert trajectory is not None
    return float(trajectory.duration)


def _limit_mps(path: Path, station_m: float, lateral_mps2: float) -> float:
    curvature = abs(float(path.pose(np.array([station_m])).curvature_per_m[0]))
    return CAP_MPS if curvature == 0 else min(CAP_MPS, math.sqrt(lateral_mps2 / curvature))


@pytest.mark.parametrize(
    "road",
    [
        # Top speed is reached before the arc.
        Road(150, "arc: {radius: 40 m, angle: 90 deg}", 120, 4.0),
        # It is not: the car accelerates and brakes at once.
        Road(60, "arc: {radius: 40 m, angle: 90 deg}", 120, 4.0),
        Road(40, "arc: {radius: 20 m, angle: -60 deg}", 120, 3.0),
        Road(80, "arc: {radius: 60 m, angle: 30 deg}", 100, 2.0),
    ],
    ids=["long straight", "short straight", "tight to the right", "gentle"],
)
def test_quickest_run_round_an_arc_takes_the_time_optimal_time(road: Road) -> None:
    assert _planned_s(road) == pytest.approx(_time_optimal_s(road), abs=SAME_S)


@pytest.mark.parametrize(
    "stretches",
    [
        [(150, 0, 0), (63, 1 / 40, 1 / 40), (120, 0, 0)],
        [
            (100, 0, 0),
            (40, 0, 1 / 30),
            (20, 1 / 30, 1 / 30),
            (40, 1 / 30, 0),
            (30, 0, -1 / 60),
            (120, 0, 0),
        ],
        [(50, 0, 0), (120, 0, 1 / 20), (60, 1 / 20, 0), (80, 0, 0)],
    ],
    ids=["arc", "clothoids both ways", "long clothoids"],
)
def test_a_drive_takes_the_time_optimal_time_along_arcs_and_clothoids(
    stretches: list[tuple[float, float, float]],
) -> None:
    path = CurvePath(stretches, (0.0, 0.0), 0.0)
    within = Drive(CAP_MPS, ((0.0, ACCEL_MPS2),), BRAKE_MPS2, lateral_mps2=4.0)
    found = lasts_s(drive(zones_of(path, (), 0.0, path.length_m), 0.0, 0.0, within))
    best = _time_optimal_path_s(path, 4.0, 0.25, 0.0)
    # Tangents to clothoids cost up to 0.06 % where they are followed; the grid of 0.25 m cuts arcs a little short.
    assert best - 2 * 0.25 / 7.0 < found < best * 1.0006


def test_quickest_run_round_a_bend_is_no_quicker_than_time_optimal() -> None:
    # On the clothoids of a bend the best speed changes all the time, which a steady hold cannot follow.
    road = Road(100, "bend: {radius: 25 m, clothoid angle: 20 deg, angle: 90 deg}", 120, 4.0)
    assert _planned_s(road) > _time_optimal_s(road)
