"""What wanders: its spread is that of a stationary first-order course, along the way and beside it."""

import numpy as np
import pytest

from choreo.errors.drawing import draw
from choreo.errors.draws import CHUNK
from choreo.errors.execution import perform
from choreo.errors.first_order import first_order
from choreo.errors.outcomes import run
from choreo.scenario import ErrorSource, Spread
from tests.references.test_published_errors import WALK_MPS, budget, staged

SIZE_MPS, OVER_S = 0.05, 1.5
SPEED = (ErrorSource("speed wander", "walker", Spread("normal", 0.0, SIZE_MPS), over=OVER_S),)
BESIDE = (ErrorSource("path wander", "subject", Spread("normal", 0.0, 0.04), over=20.0),)


def integrated_spread_m() -> float:
    """Of the way of a walker whose speed wanders: sum over all pairs of instants of what both have in common.

    All of the course while the speed is held, as much of it as there is speed while the walker speeds up.
    """
    ramp_s, hold_s, step = 3.0 / WALK_MPS, 2.5 / WALK_MPS, 2e-3
    times = np.arange(step / 2, ramp_s + hold_s, step)
    grown = np.minimum(times / ramp_s, 1.0)
    common = np.exp(-np.abs(times[:, None] - times) / OVER_S)
    return float(SIZE_MPS * step * np.sqrt(grown @ common @ grown))


def test_wandering_speed_moves_the_impact_by_the_integral_of_its_course() -> None:
    stage = staged(budget("station"))
    found = run(stage, draw(SPEED, CHUNK, 3)).encounters["contact"].value
    error = 1 / np.sqrt(2 * CHUNK)
    assert np.std(found) == pytest.approx(integrated_spread_m(), rel=4 * error)
    assert np.mean(found) == pytest.approx(0.0, abs=4 * np.std(found) / np.sqrt(CHUNK))
    # First order has fewer runs.
    slopes = first_order(stage, SPEED).encounters["contact"]
    assert slopes.spread == pytest.approx(integrated_spread_m(), rel=0.15)


def test_wandering_speed_is_stationary_while_a_speed_is_held_and_none_at_rest() -> None:
    stage = staged(budget("station"))
    walker = perform(stage, draw(SPEED, CHUNK, 3)).motions["walker"]
    launch = walker.start_s[0]
    speeds = [walker.states(launch + into)[1] for into in (0.0, 2.4, 3.9)]
    assert np.abs(speeds[0]).max() < 1e-12
    for held in speeds[1:]:
        assert np.std(held) == pytest.approx(SIZE_MPS, rel=0.04)
        assert np.mean(held) == pytest.approx(WALK_MPS, abs=4 * SIZE_MPS / np.sqrt(CHUNK))
    both = np.corrcoef(speeds[1], speeds[2])[0, 1]
    assert both == pytest.approx(np.exp(-1.5 / OVER_S), abs=0.04)


def test_wandering_beside_the_path_spreads_the_impact_by_its_size() -> None:
    stage = staged(budget("station"))
    found = run(stage, draw(BESIDE, CHUNK, 3)).encounters["contact"].value
    assert np.std(found) == pytest.approx(0.04, rel=0.04)


def test_course_does_not_depend_on_what_else_is_off() -> None:
    stage = staged(budget("station"))
    other = (*SPEED, ErrorSource("speed held", "subject", Spread("normal", 0.0, 0.1)))
    alone = draw(SPEED, 200, 3).course("speed wander", "walker", 7)
    assert np.array_equal(alone, draw(other, 200, 3).course("speed wander", "walker", 7))
    assert not np.array_equal(alone, draw(SPEED, 200, 4).course("speed wander", "walker", 7))
    assert stage.actors["walker"].moves
