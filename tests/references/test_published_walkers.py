"""Published launches of a walker across the subject's path, and what their timing is worth."""

from pathlib import Path

import pytest

from choreo.case import case_at
from choreo.measured.as_staged import simulated
from choreo.measured.file import load_measured
from choreo.plans.record import Plan
from choreo.scenario import loads
from tests.references.scenario_texts import CAR, FILE, LANE, WALKER, planned


def crossing_walker(
    speed: str, walk: str, from_m: str, overlap: str, pieces: str = "{line: 12 m}"
) -> str:
    """A walker launched by a trigger; from_m: where it starts, left of the subject's path."""
    heading = "90 deg" if from_m.startswith("-") else "-90 deg"
    return f"""\
choreo: 1
title: Walker
paths:
{LANE}
  crossing: {{start: [1 km, {from_m}], heading: {heading}, pieces: [{pieces}]}}
movers:
  subject:
    path: lane
{CAR}
    programme:
      - ramp: {{to: {speed}}}
      - hold: {{settle: 1 s, until: contact}}
  walker:
    path: crossing
{WALKER}
    start: {{station: 0 m}}
    programme:
      - wait: {{for: step_out}}
      - ramp: {{to: {walk}, over: 1.5 m}}
      - hold: {{until: contact}}
triggers:
  step_out: {{watch: subject, when: {{distance: free}}, to: contact, latency: 60 ms}}
encounters:
  contact: {{kind: contact, of: subject, with: walker, overlap: {overlap}, tolerance: 0.15 m}}
instants:
  steps: {{before: launch of walker, by: 0 s}}
"""


# FMVSS 127 (89 FR 39686), S8.3.1, S8.3.2, S8.3.4, SEEN: the walker is at full speed after 1.5 m.
RIGHT_50 = crossing_walker("60 km/h", "5 km/h", "-4.0 m", "50 %")
RIGHT_25 = crossing_walker("60 km/h", "5 km/h", "-4.0 m", "25 %")
LEFT_50 = crossing_walker("40 km/h", "8 km/h", "6.0 m", "50 %")


def _ramp_and_hold(plan: Plan) -> tuple[float, float, float, float, float]:
    """Acceleration, its time and length; time and length from there to the contact."""
    walker = plan.movers["walker"]
    events = {event.name: event for event in walker.events}
    launch, steady, met = events["launch"], events["end of ramp"], events["contact"]
    accel = next(piece.accel_mps2 for piece in walker.pieces if piece.phase == "ramp")
    return (
        accel,
        steady.time_s - launch.time_s,
        steady.station_m - launch.station_m,
        met.time_s - steady.time_s,
        met.station_m - steady.station_m,
    )


@pytest.mark.parametrize(
    ("text", "before_s"),
    [
        (RIGHT_50, 3.960),  # C18: FMVSS 127, S8.3.1, S8.3.4, SEEN
        (RIGHT_25, 3.636),  # C19: the same, 25 % overlap of a car 1.8 m wide
        (LEFT_50, 3.375),  # C20: FMVSS 127, S8.3.2, SEEN
    ],
)
def test_walker_is_launched_the_published_time_before_impact(text: str, before_s: float) -> None:
    plan = planned(text)
    before = plan.encounters["contact"].time_s - plan.movers["walker"].launch_s
    assert before == pytest.approx(before_s, abs=5e-3)
    # The trigger acts then, half a sampling period and its latency after the setting is crossed.
    assert plan.triggers["step_out"].acts_at_s == pytest.approx(
        plan.movers["walker"].launch_s, abs=1e-6
    )


@pytest.mark.parametrize(
    ("text", "published"),
    [
        (RIGHT_50, (0.643, 2.160, 1.5, 1.800, 2.5)),  # C18: FMVSS 127, S8.3.1, SEEN
        (RIGHT_25, (0.643, 2.160, 1.5, 1.476, 2.05)),  # C19: 2.05 m at 5 km/h
        (LEFT_50, (1.646, 1.350, 1.5, 2.025, 4.5)),  # C20: FMVSS 127, S8.3.2, SEEN
    ],
)
def test_walker_accelerates_and_walks_on_as_published(
    text: str, published: tuple[float, ...]
) -> None:
    assert _ramp_and_hold(planned(text)) == pytest.approx(published, abs=5e-3)


@pytest.mark.parametrize(
    ("text", "distance_m"),
    [
        (RIGHT_50, 66.0),  # C18: FMVSS 127, S8.3.1, SEEN; inside L0 = 66.67 m of S8.2
        (LEFT_50, 37.5),  # C20: FMVSS 127, S8.3.2, SEEN
    ],
)
def test_subject_is_the_published_distance_away_when_the_walker_steps_out(
    text: str, distance_m: float
) -> None:
    plan = planned(text)
    station_m = plan.instants["steps"].movers["subject"].station_m
    left_m = plan.encounters["contact"].station_of_m - station_m
    assert left_m == pytest.approx(distance_m, abs=5e-3)


def test_impact_at_25_percent_lies_0_45_m_right_of_the_middle() -> None:
    # C19: FMVSS 127, S8.1.2, S8.3.1, SEEN: travel 3.55 m, impact point 0.45 m right of centre (5e-3).
    plan = planned(RIGHT_25)
    contact = plan.encounters["contact"]
    assert contact.station_with_m == pytest.approx(3.55, abs=5e-3)
    assert contact.predicted == pytest.approx(-0.45, abs=5e-3)


def _as_staged(text: str, line: str, folder: Path) -> tuple[float, bool]:
    """How far the impact moves across the subject's front with one measured value, and whether that is within."""
    scenario, file = loads(text, FILE, Path()), folder / "measured.csv"
    file.write_text(f"name,quantity,value\n{line}\n")
    outcomes, _ = simulated(case_at(scenario, None), planned(text), load_measured(file, scenario))
    outcome = outcomes[0]
    assert outcome.measured is not None
    return abs(outcome.measured), outcome.within


# C21: FMVSS 127, S8.1.2, SEEN: 0.15 m of overlap is 0.108 s at 5 km/h and 0.0675 s at 8 km/h (1e-3 s, which
# is up to 0.0022 m); a car at 60 km/h moves 1.80 m in the former, one at 40 km/h 0.75 m in the latter.
BUDGETS = [(RIGHT_50, 0.108, 1.80), (LEFT_50, 0.0675, 0.75)]


@pytest.mark.parametrize(("text", "late_s", "_travel_m"), BUDGETS)
def test_overlap_tolerance_is_used_up_by_the_published_delay_of_the_trigger(
    text: str, late_s: float, _travel_m: float, tmp_path: Path
) -> None:
    def moved(by_s: float) -> tuple[float, bool]:
        return _as_staged(text, f"step_out,latency,{0.060 + by_s:.4f} s", tmp_path)

    assert moved(late_s)[0] == pytest.approx(0.15, abs=2.3e-3)
    assert moved(late_s - 1e-3)[1]
    assert not moved(late_s + 1e-3)[1]


@pytest.mark.parametrize(("text", "_late_s", "travel_m"), BUDGETS)
def test_overlap_tolerance_is_used_up_by_the_published_error_of_the_subjects_mark(
    text: str, _late_s: float, travel_m: float, tmp_path: Path
) -> None:
    triggered = planned(text)
    line = f"subject,station,{triggered.movers['subject'].start.station_m + travel_m:.6f} m"
    # A trigger on the subject makes up for its start mark. Without one the walker leaves by the clock.
    assert _as_staged(text, line, tmp_path)[0] == pytest.approx(0.0, abs=1e-6)
    by_clock = _by_clock(text)
    start_m = planned(by_clock).movers["subject"].start.station_m

    def moved(by_m: float) -> tuple[float, bool]:
        return _as_staged(by_clock, f"subject,station,{start_m + by_m:.6f} m", tmp_path)

    assert moved(travel_m)[0] == pytest.approx(0.15, abs=1e-3)
    assert moved(travel_m - 0.02)[1]
    assert not moved(travel_m + 0.02)[1]


def _by_clock(text: str) -> str:
    before, after = text.split("triggers:")
    return (
        before.replace("      - wait: {for: step_out}\n", "") + after[after.index("encounters:") :]
    )


def test_obstructed_child_clears_the_parked_cars_1_368_s_before_impact() -> None:
    # C22: FMVSS 127, S8.3.3, SEEN: 1.368 s (0.005). The cars' left sides stand 1.0 m right of the subject's
    # right side, so the child's reference point passes them 0.9 + 1.0 m before the middle.
    text = crossing_walker(
        "50 km/h", "5 km/h", "-4.0 m", "50 %", "{line: 2.1 m}, {line: 9.9 m, name: in_view}"
    ).replace("launch of walker", "start of walker.in_view")
    plan = planned(text)
    before_s = plan.encounters["contact"].time_s - plan.instants["steps"].time_s
    assert before_s == pytest.approx(1.368, abs=0.005)
