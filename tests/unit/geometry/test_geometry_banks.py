"""The bank of a clothoid grows with its curvature, as roads are laid; where the path goes is no other."""

import math
from pathlib import Path

import numpy as np
import pytest

from choreo.case import answer, case_of
from choreo.geometry.banks import GROWING_PARTS, bank_at, banked, felt_mps2
from choreo.problem import paths_by_mover
from choreo.scenario import loads

CURVE = """\
choreo: 1
title: A banked bend
paths:
  track:
    start: [0 m, 0 m]
    pieces:
      - {line: 400 m}
      - {bend: {radius: 150 m, angle: 90 deg, clothoid length: 50 m}BANK}
      - {line: 300 m}
movers:
  subject:
    path: track
    body: {length: 4.40 m, width: 1.82 m}
    limits: {speed: 150 km/h, accelerate: 2.5 m/s2, brake: 7 m/s2, jerk: 5 m/s3, lateral: 3 m/s2}
    programme:
      - ramp: {to: 100 km/h}
      - hold: {for: 600 m}
      - stop: {}
"""


def test_bank_grows_with_the_curvature_and_the_way_stays_the_same() -> None:
    level, banked_path = (
        paths_by_mover(loads(CURVE.replace("BANK", words), "a.yaml", Path()))["subject"]
        for words in ("", ", bank: 20 deg")
    )
    stations = np.linspace(0.0, level.length_m, 400)
    one, other = level.pose(stations), banked_path.pose(stations)
    assert other.x_m == pytest.approx(one.x_m, abs=1e-6)
    assert other.y_m == pytest.approx(one.y_m, abs=1e-6)
    # Along the first clothoid, from 400 m on, no less than the curvature's share and at most a part more.
    inside = np.linspace(400.5, 449.5, 50)
    share = bank_at(banked_path, inside) / math.radians(20.0)
    assert np.all(share >= (inside - 400.0) / 50.0 - 1e-9)
    assert np.all(share <= (inside - 400.0) / 50.0 + 1.0 / GROWING_PARTS + 1e-9)
    assert float(bank_at(banked_path, np.array([200.0]))[0]) == 0.0
    assert felt_mps2(level, inside, np.ones(50)).tolist() == [1.0] * 50


def test_an_arc_is_banked_as_a_whole() -> None:
    parts, lying = banked([(10.0, 0.01, 0.01)], 0.2, 5.0)
    assert parts == [(10.0, 0.01, 0.01)]
    assert lying == [(5.0, 15.0, 0.2)]


def test_no_gentle_bank_is_too_much_for_the_ends_of_a_bend() -> None:
    """Banked in full, the straight ends of the clothoids would ask for 3.57 m/s2 down the bank at any speed."""
    plan = answer(case_of(loads(CURVE.replace("BANK", ", bank: 20 deg"), "a.yaml", Path()))).plan
    assert plan.verdict == "feasible"
    # (v^2 / R cos t - g sin t) / (g cos t + v^2 / R sin t) g, by hand.
    outward, bank, g = (100.0 / 3.6) ** 2 / 150.0, math.radians(20.0), 9.80665
    along = outward * math.cos(bank) - g * math.sin(bank)
    felt = along / (g * math.cos(bank) + outward * math.sin(bank)) * g
    assert plan.movers["subject"].peak.lateral_mps2 == pytest.approx(felt, abs=0.005)
