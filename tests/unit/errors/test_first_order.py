"""Shares to first order, and where a derivative doesn't stand for what a source does."""

import numpy as np
import pytest

from choreo.case import answer, case_at
from choreo.errors.drawing import draw
from choreo.errors.draws import Draws
from choreo.errors.first_order import first_order, told
from choreo.errors.outcomes import run
from choreo.errors.stage import stage_of
from choreo.scenario import ErrorSource, Spread, load
from tests.places import ROOT
from tests.references.test_published_errors import WALK_MPS, budget, staged


def test_kink_is_told_and_sampled() -> None:
    # A latency of 35 ms that is 35 ms shorter on average: half of all runs act at once, and none acts before.
    stage = staged(budget("station"))
    late = (ErrorSource("latency", "step_out", Spread("normal", -0.035, 0.010)),)
    slopes = first_order(stage, late).encounters["contact"]
    assert not slopes.smooth.any()
    # One side does all of it, the other nothing.
    assert slopes.spread == pytest.approx(WALK_MPS * 0.010 / np.sqrt(2), rel=1e-6)
    found = run(stage, draw(late, 4000, 1)).encounters["contact"].value
    assert abs(np.std(found) / slopes.spread - 1.0) < 0.25
    assert not told(stage, first_order(stage, late))["contact"].smooth


def test_time_gap_of_one_who_hardly_moves_is_missed() -> None:
    # It creeps at a tenth of a millimetre a second when the gap is counted.
    found = answer(case_at(load(ROOT / "scenarios" / "braking-lead-time-gap.yaml"), None))
    stage = stage_of(found.case.scenario, found.case.paths, found.plan)
    planned = found.plan.movers["subject"].events
    (top_mps,) = {one.speed_mps for one in planned if one.name == "end of ramp"}
    slow = (ErrorSource("speed held", "subject", Spread("normal", 0.0, 1.0)),)
    for off_mps, met in ((0.0, True), (1e-4 - top_mps, False)):
        one = run(stage, Draws(slow, np.array([[off_mps]]), 1)).encounters["gap"]
        assert one.met.tolist() == [met]


def test_means_move_the_value_and_spreads_add_up() -> None:
    stage = staged(budget("station"))
    sources = (
        ErrorSource("latency", "step_out", Spread("normal", 0.020, 0.010)),
        ErrorSource("start along", "walker", Spread("uniform", 0.0, 0.05 * np.sqrt(3.0))),
        ErrorSource("position", "walker", Spread("normal", 0.0, 0.5)),
    )
    first = told(stage, first_order(stage, sources))["contact"]
    assert first.smooth
    assert first.bias == pytest.approx(-0.020 * WALK_MPS, abs=1e-9)
    assert first.spread == pytest.approx(np.hypot(0.010 * WALK_MPS, 0.05), rel=1e-9)
    # Largest first; what nothing looks at has no share.
    assert [one.source for one in first.shares] == [1, 0, 2]
    assert sum(one.share_ratio for one in first.shares) == pytest.approx(1.0)
    assert first.shares[0].derivative == pytest.approx(1.0, abs=1e-9)
    assert first.shares[1].derivative == pytest.approx(-WALK_MPS, rel=1e-9)
    assert first.shares[2].spread == 0.0


def test_times_and_speeds_have_derivatives_too() -> None:
    stage = staged(budget("station"))
    faster = (ErrorSource("speed held", "subject", Spread("normal", 0.0, 0.1)),)
    others = first_order(stage, faster).encounters["contact"].others
    assert others["speed of the first"] == pytest.approx([1.0], abs=1e-9)
    assert others["closing speed"] == pytest.approx([1.0], abs=1e-6)
    assert others["speed of the second"] == pytest.approx([0.0], abs=1e-9)
