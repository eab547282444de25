"""The relaxation proves impossibility, and its budget adds up to the shown shortfall."""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from choreo.geometry import CurvePath
from choreo.geometry.surveyed import SurveyedPath
from choreo.problem import build_staging
from choreo.problem.curve import curve_points
from choreo.problem.records import ContactPoint, Problem
from choreo.proof import broken_budgets, budgets_of, conflict_budget, relaxed_rows
from choreo.scenario import load
from choreo.solve import Solver, solve_linear
from tests.hand_made import given, hold, mover, ramp, stop, walker_problem

ROOT = Path(__file__).resolve().parent.parent.parent.parent
GOOD = sorted((ROOT / "scenarios").glob("*.yaml"))
IMPOSSIBLE = sorted((ROOT / "scenarios" / "impossible").glob("*.yaml"))
KMH = 1 / 3.6


@pytest.mark.parametrize("file", GOOD, ids=lambda path: path.stem)
def test_no_conflict_is_claimed_for_a_scenario_that_can_be_done(file: Path) -> None:
    problem = build_staging(load(file)).problem
    assert conflict_budget(relaxed_rows(problem), solve_linear) is None
    assert broken_budgets(problem) == ()


@pytest.mark.parametrize("file", IMPOSSIBLE, ids=lambda path: path.stem)
def test_shown_pieces_add_up_to_the_shown_shortfall(file: Path) -> None:
    problem = build_staging(load(file)).problem
    general = conflict_budget(relaxed_rows(problem), solve_linear)
    shown = [*broken_budgets(problem), *([general] if general else [])]
    assert shown
    for budget in shown:
        total = sum(piece.value for piece in budget.pieces) - budget.available.value
        assert total == pytest.approx(budget.short_by, abs=1e-6)
        assert budget.short_by > 0


def test_runway_shortfall_of_a_lone_subject_equals_the_closed_form() -> None:
    """v^2/2a + v a/2j + settle + trigger's time (elementary): short by exactly what is missing."""
    speed = 80 * KMH
    needed = speed**2 / 6 + speed * 3 / 8 + speed * (2 + 3.5)
    problem = walker_problem(speed, station_m=needed - 1.234, setting=given(3.5))
    budget = broken_budgets(problem)[0]
    assert budget.short_by == pytest.approx(1.234, abs=1e-6)
    general = conflict_budget(relaxed_rows(problem), solve_linear)
    assert general is not None
    assert general.short_by == pytest.approx(1.234, abs=1e-5)


def test_conflict_vanishes_when_its_shortfall_is_given() -> None:
    speed = 80 * KMH
    needed = speed**2 / 6 + speed * 3 / 8 + speed * (2 + 3.5)
    enough = walker_problem(speed, station_m=needed + 0.001, setting=given(3.5))
    assert conflict_budget(relaxed_rows(enough), solve_linear) is None
    assert Solver(enough).solve(enough).solved


def two_movers(room_m: float) -> Problem:
    """A crossing target that must launch when the subject does, on a road of its own."""
    subject = mover(
        "subject",
        (ramp(10.0, 2.0, math.inf, lasting_s=5.0), hold(0.0, for_s=10.0), stop(5.0, math.inf)),
    )
    target = mover(
        "target",
        (ramp(20.0, 4.0, math.inf), hold(3.0), stop(5.0, math.inf)),
        start=given(0.0),
    )
    contact = ContactPoint("contact", None, "subject", "target", 300.0, room_m)
    return Problem("shortest runway", (subject, target), (), (contact,), ())


def test_budgets_of_a_scenario_that_fits_are_not_short() -> None:
    found = budgets_of(two_movers(150.0))
    assert found
    assert max(budget.short_by for budget in found) <= 0


def test_bystander_that_holds_until_the_contact_of_others_need_not_be_there() -> None:
    problem = walker_problem()
    bystander = mover("bystander", (ramp(5.0, 2.0, 4.0), hold(), stop(2.0, 4.0)), start=given(0.0))
    # Station 4 m, where the walker is hit, is behind what the bystander's ramp needs.
    problem = replace(problem, movers=(*problem.movers, bystander))
    assert Solver(problem).solve(problem).solved
    assert conflict_budget(relaxed_rows(problem), solve_linear) is None


def test_conflict_between_two_movers_is_found_without_a_one_mover_budget() -> None:
    """The target needs 5 s + (150 - 50)/20 = 10 s at least; here a trigger leaves it 4 s."""
    problem = walker_problem(40 * KMH, setting=given(3.0))
    general = conflict_budget(relaxed_rows(problem), solve_linear)
    assert general is not None
    assert general.short_by > 0
    names = " ".join(piece.what for piece in (general.available, *general.pieces))
    assert "walker" in names
    assert "step_out" in names


def test_a_length_and_a_time_that_no_ramp_has_together_are_impossible() -> None:
    """In 8 s to 50 km/h at 3 m/s2: at least v^2/2a = 32.15 m, at most v T - v^2/2a = 78.96 m."""
    speed = 50 * KMH
    for over_m, short_m in ((32.0, 0.15), (33.0, None), (78.9, None), (79.0, 0.04)):
        way = ramp(speed, 3.0, math.inf, over_m=over_m, lasting_s=8.0)
        phases = (way, hold(for_s=1.0, until=None), stop(6.0, math.inf))
        alone = Problem("shortest runway", (mover("subject", phases),), (), (), ())
        budget = conflict_budget(relaxed_rows(alone), solve_linear)
        assert (None if budget is None else round(budget.short_by, 2)) == short_m


def test_a_margin_of_a_surveyed_curve_proves_nothing() -> None:
    """A survey's curvature is enclosed a thousandth above its own: between the two a plan is careful, a proof isn't."""
    along = np.linspace(-30.0, 30.0, 31)
    path = SurveyedPath(np.column_stack([along, 2.0 * np.exp(-((along / 12.0) ** 2))]))
    own = np.abs(path.pose(np.linspace(0.0, path.length_m, 20_001)).curvature_per_m).max()
    speed = 10.0
    for share, impossible in ((1 + 5e-4, False), (0.97, True)):
        limit = float(own * speed**2 * share)
        curve = curve_points(path, limit, speed)
        assert max(point.curvature_per_m for point in curve) * speed**2 > limit
        phases = (ramp(speed, 30.0, math.inf), hold(), stop(30.0, math.inf))
        subject = mover("subject", phases, lateral_mps2=limit, curve=curve)
        meets = ContactPoint("contact", None, "subject", "walker", path.length_m / 2, 4.0)
        alone = Problem("shortest runway", (subject,), (), (meets,), ())
        conflict = conflict_budget(relaxed_rows(alone), solve_linear)
        assert bool(broken_budgets(alone) or conflict) is impossible


S_CURVE = CurvePath([(200.0, -1 / 50, 1 / 25)])
SURVEYED_S = SurveyedPath(np.array([(0.0, 0.0), (0.6, 0.04), (1.2, 0.01), (1.8, 0.03)]))


@pytest.mark.parametrize("path", [S_CURVE, SURVEYED_S])
def test_no_curve_is_proven_tighter_than_it_is_between_the_points_that_are_looked_at(
    path: CurvePath | SurveyedPath,
) -> None:
    """An S goes straight for a moment: whoever meets somebody just there may be as fast as it likes."""
    speed, stations = 20.0, np.linspace(0.0, path.length_m, 301)
    curve = curve_points(path, 1.0, speed)
    subject = mover("subject", (ramp(speed, 30.0, math.inf), hold(), stop(30.0, math.inf)))
    subject = replace(subject, lateral_mps2=1.0, curve=curve)
    proven = []
    for station in stations.tolist():
        meets = ContactPoint("contact", None, "subject", "walker", station, 4.0)
        budgets = budgets_of(Problem("shortest runway", (subject,), (), (meets,), ()))
        needs = [sum(piece.value for piece in one.pieces) for one in budgets if one.unit == "m/s2"]
        proven.append(sum(needs))
    own = np.abs(path.pose(stations).curvature_per_m) * speed**2
    assert bool(np.all(np.array(proven) <= own + 1e-6))
    # Most of it is proven, too.
    assert float(np.mean(proven)) > 0.9 * float(own.mean())
