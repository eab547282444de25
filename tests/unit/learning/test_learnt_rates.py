"""Rates over speed and build-ups are found as they were driven, with intervals that hold them; limits are lowered."""

import math
from dataclasses import replace

import numpy as np
import pytest

from choreo.errors.actors import Step
from choreo.learning.learnt import learn
from choreo.learning.limits_text import LearntLimit, limits_of, rebased, with_limits_of
from choreo.learning.rates import BuildUp, Rate, build_up_of, edges_of, parts_of
from choreo.scenario import Limits
from choreo.scoring.against import Off
from choreo.scoring.estimators import Estimate, estimate
from choreo.scoring.ramps import fit_ramp
from choreo.scoring.score import RunScore

# From rest to 10 m/s at 2 m/s2, built up and taken back in 0.5 s each.
STEP = Step(
    0,
    "ramp",
    "ramp",
    np.array([0.5, 4.5, 0.5]),
    np.array([0.0, 2.0, 2.0]),
    np.array([4.0, 0.0, -4.0]),
    0.0,
    10.0,
)
TIMES = np.arange(0.0, 9.0, 0.02)
NOISE, RUNS, SERIES = 0.02, 4, 20


def driven(ratio: float, random: np.random.Generator) -> np.ndarray:
    """Speeds of a ramp that begins at 1 s and achieves this share of its rates."""
    ends = np.concatenate(([0.0], np.cumsum(STEP.durations_s))) / ratio + 1.0
    accel = np.interp(TIMES, ends, [0.0, 2.0 * ratio, 2.0 * ratio, 0.0])
    speed = np.concatenate(([0.0], np.cumsum((accel[1:] + accel[:-1]) / 2 * np.diff(TIMES))))
    return np.asarray(speed + random.normal(0.0, NOISE, len(TIMES)))


def shown(ratio: float, random: np.random.Generator) -> tuple[list[float], float, float]:
    """Where such a ramp is cut (km/h), its rate between 15 and 20 km/h, and how long it built up."""
    speeds = driven(ratio, random)
    fit = fit_ramp(STEP, TIMES, speeds, (0.0, 10.0), 1.0)
    assert fit is not None
    parts = list(parts_of(STEP, fit, TIMES, speeds))
    built = build_up_of(STEP, fit, TIMES, speeds)
    assert built is not None
    return [3.6 * one.from_mps for one in parts], parts[3].recorded, built[1]


def test_rates_and_build_up_are_found_and_their_intervals_hold_them() -> None:
    random = np.random.default_rng(3)
    drawn = random.normal(0.95, 0.01, (SERIES, RUNS))
    found = [[shown(float(ratio), random) for ratio in ratios] for ratios in drawn]
    assert found[0][0][0] == pytest.approx(range(0, 35, 5))
    for which, truth in ((1, 1.9), (2, 0.5 / 0.95)):
        told = [estimate([float(np.ravel(run[which])[0]) for run in series]) for series in found]
        held = sum(abs(one.mean - truth) <= (one.mean_half or 0.0) for one in told)
        # 95 % of 20, give or take three standard deviations.
        assert held >= 16
        assert np.mean([one.mean for one in told]) == pytest.approx(truth, abs=0.01)


def test_ramps_are_cut_at_round_speeds() -> None:
    assert 3.6 * edges_of(0.0, 40 / 3.6) == pytest.approx(range(0, 41, 5))
    assert 3.6 * edges_of(0.0, 5 / 3.6) == pytest.approx(range(6))
    # No sliver at the end.
    assert 3.6 * edges_of(0.0, 42 / 3.6) == pytest.approx([0, 10, 20, 30, 42])
    assert 3.6 * edges_of(10.0 / 3.6, 130 / 3.6) == pytest.approx([10, 40, 60, 80, 100, 130])


def runs_of(mean: float, half: float) -> Estimate:
    return Estimate(6, mean, 0.1, half, 0.3, mean, 0.1)


LIMITS = Limits(20.0, ((0.0, 3.0), (20.0, 2.0)), 6.0, 4.0)
FLEET = """\
movers:
  car:
    limits: {speed: 90 km/h, accelerate: {0 km/h: 3 m/s2, 72 km/h: 2 m/s2}, brake: 6 m/s2, jerk: 4 m/s3}
  van:
    limits:
      accelerate: 3 m/s2   # ours
      brake: 6 m/s2
"""


def test_limits_are_lowered_where_runs_stay_below_them_and_never_raised() -> None:
    rates = [
        Rate(
            "car", "acceleration", 0.0, 5.0, 2.2, runs_of(2.1, 0.05)
        ),  # below its limit: says nothing
        Rate("car", "acceleration", 5.0, 10.0, 2.625, runs_of(2.4, 0.05)),
        Rate("car", "acceleration", 10.0, 15.0, 2.375, runs_of(2.5, 0.05)),
        Rate("car", "braking", 0.0, 5.0, 6.0, runs_of(5.96, 0.01)),  # sure, and too little to tell
        Rate("van", "braking", 0.0, 5.0, 6.0, runs_of(5.0, 0.05)),
    ]
    builds = [
        BuildUp("car", "acceleration", 0.5, runs_of(0.6, 0.01), runs_of(3.5, 0.1)),
        BuildUp("car", "braking", 0.5, runs_of(0.5, 0.01), runs_of(4.0, 0.1)),
        BuildUp("van", "braking", 0.0, runs_of(0.1, 0.2), None),
    ]
    car = limits_of("car", LIMITS, rates, builds)
    assert [(one.key, one.written) for one in car] == [
        ("accelerate", "{27 km/h: 2.4 m/s2, 45 km/h: 2.38 m/s2}"),
        ("jerk", "3.5 m/s3"),
    ]
    van = limits_of("van", replace(LIMITS, jerk_mps3=math.inf), rates, builds)
    assert [(one.key, one.written) for one in van] == [("brake", "5 m/s2")]
    text = with_limits_of(FLEET, "fleet.yaml", "car", car)
    assert (
        "accelerate: {27 km/h: 2.4 m/s2, 45 km/h: 2.38 m/s2}, brake: 6 m/s2, jerk: 3.5 m/s3}  # acc"
        in text
    )
    text = with_limits_of(
        text, "fleet.yaml", "van", [*van, LearntLimit("accelerate", "2 m/s2", "x")]
    )
    assert "      accelerate: 2 m/s2   # ours; x\n      brake: 5 m/s2  # brake: 6 runs, +/-" in text
    # A limit that the file doesn't have, and one that spans lines, stay as they are.
    assert with_limits_of(FLEET, "fleet.yaml", "van", [LearntLimit("jerk", "1 m/s3", "x")]) == FLEET


def test_what_is_achieved_counts_from_the_new_limit() -> None:
    offs = [Off("achieved braking", "car", "", 1.0, 0.9 + 0.01 * k, None, "") for k in range(4)]
    found = learn([RunScore("run", False, "valid", (), (), (one,), (), "") for one in offs])
    (after,) = rebased(found, [LearntLimit("brake", "5 m/s2", "")])
    assert (after.found.mean, after.spread) == (1.0, found[0].spread)
    assert rebased(found, []) == found
