"""Many runs: the same bytes for one seed however many processes, memory that stays, intervals that hold."""

import json
from dataclasses import replace

import numpy as np
import pytest

from choreo.case import answer, case_at
from choreo.errors.drawing import draw
from choreo.errors.draws import CHUNK, Draws
from choreo.errors.first_order import first_order
from choreo.errors.monte_carlo import simulate_runs, told_of
from choreo.errors.outcomes import run
from choreo.errors.sources import sources_of
from choreo.errors.stage import Stage, stage_of
from choreo.errors.statistics import chance_of
from choreo.geometry import Path
from choreo.plans.document import plain_data
from choreo.scenario import ErrorSource, Spread, Tolerances, load
from tests.places import ROOT

WALKER = ROOT / "scenarios" / "walker-nearside.yaml"
# More than two chunks.
RUNS = 2 * CHUNK + 100


@pytest.fixture(scope="module")
def stage() -> Stage:
    found = answer(case_at(load(WALKER), None))
    assert found.feasible
    return stage_of(found.case.scenario, found.case.paths, found.plan)


def text_of(stage: Stage, *, jobs: int, quasi: bool = False) -> str:
    """All that is told of many runs."""
    told = told_of(stage, sources_of(stage.scenario), RUNS, seed=5, jobs=jobs, quasi=quasi)
    return json.dumps(plain_data(told))


def test_same_seed_gives_the_same_bytes_in_one_two_and_three_processes(stage: Stage) -> None:
    alone = text_of(stage, jobs=1)
    assert text_of(stage, jobs=2) == alone
    assert text_of(stage, jobs=3) == alone


def test_draws_of_a_part_are_that_part_of_all_draws(stage: Stage) -> None:
    sources = sources_of(stage.scenario)
    for quasi in (False, True):
        whole = draw(sources, CHUNK + 500, 7, quasi=quasi).values
        part = draw(sources, 900, 7, quasi=quasi, first=CHUNK - 400).values
        assert np.array_equal(part, whole[CHUNK - 400 :])


def test_source_draws_the_same_whatever_others_there_are(stage: Stage) -> None:
    sources = sources_of(stage.scenario)
    whole = draw(sources, 100, 7)
    alone = draw(sources[3:4], 100, 7)
    assert np.array_equal(whole.values[:, 3], alone.values[:, 0])
    assert not np.array_equal(whole.values[:, 3], draw(sources[3:4], 100, 8).values[:, 0])


def test_points_of_low_discrepancy_give_the_same_answer_with_less_error(stage: Stage) -> None:
    # So small that nothing but first order is left.
    small = tuple(
        replace(one, spread=replace(one.spread, size=one.spread.size / 50))
        for one in sources_of(stage.scenario)
    )
    slopes = first_order(stage, small).encounters["contact"]
    found = {
        quasi: told_of(stage, small, CHUNK, 3, quasi=quasi).encounters["contact"].values
        for quasi in (False, True)
    }
    drawn, points = found[False], found[True]
    assert drawn is not None
    assert points is not None
    error = slopes.spread / np.sqrt(CHUNK)
    assert drawn.mean == pytest.approx(slopes.mean, abs=4 * error)
    assert points.mean == pytest.approx(slopes.mean, abs=0.2 * error)
    assert points.spread == pytest.approx(slopes.spread, rel=2e-3)


def test_quantiles_and_moments_are_those_of_all_values(stage: Stage) -> None:
    sources = sources_of(stage.scenario)
    told = told_of(stage, sources, RUNS, 5).encounters["contact"].values
    assert told is not None
    chunks = list(simulate_runs(stage, sources, RUNS, 5))
    values = np.concatenate([found.encounters["contact"].value for _, found in chunks])
    assert len(values) == RUNS
    assert told.mean == pytest.approx(values.mean(), abs=1e-12)
    assert told.spread == pytest.approx(values.std(ddof=1), rel=1e-9)
    assert (told.least, told.most) == (values.min(), values.max())
    width = 2.5 * (values.max() - values.min()) / 8192
    assert told.quantiles["0.05"] == pytest.approx(np.quantile(values, 0.05), abs=width)
    assert told.quantiles["0.975"] == pytest.approx(np.quantile(values, 0.975), abs=width)
    assert sum(told.counts) == RUNS
    assert len(told.edges) == len(told.counts) + 1


def test_interval_of_the_chance_holds_it_in_so_many_small_experiments(stage: Stage) -> None:
    """160 experiments of 50 runs each, against the share of all 8,192."""
    ((_, found),) = simulate_runs(stage, sources_of(stage.scenario), CHUNK, 11)
    truth = found.valid.mean()
    experiments = found.valid[: 160 * 50].reshape(160, 50).sum(axis=1)
    intervals = [chance_of(int(count), 50) for count in experiments]
    held = np.mean([one.low <= truth <= one.high for one in intervals])
    assert 0.3 < truth < 0.97
    assert 0.92 <= held <= 1.0


def test_failures_are_told_by_what_failed_first_and_by_the_largest_source(stage: Stage) -> None:
    told = told_of(stage, sources_of(stage.scenario), CHUNK, 5)
    assert told.causes
    assert sum(one.runs for one in told.causes) == CHUNK - told.chance.valid
    assert told.causes[0].condition == "contact outside its tolerance"
    largest = told.sources[next(iter(told.causes[0].sources))]
    first = told.sources[told.first_order["contact"].shares[0].source]
    assert largest == first


def test_failure_is_due_to_the_speed_that_is_held_too_low_on_the_mean(stage: Stage) -> None:
    # Planned to be 0.3 km/h too slow, give or take as much, where nothing slower than the plan is allowed.
    kept = Tolerances(speed_mps=(0.0, 1.0 / 3.6))
    strict = replace(stage, scenario=replace(stage.scenario, tolerances={"subject": kept}))
    sources = tuple(
        replace(one, spread=Spread("normal", -0.3 / 3.6, 0.3 / 3.6))
        if (one.owner, one.kind) == ("subject", "speed held")
        else one
        for one in sources_of(stage.scenario)
        if one.kind != "speed wander"
    )
    told = told_of(strict, sources, CHUNK, 5)
    cause = next(one for one in told.causes if one.condition == "subject off its speed")
    # Normal distribution, below +1 standard deviation: 0.841345.
    assert cause.runs == pytest.approx(0.841345 * CHUNK, abs=4.0 * np.sqrt(CHUNK * 0.1335))
    (source,) = cause.sources
    assert (sources[source].owner, sources[source].kind) == ("subject", "speed held")


def test_first_order_and_draws_agree_where_errors_are_small_and_not_where_they_are_large(
    stage: Stage,
) -> None:
    # A time to collision of 4 s: a speed that is off by a third changes what is left of the run after it.
    small, large = (
        (ErrorSource("speed held", "walker", Spread("normal", 0.0, size)),) for size in (0.01, 0.5)
    )
    assert not told_of(stage, small, CHUNK, 5).encounters["contact"].disagree
    told = told_of(stage, large, CHUNK, 5).encounters["contact"]
    assert told.disagree
    # One source alone explains all there is, straight or not.
    assert len(told.shares) == len(large)
    assert sum(told.shares) == pytest.approx(1.0, abs=0.05)


def test_nothing_off_is_the_plan(stage: Stage) -> None:
    perfect = tuple(
        replace(one, spread=replace(one.spread, size=0.0)) for one in sources_of(stage.scenario)
    )
    told = told_of(stage, perfect, 10, 5)
    planned = stage.plan.encounters["contact"]
    values = told.encounters["contact"].values
    assert values is not None
    assert values.mean == pytest.approx(planned.predicted, abs=1e-9)
    assert values.spread == pytest.approx(0.0, abs=1e-9)
    assert told.chance.valid == 10


class Shorter:
    """A path that ends earlier than it is drawn."""

    def __init__(self, path: Path, length_m: float) -> None:
        self.pose, self.marks, self.length_m = path.pose, path.marks, length_m
        self.stretches, self.nearest = path.stretches, path.nearest


def test_stop_may_end_beyond_the_path_but_not_begin_there(stage: Stage) -> None:
    subject = stage.actors["subject"]
    met_m = stage.plan.encounters["contact"].station_of_m
    one = Draws((), np.zeros((1, 0)), 1)
    failed = {}
    for beyond_m in (1.0, -1.0):
        shorter = replace(subject, path=Shorter(subject.path, met_m + beyond_m))
        other = replace(stage, actors={**stage.actors, "subject": shorter})
        failed[beyond_m] = [other.conditions[code] for code in run(other, one).failed if code >= 0]
    assert failed == {1.0: [], -1.0: ["subject leaves its path"]}


def test_no_runs_are_refused(stage: Stage) -> None:
    with pytest.raises(ValueError, match="at least one run"):
        told_of(stage, (), 0, 1)
