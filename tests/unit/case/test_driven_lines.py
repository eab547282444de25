"""A course whose line is driven, as the product answers it."""

from pathlib import Path

import pytest

from choreo.case import answer, case_of, whole_answer
from choreo.case.driven_lines import with_driven_lines
from choreo.case.extreme import preferred_answer
from choreo.geometry import build_paths
from choreo.plans.record import Plan
from choreo.repair import Patience, explain
from choreo.scenario import loads

TEXT = """choreo: 1
title: obstacle avoidance
paths:
  course: {course: ISO 3888-2, start: [5 m, 3 m], heading: 90 deg, vehicle width: 1.85 m, last width: 3 m,
           run-up: 150 m, line: least lateral acceleration}
movers:
  subject:
    path: course
    body: {length: 4.30 m, width: 1.85 m, front overhang: 3.40 m}
    limits: {speed: 130 km/h, accelerate: 3 m/s2, brake: 6 m/s2, lateral: 9 m/s2, failsafe: {brake: 6 m/s2}}
    programme:
      - ramp: {to: SPEED}
      - hold: {settle: 0.5 s, settled by: start of subject.section1, until: end of subject.section5}
      - stop: {}
"""


def planned(speed: str) -> Plan:
    """The answer at a speed."""
    return answer(case_of(loads(TEXT.replace("SPEED", speed), "course.yaml", Path()))).plan


def test_line_is_driven_without_touching_a_cone() -> None:
    text = TEXT.replace("SPEED", "70 km/h")
    plan = whole_answer(loads(text, "course.yaml", Path())).plan
    assert plan.verdict == "feasible"
    assert plan.space is not None
    assert plan.space.clear
    assert len(plan.space.cones) == 18
    # The margin that is asked for, and half a millimetre that the search adds.
    assert min(cone.clear_m for cone in plan.space.cones) == pytest.approx(0.0505, abs=0.0003)
    (told,) = [one.text for one in plan.warnings if one.code == "plan.line"]
    assert "no line at more than" in told


def test_speed_that_no_line_allows_is_proved_impossible_by_the_lateral_limit() -> None:
    plan = planned("80 km/h")
    assert plan.verdict == "infeasible"
    (budget,) = plan.budgets
    assert budget.available.value == 9.0
    assert (budget.unit, budget.mover) == ("m/s2", "subject")
    assert budget.short_by == pytest.approx(2.16, abs=0.02)


def test_either_side_of_what_is_undecided_is_narrow() -> None:
    assert planned("71.7 km/h").verdict == "feasible"
    assert planned("71.9 km/h").verdict == "infeasible"


def test_highest_speed_tells_from_where_on_a_proof_is_known() -> None:
    text = TEXT.replace("SPEED", "70..74 km/h").replace(
        "title:", "prefer: highest subject speed\ntitle:", 1
    )
    told = preferred_answer(case_of(loads(text, "course.yaml", Path()))).plan.preferred
    assert told is not None
    assert told.value * 3.6 == pytest.approx(71.75, abs=0.1)
    assert "at 71.8" in told.why


def test_what_only_the_line_that_was_found_forbids_is_undecided() -> None:
    plan = planned("71.78 km/h")
    assert plan.verdict == "undecided"
    assert "plan.line-open" in {one.code for one in plan.warnings}
    assert plan.budgets == ()


def test_who_comes_rolling_holds_the_speed_from_its_start() -> None:
    """Nothing has to be settled by the first section where the speed never was another."""
    text = TEXT.replace("      - ramp: {to: SPEED}\n", "").replace(
        "    programme:", "    start: {station: 0 m, speed: 75 km/h}\n    programme:"
    )
    text = text.replace("settle: 0.5 s, settled by: start of subject.section1, ", "")
    plan = answer(case_of(loads(text, "course.yaml", Path()))).plan
    assert plan.verdict == "infeasible"
    assert "least of any line through course at 75.00 km/h" in str(plan.budgets)


def test_course_that_is_too_tight_on_its_smoothest_line_names_the_gentlest() -> None:
    keys = (
        "course: slalom, start: [0 m, 0 m], spacing: 18 m, count: 3, aside: 1 m, line: least jerk"
    )
    head, rest = TEXT.split("  course: {", 1)
    text = f"{head}  course: {{{keys}}}\nmovers:" + rest.split("movers:", 1)[1]
    text = text.replace("section1", "gate1").replace("section5", "exit").replace("SPEED", "80 km/h")
    plan = answer(case_of(loads(text, "slalom.yaml", Path()))).plan
    assert plan.verdict == "undecided"
    (told,) = [one for one in plan.warnings if one.code == "plan.line-open"]
    assert "`line: least lateral acceleration`" in str(told)


def test_course_to_the_right_is_driven_on_the_mirrored_line() -> None:
    text = TEXT.replace("SPEED", "20 km/h")
    bends = [
        [
            (piece.start_curvature_per_m or 0.0)
            for piece in with_driven_lines(loads(one, "course.yaml", Path())).paths["course"].pieces
        ]
        for one in (text, text.replace("run-up:", "turn: right, run-up:"))
    ]
    assert bends[0] == [-bend for bend in bends[1]]
    assert max(bends[0]) > 0.02


def test_body_of_another_shape_has_no_bound() -> None:
    # Its corners are cut off: lines may be gentler than those of the rectangle round it.
    corners = "corners: [[3 m, 0.9 m], [-0.9 m, 0.925 m], [-0.9 m, -0.925 m], [3 m, -0.9 m], [3.4 m, 0 m]]"
    text = TEXT.replace("SPEED", "80 km/h")
    text = text.replace("length: 4.30 m, width: 1.85 m, front overhang: 3.40 m", corners)
    assert answer(case_of(loads(text, "course.yaml", Path()))).plan.verdict == "undecided"


def test_body_that_fits_no_lane_is_told() -> None:
    text = TEXT.replace("SPEED", "20 km/h").replace("width: 1.85 m, front", "width: 2.40 m, front")
    case = case_of(loads(text, "course.yaml", Path()))
    assert "plan.line-missed" in {one.code for one in case.scenario.notes}
    course = case.scenario.paths["course"].course
    assert course is not None
    assert course.driven is not None
    # No line at all: nothing is claimed of the least curvature.
    assert (course.driven.keeps, course.driven.least_per_m) == (False, None)


def test_pieces_behind_the_last_gate_keep_their_names_on_the_line() -> None:
    text = """choreo: 1
title: slalom
paths:
  course: {course: slalom, start: [0 m, 0 m], heading: 0 deg, spacing: 18 m, count: 3, aside: 1 m, turn: right,
    line: least lateral acceleration, run-up: 60 m}
movers:
  subject:
    path: course
    body: {length: 4.30 m, width: 1.80 m}
    limits: {speed: 100 km/h, accelerate: 3 m/s2, brake: 8 m/s2, lateral: 8 m/s2}
    programme: [{ramp: {to: 20 km/h}}, {hold: {until: end of subject.exit}}, {stop: {}}]
"""
    written = loads(text, "slalom.yaml", Path())
    spec = with_driven_lines(written).paths["course"]
    names = [name for name, _, _ in spec.sections]
    assert names == ["gate1", "gate2", "gate3", "exit"]
    _, begin, end = spec.sections[-1]
    assert begin == spec.sections[-2][2]
    assert end == pytest.approx(begin + 18.0)


def test_a_longer_run_up_leaves_the_cones_where_they_are() -> None:
    case = case_of(loads(TEXT.replace("SPEED", "70 km/h"), "course.yaml", Path()))
    (run_up,) = [one for one in case.quantities if one.name == "subject run-up path"]
    assert run_up.value == pytest.approx(150.0)
    before, after = (
        one.paths["course"] for one in (case.scenario, run_up.put(case.scenario, 175.0))
    )
    assert before.course is not None
    assert after.course is not None
    assert len(before.course.cones) == 18
    for one, other in zip(before.course.cones, after.course.cones, strict=True):
        here, there = before.on_site(one.x_m, one.y_m), after.on_site(other.x_m, other.y_m)
        assert there == pytest.approx(here)
    built = [build_paths({"course": spec})["course"] for spec in (before, after)]
    assert built[1].length_m == pytest.approx(built[0].length_m + 25.0)
    assert built[1].marks["section3"][0] == pytest.approx(built[0].marks["section3"][0] + 25.0)


def test_where_only_the_middles_are_too_tight_a_driven_line_is_offered() -> None:
    text = TEXT.replace("SPEED", "70 km/h").replace(", line: least lateral acceleration", "")
    found = answer(case_of(loads(text, "course.yaml", Path())))
    assert found.plan.verdict == "infeasible"
    told = [one.code for one in explain(found, patience=Patience(0.0)).plan.warnings]
    assert "plan.line-helps" in told
