"""Rows between movers hold: what would break one of them is not solved. All figures invented."""

import math
from dataclasses import replace

import pytest

from choreo.problem.records import ContactPoint, ContactTrack, GapAt, Problem, TriggerProblem
from choreo.scenario import Event, Span
from choreo.solve.cache import Solvers
from choreo.solve.formulation import Form
from choreo.solve.solver import Solution, Solver
from choreo.words.kinds import GapMeasure
from tests.hand_made import INF, given, hold, mover, ramp, stop, walker_problem

LEAD_M = 200.0


def solved(problem: Problem) -> Solution:
    """Solve a problem by itself."""
    return Solver(problem).solve(problem)


def one_lane(speed: float, other: float, *, span_b: Span, until: str = "contact") -> Problem:
    """A follower in the lane of a lead that starts at 200 m; both keep their speeds until they meet, 5 m apart."""
    ends = Event("encounter", until)
    follower = mover("follower", (ramp(speed, 4.0, math.inf), hold(until=ends), stop(8.0, INF)))
    lead = mover(
        "lead",
        (ramp(other, 4.0, math.inf), hold(until=ends), stop(8.0, INF)),
        start=given(LEAD_M),
        room=Span(0.0, 2000.0),
    )
    follower = replace(follower, room=Span(0.0, 2000.0))
    line = (-5.0, 0.0, 1.0)
    contact = ContactTrack(
        "contact", None, "follower", "lead", *line, span_b, exact=True, lane_b=span_b
    )
    return Problem("shortest runway", (follower, lead), (), (contact,), ())


def test_contact_in_one_lane_lies_within_the_stretch_where_it_holds() -> None:
    free = solved(one_lane(20.0, 10.0, span_b=Span(0.0, 2000.0)))
    assert free.solved
    met_m = free.reading.moments["contact"].station_b_m
    # The lead is at speed after 10^2 / 2 / 4 = 12.5 m.
    assert met_m >= LEAD_M + 12.5 - 1e-6
    late = solved(one_lane(20.0, 10.0, span_b=Span(met_m + 50.0, 2000.0)))
    assert late.solved
    assert late.reading.moments["contact"].station_b_m == pytest.approx(met_m + 50.0, abs=1e-4)
    never = solved(one_lane(20.0, 10.0, span_b=Span(0.0, LEAD_M + 10.0)))
    assert not never.solved


def test_solver_that_keeps_one_lane_apart_is_not_used_where_the_lane_is_joined_later() -> None:
    form, solvers = Form(apart_m=1.0), Solvers()
    one = one_lane(20.0, 10.0, span_b=Span(0.0, 2000.0))
    joined = one_lane(20.0, 10.0, span_b=Span(LEAD_M + 100.0, 2000.0))
    assert solvers.of(one) is solvers.of(joined)
    assert solvers.of(one, form) is not solvers.of(joined, form)
    assert len(solvers.of(one, form).ipopt.row_lo) > len(solvers.of(joined, form).ipopt.row_lo)


def test_slower_follower_meets_no_lead() -> None:
    # It could only be where both meet by driving through the lead.
    solution = solved(one_lane(10.0, 20.0, span_b=Span(0.0, 2000.0)))
    assert not solution.solved


@pytest.mark.parametrize(
    ("measure", "wanted", "gap_m"),
    [
        ("distance", 30.0, 30.0),
        ("time gap", 2.0, 40.0),  # x 20 m/s, the follower's
        ("time to collision", 2.0, 20.0),  # x 20 - 10 m/s
    ],
)
def test_gap_is_in_the_followers_terms(measure: GapMeasure, wanted: float, gap_m: float) -> None:
    met = one_lane(20.0, 10.0, span_b=Span(0.0, 2000.0), until="gap")
    lead = replace(
        met.movers[1],
        phases=(met.movers[1].phases[0], hold(until=None, for_s=10.0), met.movers[1].phases[2]),
    )
    at = Event("phase end", "hold", "lead")
    line = (-1.0, 0.0, 1.0)
    pair, value = ("follower", "lead"), given(wanted)
    gap = GapAt("gap", None, *pair, measure, value, at, *line, 4.0, exact=False, same_path=False)
    solution = solved(replace(met, movers=(met.movers[0], lead), encounters=(gap,)))
    assert solution.solved
    then = solution.reading.moments["gap"]
    assert then.station_b_m - 1.0 - then.station_a_m - 4.0 == pytest.approx(gap_m, abs=1e-6)


def test_gap_comes_before_the_contact_of_the_same_two() -> None:
    # The gap is judged as the lead begins to brake, 12.5 m + 20 s x 10 m/s after its start. Where they have met before
    # that, the follower has come to rest and the lead is ahead of it again.
    at = Event("phase end", "hold", "lead")
    line = (-1.0, 0.0, 1.0)
    pair, wanted = ("follower", "lead"), Span(1.0, 500.0)
    gap = GapAt("gap", None, *pair, "distance", wanted, at, *line, 4.0, exact=True, same_path=True)

    def met_within(least_m: float, most_m: float) -> Solution:
        one = one_lane(20.0, 10.0, span_b=Span(LEAD_M + least_m, LEAD_M + most_m))
        follower, lead = one.movers
        lead = replace(lead, phases=(lead.phases[0], hold(until=None, for_s=20.0), lead.phases[2]))
        return solved(replace(one, movers=(follower, lead), encounters=(*one.encounters, gap)))

    after = met_within(212.5, 2000.0)
    assert after.solved
    assert after.reading.moments["gap"].time_s < after.reading.moments["contact"].time_s
    before = met_within(0.0, 200.0)
    assert not before.solved
    assert "gap before contact" in {miss.name for miss in before.misses}


def test_setting_is_reached_before_the_hold_that_is_watched_ends() -> None:
    # Watched in the first of two holds, at 10 m/s; from there 0.5 s and 5.5 m of ramp to 12 m/s, then at least 1 s.
    # The walker takes 3.34 to 3.67 s. At 38 m to the contact x m are left of the first hold, and
    # x / 10 + 0.5 + (32.5 - x) / 12 = 3.21 s + x / 60 will do. At 45 m it is too long, unless the setting is reached
    # after the hold.
    usual = walker_problem(10.0, settle_s=0.0)
    subject, walker = usual.movers
    phases = (
        subject.phases[0],
        hold(until=None, for_s=5.0, name="early"),
        ramp(12.0, 4.0, INF, name="faster", rated=True),
        hold(1.0),
        subject.phases[-1],
    )

    def watched(distance_m: float) -> Solution:
        setting = given(distance_m)
        trigger = TriggerProblem(
            "step_out", None, "subject", "distance", setting, "contact", 0.06, 0.01, 1
        )
        movers = (replace(subject, phases=phases), walker)
        return solved(replace(usual, movers=movers, triggers=(trigger,)))

    enough = watched(38.0)
    assert enough.solved
    held = enough.reading.movers["subject"].phases[1]
    assert held.start_s <= enough.reading.triggers["step_out"].crossing_s <= held.end_s
    assert not watched(45.0).solved


@pytest.mark.parametrize("order", [("late", "early"), ("early", "late")])
def test_quickest_run_ends_with_the_last_encounter_wherever_it_stands(
    order: tuple[str, str],
) -> None:
    # Two cars, each with a thing of its own that stands on its lane, 200 m and 100 m away; at most 3 m/s2 up to 15 m/s.
    # The last encounter: 15 / 3 + (200 - 15^2 / 2 / 3) / 15 = 15.833 s.
    way_m = {"late": 200.0, "early": 100.0}
    movers, contacts = [], []
    for name in order:
        until = Event("encounter", name)
        phases = (ramp(15.0, 3.0, INF), hold(until=until), stop(5.0, INF))
        movers.append(mover(f"{name} car", phases, start=given(0.0)))
        movers.append(mover(f"{name} thing", (), start=given(0.0)))
        contacts.append(ContactPoint(name, None, f"{name} car", f"{name} thing", way_m[name], 0.0))
    solution = solved(Problem("quickest run", tuple(movers), (), tuple(contacts), ()))
    assert solution.solved
    assert solution.reading.moments["late"].time_s == pytest.approx(15.833, abs=2e-3)
