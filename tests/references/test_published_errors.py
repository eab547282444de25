"""What errors make of published crossings: closed forms, budgets, tolerances told as times."""

from functools import cache
from pathlib import Path

import numpy as np
import pytest

from choreo.case import answer, case_at
from choreo.errors.draws import Draws
from choreo.errors.first_order import Slopes, first_order
from choreo.errors.monte_carlo import told_of
from choreo.errors.outcomes import Outcomes, run
from choreo.errors.sources import sources_of
from choreo.errors.stage import Stage, stage_of
from choreo.errors.statistics import normal_inside
from choreo.scenario import ErrorSource, Spread, loads
from choreo.words.kinds import ErrorKind
from tests.answers import whole
from tests.references.scenario_texts import CAR, FILE, LANE, WALKER
from tests.references.test_published_crossings import PASS
from tests.references.test_published_walkers import LEFT_50, RIGHT_50

KMH = 1 / 3.6
WALK_MPS, DRIVE_MPS = 5 * KMH, 50 * KMH
# From the trigger's crossing to the contact: 35 ms of latency, half a period of 100 Hz, and the 3.960 s of C18.
AHEAD_S = 0.035 + 0.005 + 3.960
# C130, DERIVED, as a budget: one standard uncertainty after the other, and its share in %.
SHARES = {
    ("speed held", "subject"): (0.0321, 11.7),
    ("latency", "step_out"): (0.0139, 2.2),
    ("sampling", "step_out"): (0.0040, 0.2),
    ("speed held", "walker"): (0.0577, 37.9),
    ("start along", "walker"): (0.02, 4.5),
    ("achieved acceleration", "walker"): (0.045, 23.0),
    ("path offset", "subject"): (0.03, 10.2),
    ("start beside", "subject"): (0.03, 10.2),
}


def budget(condition: str) -> str:
    """A car at 50 km/h and the walker of C18, released by this condition; spreads as of C130."""
    return f"""\
choreo: 1
title: Budget of a crossing walker, invented spreads
paths:
{LANE}
  crossing: {{start: [1 km, -4 m], heading: 90 deg, pieces: [{{line: 12 m}}]}}
movers:
  subject:
    path: lane
{CAR}
    errors:
      speed held: -0.5..0.5 km/h
      path: {{offset: 0.03 m}}
      start mark: {{along: 0 m, beside: 0.03 m}}
    programme:
      - ramp: {{to: 50 km/h}}
      - hold: {{settle: 1 s, until: contact}}
  walker:
    path: crossing
{WALKER}
    errors:
      speed held: -0.2..0.2 km/h
      start mark: {{along: 0.02 m}}
      achieved acceleration: 100 % +/- 3 %
    start: {{station: 0 m}}
    programme:
      - wait: {{for: step_out}}
      - ramp: {{to: 5 km/h, over: 1.5 m}}
      - hold: {{until: contact}}
triggers:
  step_out: {{watch: subject, when: {{{condition}: free}}, to: contact, latency: 35 ms +/- 10 ms, sampling: 100 Hz}}
encounters:
  contact: {{kind: contact, of: subject, with: walker, overlap: 50 %, tolerance: 0.15 m}}
""".replace(", to: contact", "" if condition == "station" else ", to: contact")


@cache
def staged(text: str) -> Stage:
    """The plan of a scenario text, ready to be run."""
    found = answer(case_at(loads(text, FILE, Path()), None))
    assert found.feasible
    return stage_of(found.case.scenario, found.case.paths, found.plan)


def off_by(text: str, **values: float) -> Outcomes:
    """One run with these errors: OWNER__kind=value, in SI."""
    sources, numbers = [], []
    for name, value in values.items():
        owner, _, kind = name.partition("__")
        kinds: dict[str, ErrorKind] = {
            one.replace(" ", "_"): one  # type: ignore[misc]
            for one in ("speed held", "position", "latency", "start along", "achieved acceleration")
        }
        sources.append(ErrorSource(kinds[kind], owner, Spread("normal", 0.0, 1.0)))
        numbers.append(value)
    return run(staged(text), Draws(tuple(sources), np.array([numbers]), 0))


def moved_m(text: str, **values: float) -> float:
    """How far the impact moves to the left on the car, which is the way the walker walks."""
    planned = staged(text).plan.encounters["contact"].predicted
    return float(off_by(text, **values).encounters["contact"].value[0]) - planned


def test_fast_car_meets_a_walker_released_at_a_station_early() -> None:
    # C128: 4 (1 - 50/50.5) = 0.0396 s of walking less (1e-4); to first order u d e / v^2 = 0.0400 s.
    moved = moved_m(budget("station"), subject__speed_held=0.5 * KMH)
    assert -moved / WALK_MPS == pytest.approx(0.0396, abs=1e-4)
    assert moved == pytest.approx(-WALK_MPS * AHEAD_S * (1 - 50 / 50.5), abs=1e-9)
    slope = slopes_of("station")["speed held", "subject"]
    # d is the way from the setting to the contact.
    way_m = DRIVE_MPS * AHEAD_S
    assert slope == pytest.approx(-WALK_MPS * way_m / DRIVE_MPS**2, rel=1e-7)


def test_speed_of_the_car_moves_nothing_where_time_to_collision_releases() -> None:
    assert moved_m(budget("time to collision"), subject__speed_held=1.0 * KMH) == pytest.approx(
        0.0, abs=1e-9
    )


def test_late_trigger_and_marks_that_are_off_move_the_impact_by_the_closed_forms() -> None:
    text = budget("station")
    # A latency of dt: u dt; the walker's mark: as it is off; what the car's position is measured off by, in time.
    assert moved_m(text, step_out__latency=0.020) == pytest.approx(-0.0278, abs=1e-4)
    assert moved_m(text, walker__start_along=0.10) == pytest.approx(0.10, abs=1e-9)
    assert moved_m(text, subject__position=0.10) == pytest.approx(0.0100, abs=1e-4)
    # The car starts elsewhere, and passes the station a little later: nothing else.
    assert moved_m(text, subject__start_along=0.10) == pytest.approx(0.0, abs=1e-9)


def test_slow_start_of_the_walker_makes_it_late_by_half_of_the_longer_ramp() -> None:
    # C129: 2.160 s / 0.95 with the same speed at its end: +0.0568 s (5e-4).
    moved = moved_m(budget("station"), walker__achieved_acceleration=0.95)
    assert -moved / WALK_MPS == pytest.approx(0.0568, abs=5e-4)


def test_speed_of_the_walker_counts_over_its_ramp_and_its_hold() -> None:
    # C18: at its rate a it reaches v + e, e/a later than v, which it has on average half of until then: at a time t
    # after its launch it is at (v + e) (t - (v + e) / 2a), e (t - v/a) farther to first order: its 1.800 s of hold.
    off = 0.2 * KMH
    rate = WALK_MPS**2 / 3.0
    at_s = 3.960
    way_m = (WALK_MPS + off) * (at_s - (WALK_MPS + off) / (2 * rate))
    assert moved_m(budget("station"), walker__speed_held=off) == pytest.approx(
        way_m - 4.0, abs=1e-3
    )
    stage = staged(budget("station"))
    events = {one.name: one.time_s for one in stage.plan.movers["walker"].events}
    held_s = events["contact"] - events["end of ramp"]
    assert held_s == pytest.approx(1.800, abs=1e-6)
    # Where the latency is cut at nothing its mean is 9 us later, and the hold so much shorter.
    (latency,) = (one for one in sources_of(stage.scenario) if one.kind == "latency")
    slope = slopes_of("station")["speed held", "walker"]
    assert slope == pytest.approx(held_s - latency.spread.bias, rel=1e-8)


def slopes(condition: str) -> Slopes:
    stage = staged(budget(condition))
    return first_order(stage, sources_of(stage.scenario, only_given=True)).encounters["contact"]


def slopes_of(condition: str) -> dict[tuple[str, str], float]:
    """Derivatives of the impact point by kind and owner."""
    sources = sources_of(staged(budget(condition)).scenario, only_given=True)
    found = slopes(condition).derivatives.tolist()
    return {(one.kind, one.owner): slope for one, slope in zip(sources, found, strict=True)}


def test_budget_of_a_crossing_walker_is_the_derived_one() -> None:
    # C130: 0.0938 m, of which 11.7, 2.2, 0.2, 37.9, 4.5, 23.0, 10.2, 10.2 %; 0.890 inside 0.15 m, 0.406 inside 0.05 m.
    stage = staged(budget("station"))
    told = told_of(stage, sources_of(stage.scenario, only_given=True), 40_000, seed=1, quasi=True)
    first = told.first_order["contact"]
    named = {
        (told.sources[one.source].kind, told.sources[one.source].owner): one
        for one in first.shares
        if one.spread > 0.0
    }
    assert set(named) == set(SHARES)
    for which, (spread_m, share) in SHARES.items():
        assert named[which].spread == pytest.approx(spread_m, abs=1e-4)
        assert 100 * named[which].share_ratio == pytest.approx(share, abs=0.06)
    assert first.smooth
    assert first.spread == pytest.approx(0.0938, abs=1e-4)
    assert normal_inside(0.0, first.spread, -0.15, 0.15) == pytest.approx(0.890, abs=1e-3)
    assert normal_inside(0.0, first.spread, -0.05, 0.05) == pytest.approx(0.406, abs=1e-3)
    # Drawn, with uniform speeds and what is not of first order: the same to a percent of a percent or so.
    values = told.encounters["contact"].values
    assert values is not None
    assert values.spread == pytest.approx(0.0938, abs=1e-3)
    assert told.chance.ratio == pytest.approx(0.890, abs=5e-3)
    assert not told.encounters["contact"].disagree


@pytest.mark.parametrize(
    ("text", "late_s"), [(RIGHT_50, 0.108), (LEFT_50, 0.0675), (budget("distance"), 0.108)]
)
def test_run_is_invalid_once_the_published_time_of_the_overlap_tolerance_is_used_up(
    text: str, late_s: float
) -> None:
    # C21: FMVSS 127, S8.1.2, SEEN: 0.15 m is 0.108 s at 5 km/h, 0.0675 s at 8 km/h (1e-3).
    assert off_by(text, step_out__latency=late_s - 1e-3).valid.all()
    failed = off_by(text, step_out__latency=late_s + 1e-3)
    assert not failed.valid.any()
    assert staged(text).conditions[failed.failed[0]] == "contact outside its tolerance"


@pytest.mark.parametrize(
    ("behind_m", "error_s", "valid"), [(0.0, 0.000, True), (1.0, 0.072, True), (1.5, 0.108, False)]
)
def test_time_error_of_a_crossing_leaves_its_tolerance_at_the_published_mark(
    behind_m: float, error_s: float, valid: bool
) -> None:
    # C28: EN-FC v1.1, 1.2.3 and 3.1.3, SEEN (5e-4 s): of 0.1 s allowed.
    found = off_by(
        PASS.replace("offset: -0.72 m,", "offset: -0.72 m, tolerance: 3 m,"),
        subject__start_along=-behind_m,
    )
    assert found.encounters["meet"].value[0] == pytest.approx(error_s, abs=5e-4)
    assert bool(found.valid[0]) is valid


@cache
def bundled(name: str) -> Stage:
    """The plan of a bundled scenario, ready to be run."""
    found = whole(name)
    return stage_of(found.scenario, found.paths, found.plan)


def judged(name: str, kind: ErrorKind, owner: str, value: float) -> tuple[float, str | None]:
    """One run with one error: by how much the impact is off (m), and what failed first."""
    stage = bundled(name)
    source = ErrorSource(kind, owner, Spread("normal", 0.0, 1.0))
    found = run(stage, Draws((source,), np.array([[value]]), 0))
    off_m = float(found.encounters["contact"].value[0]) - stage.plan.encounters["contact"].predicted
    code = int(found.failed[0])
    return off_m, None if code < 0 else stage.conditions[code]


def test_obstructed_child_may_be_late_by_the_time_of_its_overlap_tolerance() -> None:
    # C21 with FMVSS 127, S8.3.3: 0.108 s at 5 km/h (1e-3).
    name = "errors-obstructed-child"
    assert judged(name, "latency", "step_out", 0.107)[1] is None
    assert judged(name, "latency", "step_out", 0.109)[1] == "contact outside its tolerance"
    # Marks of what only hides are off by up to 0.1 m and decide nothing.
    off_m, failed = judged(name, "start along", "front_van", 0.1)
    assert (off_m, failed) == (pytest.approx(0.0, abs=1e-9), None)


def test_car_of_sixty_less_two_is_held_in_the_middle_of_what_is_allowed() -> None:
    # R152-A4, 6.6: 60 (+0/-2) km/h.
    name = "errors-walker-60"
    as_planned = run(bundled(name), Draws((), np.zeros((1, 0)), 0)).encounters["contact"]
    assert as_planned.of_mps[0] / KMH == pytest.approx(59.0, abs=1e-6)
    for off, failed in (
        (0.99, None),
        (1.01, "subject off its speed"),
        (-1.01, "subject off its speed"),
    ):
        assert judged(name, "speed held", "subject", off * KMH)[1] == failed


@pytest.mark.parametrize(("ahead_m", "late_s", "valid"), [(1.0, 0.072, True), (1.5, 0.108, False)])
def test_target_in_step_is_off_by_the_published_time_where_the_car_is_measured_elsewhere(
    ahead_m: float, late_s: float, valid: bool
) -> None:
    # C28: 1.0 m and 1.5 m of the car at 50 km/h; here at 50.5 km/h, 1 % less (2e-3 s).
    off_m, failed = judged("errors-crossing-target", "position", "subject", ahead_m)
    assert abs(off_m) / (40 * KMH) == pytest.approx(late_s, abs=2e-3)
    assert (failed is None) is valid
