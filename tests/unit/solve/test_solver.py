"""The solver against closed forms, and one structure used for many numbers."""

import math
from dataclasses import replace

import numpy as np
import pytest

from choreo.motion import least_ramp_distance_m, rated_ramp
from choreo.problem.numbers import numbers_of
from choreo.problem.records import ContactPoint, Phase, Problem, TriggerProblem, Wait
from choreo.scenario import Span
from choreo.solve import Solver
from choreo.solve.cache import Solvers
from choreo.solve.formulation import Form
from tests.hand_made import given, hold, mover, ramp, stop, walker_problem

KMH = 1 / 3.6


def run_up_m(speed: float, accel: float, jerk: float) -> float:
    """D = v T / 2 with T = v/a + a/j (elementary, v >= a^2/j)."""
    return speed * (speed / accel + accel / jerk) / 2


@pytest.mark.parametrize("speed_kmh", [20, 40, 60, 80])
def test_plan_under_constant_limits_equals_the_closed_form(speed_kmh: float) -> None:
    speed = speed_kmh * KMH
    problem = walker_problem(speed)
    solution = Solver(problem).solve(problem)
    assert solution.solved
    subject, walker = solution.reading.movers["subject"], solution.reading.movers["walker"]
    ramp_m = subject.phases[0].end_m - subject.phases[0].start_m
    assert ramp_m == pytest.approx(run_up_m(speed, 3, 4), rel=1e-6)
    # The walker goes as hard as it may, because that lets the trigger fire later.
    walk = rated_ramp(0, 5 * KMH, 2, build_up_jerk_mps3=20, release_jerk_mps3=20)
    needed = walk.duration_s + (4 - walk.distance_m) / (5 * KMH)
    trigger = solution.reading.triggers["step_out"]
    assert trigger.setting == pytest.approx(needed + 0.06 + 0.005, rel=1e-6)
    assert walker.launch_s == pytest.approx(trigger.crossing_s + 0.065, abs=1e-9)
    start = 306.35 - ramp_m - speed * (2.0 + trigger.setting)
    assert subject.start_m == pytest.approx(start, rel=1e-6)


def test_order_of_movers_changes_no_number() -> None:
    """To the last bit: where an optimum is flat, a last bit is enough to end elsewhere."""
    problem = walker_problem(prefer="gentlest ramps")
    turned = replace(problem, movers=problem.movers[::-1])
    found = [Solver(one).solve(one).reading for one in (problem, turned)]
    assert found[0].movers == found[1].movers
    assert found[0].triggers == found[1].triggers
    solvers = Solvers()
    assert solvers.of(problem) is solvers.of(turned)


def test_gentlest_ramps_use_the_runway_there_is() -> None:
    """A lone subject from a fixed start must reach its speed over a known way: A from D = v T / 2."""
    speed, way = 50 * KMH, 200.0
    lone = mover(
        "subject",
        (ramp(speed, 3.0, 1000.0, over_m=None), hold(2.0, None, for_m=100.0), stop(5.0, math.inf)),
        start=given(0.0),
        room=Span(0.0, way + 100.0 + speed**2 / 10),
    )
    problem = walker_problem(prefer="gentlest ramps")
    problem = type(problem)("gentlest ramps", (lone,), (), (), ())
    solution = Solver(problem).solve(problem)
    assert solution.solved
    peak = max(piece.accel_mps2 for piece in solution.reading.movers["subject"].pieces)
    # D = v/2 (v/A + A/j) = way
    expected = (2 * way / speed - math.sqrt((2 * way / speed) ** 2 - 4 * speed / 1000)) * 1000 / 2
    assert peak == pytest.approx(expected, rel=1e-5)


def test_table_of_acceleration_is_held_and_nearly_used_up() -> None:
    table = ((0.0, 3.5), (60 * KMH, 2.5), (130 * KMH, 1.0))
    problem = walker_problem(80 * KMH, table=table, jerk_mps3=math.inf)
    solution = Solver(problem).solve(problem)
    assert solution.solved
    subject = solution.reading.movers["subject"]
    ramping = [piece for piece in subject.pieces if piece.phase == 0]
    assert len(ramping) > 2
    for piece in ramping:
        for u in np.linspace(0, piece.duration_s, 500):
            _, speed, accel = piece.at(float(u))
            allowed = np.interp(speed, [v for v, _ in table], [a for _, a in table])
            assert accel <= allowed + 1e-6
    length = subject.phases[0].end_m - subject.phases[0].start_m
    best = least_ramp_distance_m(0, 80 * KMH, table, math.inf)
    assert best - 1e-9 <= length <= best * 1.003


def test_one_structure_serves_other_numbers_and_gives_the_same_as_building_anew() -> None:
    solver = Solver(walker_problem(40 * KMH))
    first = solver.solve(walker_problem(40 * KMH))
    for speed in (30, 42, 55):
        problem = walker_problem(speed * KMH, settle_s=1.5)
        assert solver.fits(problem)
        again = solver.solve(problem, near=first)
        anew = Solver(problem).solve(problem)
        assert again.solved
        assert anew.solved
        start = again.reading.movers["subject"].start_m
        assert start == pytest.approx(anew.reading.movers["subject"].start_m, abs=1e-5)


def standing_target(phases: tuple[Phase, ...], *triggers: TriggerProblem) -> Problem:
    """A subject that drives against a target 300 m along its path."""
    movers = (mover("subject", phases), mover("target", (), start=given(0.0), room=given(0.0)))
    contact = ContactPoint("contact", None, "subject", "target", 300.0, 0.0)
    return Problem("quickest run", movers, triggers, (contact,), ())


@pytest.mark.parametrize("settle_s", [0.0, 3.0])
def test_hold_settles_whatever_the_solver_was_built_for(settle_s: float) -> None:
    one, other = (
        standing_target((ramp(10.0, 3.0, 4.0), hold(settle), stop(5.0, 4.0)))
        for settle in (3.0 - settle_s, settle_s)
    )
    solvers = Solvers()
    assert solvers.of(one).solve(one).solved
    held = solvers.of(other).solve(other).reading.movers["subject"].phases[1]
    assert held.end_s - held.start_s == pytest.approx(settle_s, abs=1e-6)


def test_trigger_keeps_its_earliest_time_whatever_the_solver_was_built_for() -> None:
    wait = Wait("wait", None, "off", None)

    def problem(earliest_s: float) -> Problem:
        setting = Span(earliest_s, 10.0)
        trigger = TriggerProblem("off", None, "subject", "time", setting, None, 0.06, 0.01, None)
        phases = (wait, ramp(10.0, 3.0, 4.0), hold(1.0), stop(5.0, 4.0))
        return standing_target(phases, trigger)

    solver = Solver(problem(0.0))
    assert solver.fits(problem(5.0))
    for earliest_s in (0.0, 5.0):
        trigger = solver.solve(problem(earliest_s)).reading.triggers["off"]
        assert trigger.setting == pytest.approx(earliest_s, abs=1e-6)


def test_starting_points_do_not_depend_on_what_the_solver_was_built_for() -> None:
    phases = (ramp(10.0, 3.0, 4.0), hold(2.0, None), stop(5.0, 4.0))
    one, later = (
        Problem("quickest run", (mover("subject", phases, start=start),), (), (), ())
        for start in (Span(0.0, 400.0), Span(50.0, 400.0))
    )
    p = np.concatenate([numbers_of(one), np.zeros(2)])
    assert Solver(later).fits(one)
    assert list(Solver(later).guess.at(p, 1.0)) == list(Solver(one).guess.at(p, 1.0))


def test_another_structure_is_refused() -> None:
    solver = Solver(walker_problem())
    with pytest.raises(ValueError, match="structure"):
        solver.solve(walker_problem(setting=given(4.0)))


def test_impossible_numbers_are_told_by_the_name_of_the_row() -> None:
    problem = walker_problem(80 * KMH, station_m=120.0)
    solution = Solver(problem).solve(problem)
    assert not solution.solved
    assert solution.misses
    assert all(miss.amount > 0 and miss.name for miss in solution.misses)
    assert "subject" in " ".join(miss.name for miss in solution.misses)


@pytest.mark.parametrize("prefer", ["shortest runway", "gentlest ramps", "quickest run"])
def test_answer_is_the_same_from_every_start(prefer: str) -> None:
    problem = walker_problem(prefer=prefer)
    solver = Solver(problem)
    p = np.concatenate([numbers_of(problem), np.zeros(solver.margin_count)])
    answers = []
    for patience in (0.5, 1.0, 4.0):
        outcome = solver.ipopt.solve(p, solver.guess.at(p, patience))
        if outcome.solved:
            answers.append(solver.readings.at(outcome.x, p).movers["subject"].start_m)
    assert len(answers) >= 2
    assert max(answers) - min(answers) < 1e-4


def test_table_counts_as_its_least_value_between_open_speeds_too() -> None:
    """In the form with flat rates; the speed is the solver's choice, so the least value hangs on an unknown."""
    table = ((0.0, 3.0), (10.0, 2.0), (30.0, 1.0))
    subject = mover(
        "subject",
        (ramp(14.0, 3.0, 4.0, table=table, to=Span(12.0, 16.0)), hold(2.0), stop(5.0, 4.0)),
    )
    problem = walker_problem()
    problem = type(problem)(
        problem.prefer,
        (subject, *problem.movers[1:]),
        problem.triggers,
        problem.encounters,
        problem.instants,
    )
    solution = Solver(problem, Form(flat=True)).solve(problem)
    assert solution.solved
    pieces = [p for p in solution.reading.movers["subject"].pieces if p.phase == 0]
    reached = pieces[-1].at(pieces[-1].duration_s)[1]
    assert 12.0 - 1e-9 <= reached <= 16.0
    least = np.interp(reached, [v for v, _ in table], [a for _, a in table])
    assert max(abs(p.at(0.0)[2]) for p in pieces) <= least + 1e-9
