"""Published lane changes: head-on, cut-in and cut-out; when they begin, how long they last, how hard they are.

The documents count a lane change's length along the path and take it for the way ahead too. So gaps at its
start are counted here along both movers' paths, from the gap at its end; straight ahead the plan's own gap
differs by the detour of the path, which is tested beside it.
"""

import math
from dataclasses import dataclass

import numpy as np
import pytest

from choreo.plans.record import Plan
from tests.references.scenario_texts import CAR, TARGET, TARGET_BY_ITS_REAR, path_of, planned


def lane_change(
    speed: str, target_speed: str, ttc: str, shift: str, *, start: str, heading: str, target: str
) -> str:
    """A target changes into the subject's lane; ttc is the time to collision when it has done so."""
    return f"""\
choreo: 1
title: Lane change
paths:
  lane: {{start: [0 m, 0 m], heading: 0 deg, pieces: [{{line: 1200 m}}]}}
  change:
    start: {start}
    heading: {heading}
    pieces: [{{line: 300 m}}, {{shift: {{{shift}}}, name: change}}, {{line: 300 m}}]
movers:
  subject:
    path: lane
{CAR}
    programme:
      - ramp: {{to: {speed}}}
      - hold: {{settle: 2 s, settled by: begun, until: contact}}
  target:
    path: change
{target}
    programme:
      - ramp: {{to: {target_speed}}}
      - hold: {{settle: 2 s, settled by: begun, until: contact}}
encounters:
  done: {{kind: gap, of: subject, with: target, time to collision: {ttc}, at: end of target.change}}
  # The subject does nothing by itself in a plan: it drives on into the target.
  contact: {{kind: contact, of: subject, with: target, overlap: 50 %}}
instants:
  begun: {{before: start of target.change, by: 0 s}}
  ended: {{before: done, by: 0 s}}
"""


def _head_on(speed: str, shift: str) -> Plan:
    text = lane_change(
        speed, speed, "1.5 s", shift, start="[900 m, 3.5 m]", heading="180 deg", target=TARGET
    )
    return planned(text)


def _cut_in(speed: str, target_speed: str, ttc: str, shift: str) -> Plan:
    return planned(
        lane_change(
            speed,
            target_speed,
            ttc,
            shift,
            start="[300 m, 3.5 m]",
            heading="0 deg",
            target=TARGET_BY_ITS_REAR,
        )
    )


@dataclass(frozen=True)
class Course:
    """What a plan says of a lane change: duration, gaps at both ends, way of both movers in between."""

    duration_s: float
    start_gap_m: float
    end_gap_m: float
    subject_m: float
    target_m: float


def _course(plan: Plan, gap: str = "done") -> Course:
    begun, ended = plan.instants["begun"], plan.instants["ended"]
    way_m = {
        name: ended.movers[name].station_m - begun.movers[name].station_m for name in plan.movers
    }
    return Course(
        ended.time_s - begun.time_s,
        begun.gaps_m[gap],
        ended.gaps_m[gap],
        way_m["subject"],
        way_m["target"],
    )


def _detour_m(shift: str) -> float:
    """By how much a lane change is longer along its path than straight ahead."""
    path = path_of(f"{{shift: {{{shift}}}}}")
    return path.length_m - float(path.pose(np.array([path.length_m])).x_m[0])


def test_head_on_lane_change_has_the_published_duration_and_gaps() -> None:
    # C31: EN-FC v1.1, 3.1.1.2, SEEN (bracketed values), 0.01: 50 km/h, 3.5 m over 44 m at 0.0076 1/m, TTC 1.5 s
    # at the end: gap 41.667 m then, 129.667 m at the start, 3.168 s long.
    shift = "offset: 3.5 m, path length: 44 m, radius: 131.579 m"
    plan = _head_on("50 km/h", shift)
    course = _course(plan)
    assert course.duration_s == pytest.approx(3.168, abs=0.01)
    assert course.end_gap_m == pytest.approx(41.667, abs=0.01)
    along_paths_m = course.end_gap_m + course.subject_m + course.target_m
    assert along_paths_m == pytest.approx(129.667, abs=0.01)
    # Head-on the target comes nearer by less than it drives.
    assert course.start_gap_m == pytest.approx(129.667 - _detour_m(shift), abs=0.01)
    assert plan.encounters["contact"].time_s - plan.encounters["done"].time_s == pytest.approx(
        1.5, abs=1e-3
    )


@pytest.mark.parametrize(
    ("speed", "shift", "lateral_mps2"),
    [
        ("50 km/h", "path length: 44 m, radius: 131.579 m", 1.466),  # 0.0076 1/m
        ("70 km/h", "path length: 60 m, radius: 256.410 m", 1.475),  # 0.0039 1/m
        # 0.0023 1/m is rounded down: no path of 78 m is as straight as that, one over 78 m ahead is
        ("90 km/h", "length: 78 m, radius: 434.783 m", 1.438),
        ("100 km/h", "path length: 88 m, radius: 526.316 m", 1.466),  # 0.0019 1/m
    ],
)
def test_head_on_lane_change_stays_within_the_published_lateral_acceleration(
    speed: str, shift: str, lateral_mps2: float
) -> None:
    # C31: EN-FC v1.1, 3.1.1.2, SEEN: speeds, lengths and curvatures of the table; v2 k is printed as at most 1.50 m/s2.
    peak = _head_on(speed, f"offset: 3.5 m, {shift}").movers["target"].peak
    assert peak.lateral_mps2 == pytest.approx(lateral_mps2, abs=0.01)
    assert peak.lateral_mps2 <= 1.50


@pytest.mark.parametrize(
    ("speed", "target_speed", "ttc", "shift", "duration_s", "end_gap_m", "start_gap_m"),
    [
        # C32: Euro NCAP Vehicle Assistance v1.1, 2.1.4, cut-in B, SEEN
        (
            "120 km/h",
            "70 km/h",
            "1.5 s",
            "path length: 60 m, radius: 250 m",
            3.086,
            20.833,
            63.690,
        ),
        # C33: the same, cut-in A, SEEN; its 15 m radius does not fit 14.5 m along a path, so it is left out
        ("50 km/h", "10 km/h", "0 s", "path length: 14.5 m", 5.220, 0.0, 58.000),
    ],
)
def test_cut_in_has_the_published_duration_and_gaps(
    speed: str,
    target_speed: str,
    ttc: str,
    shift: str,
    duration_s: float,
    end_gap_m: float,
    start_gap_m: float,
) -> None:
    shift = f"offset: -3.5 m, {shift}"
    course = _course(_cut_in(speed, target_speed, ttc, shift))
    assert course.duration_s == pytest.approx(duration_s, abs=1e-3)
    assert course.end_gap_m == pytest.approx(end_gap_m, abs=0.01)
    along_paths_m = course.end_gap_m + course.subject_m - course.target_m
    assert along_paths_m == pytest.approx(start_gap_m, abs=0.01)
    # A target that drives ahead gets away by less than it drives.
    assert course.start_gap_m == pytest.approx(start_gap_m + _detour_m(shift), abs=0.01)


def test_cut_in_at_70_km_per_h_has_the_published_lateral_acceleration() -> None:
    # C32: EN-VA v1.1, 2.1.4, SEEN: v2/250 m = 1.512 m/s2 (0.01); the document prints 1.5.
    plan = _cut_in(
        "120 km/h", "70 km/h", "1.5 s", "offset: -3.5 m, path length: 60 m, radius: 250 m"
    )
    assert plan.movers["target"].peak.lateral_mps2 == pytest.approx(1.512, abs=0.01)


@pytest.mark.parametrize(
    ("length_m", "printed_m", "radius_m"),
    [(14.06, 14.5, 15.0), (42.52, 44.0, 130.0), (59.06, 60.0, 250.0)],
)
def test_lane_change_of_two_arcs_has_the_published_radius(
    length_m: float, printed_m: float, radius_m: float
) -> None:
    # C32: EN-VA v1.1, 2.1.4 and 2.1.5 (lengths and radii), SEEN: two arcs of that radius shift by 3.5 m in 14.06,
    # 42.52 and 59.06 m, along them within 3.5 % of the printed lengths. Half a centimetre of it is 0.07 % of radius.
    path = path_of(f"{{shift: {{offset: 3.5 m, length: {length_m} m, transition: 0 m}}}}")
    curvatures = [curvature for _, _, curvature, _ in path.stretches()]
    assert len(curvatures) == 2
    assert [1 / k for k in curvatures] == pytest.approx([radius_m, -radius_m], rel=7.2e-4)
    assert path.length_m == pytest.approx(printed_m, rel=0.035)
    end = path.pose(np.array([path.length_m]))
    assert (end.x_m[0], end.y_m[0]) == pytest.approx((length_m, 3.5), abs=1e-9)


@pytest.mark.parametrize(
    ("speed", "length", "radius", "before_m", "past_m"),
    [("50 km/h", "44 m", "130 m", 41.667, 2.333), ("70 km/h", "60 m", "250 m", 58.333, 1.667)],
)
def test_cut_out_begins_and_ends_at_the_published_distance_from_the_standing_target(
    speed: str, length: str, radius: str, before_m: float, past_m: float
) -> None:
    # C34: EN-VA v1.1, 2.1.5, SEEN (0.01 m): the lead turns out 3.00 s before it would hit the standing target.
    plan = planned(f"""\
choreo: 1
title: Cut-out
paths:
  lane: {{start: [0 m, 0 m], heading: 0 deg, pieces: [{{line: 1 km}}]}}
  out:
    start: [0 m, 0 m]
    heading: 0 deg
    pieces:
      - line: 400 m
      - {{shift: {{offset: 3.5 m, path length: {length}, radius: {radius}}}, name: out}}
      - line: 200 m
movers:
  lead:
    path: out
{TARGET}
    programme:
      - ramp: {{to: {speed}}}
      - hold: {{settle: 2 s, settled by: start of lead.out, until: end of lead.out}}
  standing:
    path: lane
{TARGET}
    start: {{station: 405..700 m}}
encounters:
  uncovered: {{kind: gap, of: lead, with: standing, time to collision: 3.0 s, at: start of lead.out}}
instants:
  begun: {{before: start of lead.out, by: 0 s}}
  ended: {{before: end of lead.out, by: 0 s}}
""")
    begun, ended = plan.instants["begun"], plan.instants["ended"]
    way_m = ended.movers["lead"].station_m - begun.movers["lead"].station_m
    assert begun.gaps_m["uncovered"] == pytest.approx(before_m, abs=0.01)
    assert way_m - begun.gaps_m["uncovered"] == pytest.approx(past_m, abs=0.01)
    assert math.isclose(ended.movers["lead"].y_m, 3.5, abs_tol=1e-9)
