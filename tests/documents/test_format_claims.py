"""What the page on the format says a file means, tried: each number below is worked out by hand."""

from __future__ import annotations

from pathlib import Path

import pytest

from choreo.case import answer, case_of
from choreo.plans.record import Plan
from choreo.scenario import load, loads
from choreo.words import ChoreoError

SCENARIOS = Path(__file__).parents[2] / "scenarios"
TEXT = """
choreo: 1
title: A car on a lane, and a box or a walker
PREFER
paths:
  lane: {start: [0 m, 0 m], heading: 0 deg, pieces: [{line: 600 m}]}
  crossing: {start: [310 m, -4 m], heading: 90 deg, pieces: [{line: 9 m}]}
movers:
  subject:
    path: lane
    body: BODY
    limits: {speed: 130 km/h, accelerate: RATE, brake: 6 m/s2, jerk: 4 m/s3}
    programme:
PROGRAMME
OTHER
encounters:
  contact: {kind: contact, of: subject, CONTACT}
"""
BODY = "{length: 4 m, width: 1.8 m}"
DRIVE = """
      - ramp: {to: 36 km/h}
      - hold: {settle: 2 s, until: contact}
      - stop: {brake: 5 m/s2}
"""
TWO_HOLDS = """
      - ramp: {to: 18 km/h}
      - {hold: {settle: 1 s, for: 60 m}, name: slow}
      - ramp: {to: 36 km/h}
      - hold: {settle: 2 s, until: contact}
      - stop: {brake: 5 m/s2}
"""
BOX = """
  box:
    kind: obstacle
    stand: {at: [400 m, Y], heading: HEADING}
    body: {length: 2 m, width: 1 m}
"""
WALKER = """
  walker:
    path: crossing
    body: {length: 0.6 m, width: 0.5 m}
    limits: {speed: 10 km/h, accelerate: 2 m/s2, brake: 2 m/s2, jerk: 20 m/s3}
    start: {station: 0 m}
    programme:
      - wait: {for: out}
      - ramp: {to: 5 km/hRAMP}
      - hold: {until: contact}
triggers:
  out: {watch: subject, when: {WHEN}}
"""
BOXED = "with: box, overlap: 50 %"
WALKED = "with: walker, overlap: 50 %"


def planned(
    other: str,
    contact: str,
    *,
    body: str = BODY,
    programme: str = DRIVE,
    rate: str = "3 m/s2",
    prefer: str = "",
) -> Plan:
    """Plan the text with these parts."""
    text = TEXT
    for word, part in (
        ("PREFER", f"prefer: {prefer}" if prefer else ""),
        ("BODY", body),
        ("RATE", rate),
        ("PROGRAMME", programme.strip("\n")),
        ("OTHER", other.strip("\n")),
        ("CONTACT", contact),
    ):
        text = text.replace(word, part)
    plan = answer(case_of(loads(text, "claims.yaml", Path()))).plan
    assert plan.verdict == "feasible"
    return plan


def box(y: str = "0 m", heading: str = "0 deg") -> str:
    """A box whose reference point is at x = 400 m."""
    return BOX.replace("Y]", f"{y}]").replace("HEADING", heading)


def walker(when: str, ramp: str = "") -> str:
    """A walker that a trigger sends into the lane at x = 310 m."""
    return WALKER.replace("WHEN", when).replace("RAMP", ramp)


def station_of_contact(plan: Plan) -> float:
    """Station of the subject at the contact, in m."""
    return event_station(plan, "subject", "contact")


def event_station(plan: Plan, mover: str, name: str) -> float:
    (station,) = (one.station_m for one in plan.movers[mover].events if one.name == name)
    return station


def phase(plan: Plan, mover: str, name: str) -> list[tuple[float, float, float]]:
    """Duration, acceleration at the start and jerk of every piece of a phase, in SI."""
    pieces = plan.movers[mover].pieces
    return [(one.duration_s, one.accel_mps2, one.jerk_mps3) for one in pieces if one.phase == name]


@pytest.mark.parametrize(
    ("overhang", "station"),
    [("", 397.0), (", front overhang: 4 m", 395.0), (", front overhang: 0 m", 399.0)],
)
def test_stations_are_of_the_reference_point_which_the_overhang_places(
    overhang: str, station: float
) -> None:
    # The box's tail is at 399 m; the overhang is half the length unless it is told.
    plan = planned(box(), BOXED, body=BODY.replace("}", f"{overhang}}}"))
    assert station_of_contact(plan) == pytest.approx(station, abs=1e-6)


@pytest.mark.parametrize(
    ("y", "contact"),
    [
        ("0.45 m", "overlap: 75 %"),  # (0.75 - 0.5) 1.8 m
        ("0.45 m", "offset: 0.45 m"),
        (
            "-0.55 m",
            "overlap: 75 %, point: front centre",
        ),  # its front is 1 m left of its reference point
        ("1.45 m", "overlap: 75 %, point: rear centre"),
    ],
)
def test_impact_is_told_by_the_other_ones_point_not_by_the_corner_that_touches(
    y: str, contact: str
) -> None:
    # It lies across the lane, so its near side is 0.5 m before its middle.
    plan = planned(box(y, "90 deg"), f"with: box, {contact}")
    assert station_of_contact(plan) == pytest.approx(400 - 0.5 - 2, abs=1e-6)


def test_shares_count_from_the_axis_where_corners_are_not_alike() -> None:
    body = "{corners: [[2 m, 0.6 m], [-2 m, 0.6 m], [-2 m, -1 m], [2 m, -1 m]]}"
    plan = planned(box("0.4 m"), "with: box, overlap: 75 %", body=body)  # 0.25 of 1.6 m
    assert station_of_contact(plan) == pytest.approx(397, abs=1e-6)
    with pytest.raises(ChoreoError) as caught:
        planned(box("0.2 m"), "with: box, overlap: 75 %", body=body)
    assert caught.value.findings[0].code == "problem.no-meeting"


@pytest.mark.parametrize(
    ("prefer", "most"), [("shortest runway", 2.0), ("quickest run", 2.0), ("gentlest ramps", 0.25)]
)
def test_a_rate_that_is_not_given_is_chosen_by_what_is_preferred(prefer: str, most: float) -> None:
    plan = planned(walker("time to collision: free"), WALKED, prefer=prefer)
    peak = plan.movers["walker"].peak.accel_mps2
    assert peak <= most * (1 + 1e-6)
    assert peak >= most * 0.8


def test_a_rate_that_is_given_is_driven_and_is_a_most_beside_a_time() -> None:
    # 36 km/h at 2 m/s2 and 4 m/s3: 0.5 s to build up, 4.5 s, 0.5 s.
    ramp = DRIVE.replace("{to: 36 km/h}", "{to: 36 km/h, accelerate: 2 m/s2}")
    pieces = phase(planned(box(), BOXED, programme=ramp), "subject", "ramp")
    assert [one[0] for one in pieces] == pytest.approx([0.5, 4.5, 0.5], abs=1e-6)
    lasting = ramp.replace("2 m/s2", "2 m/s2, lasting: 8 s")
    plan = planned(box(), BOXED, programme=lasting)
    assert sum(one[0] for one in phase(plan, "subject", "ramp")) == pytest.approx(8, abs=1e-6)
    assert plan.movers["subject"].peak.accel_mps2 < 1.5
    built_up = ramp.replace("2 m/s2", "2 m/s2, build up: 2 s")
    pieces = phase(planned(box(), BOXED, programme=built_up), "subject", "ramp")
    assert [one[0] for one in pieces] == pytest.approx([2.0, 3.75, 0.5], abs=1e-6)


def test_an_open_speed_is_a_driving_speed_and_a_stop_takes_the_service_braking() -> None:
    programme = DRIVE.replace("36 km/h", "free").replace("{brake: 5 m/s2}", "{}")
    plan = planned(box(), BOXED, programme=programme)
    assert plan.movers["subject"].peak.speed_mps == pytest.approx(1.0, abs=1e-6)
    plan = planned(box(), BOXED, programme=DRIVE.replace("{brake: 5 m/s2}", "{}"))
    assert plan.movers["subject"].peak.brake_mps2 == pytest.approx(6.0, abs=1e-9)


def test_a_ramp_to_a_range_goes_the_way_of_its_middle() -> None:
    change = "      - hold: {settle: 1 s}\n      - {ramp: {to: RANGE}, name: change}\n"
    programme = DRIVE.replace("      - hold: {settle: 2 s", f"{change}      - hold: {{settle: 2 s")
    for written, sign in (("20..45 km/h", -1), ("30..60 km/h", 1)):
        plan = planned(box(), BOXED, programme=programme.replace("RANGE", written))
        (speed,) = (
            one.speed_mps for one in plan.movers["subject"].events if one.name == "end of change"
        )
        assert (speed - 10) * sign >= -1e-6


def test_a_trigger_is_reached_in_the_last_hold_unless_during_names_another() -> None:
    last = planned(walker("station: free", ", accelerate: 0.7 m/s2"), WALKED, programme=TWO_HOLDS)
    end_of_ramp = event_station(last, "subject", "end of ramp 2")
    assert last.triggers["out"].station_m >= end_of_ramp + 2 * 10 - 1e-6  # settled for 2 s
    slow = walker("station: free", ", lasting: 5 s").replace("}}", "}, during: slow}")
    early = planned(slow, WALKED, programme=TWO_HOLDS.replace("settle: 2 s, ", ""))
    start, end = (event_station(early, "subject", f"end of {name}") for name in ("ramp", "slow"))
    assert start + 5 - 1e-6 <= early.triggers["out"].station_m <= end + 1e-6  # settled for 1 s


def test_a_wait_for_a_time_lasts_until_then_after_go() -> None:
    programme = """
      - ramp: {to: 18 km/h}
      - hold: {for: 20 m}
      - stop: {}
      - wait: {until: 30 s after go}
      - ramp: {to: 36 km/h}
      - hold: {settle: 2 s, until: contact}
      - stop: {}
"""
    plan = planned(box(), BOXED, programme=programme)
    pieces = [one for one in plan.movers["subject"].pieces if one.phase == "ramp 2"]
    assert pieces[0].start_s == pytest.approx(30, abs=1e-6)


FLEET = """
choreo fleet: 1
movers:
  car:
    body: {length: 4 m, width: 1.8 m, front overhang: 3 m}
    limits:
      {speed: 130 km/h, accelerate: 3 m/s2, brake: 6 m/s2, jerk: 4 m/s3, failsafe: {brake: 7 m/s2, reaction: 0.5 s}}
"""


def test_own_limits_go_before_the_fleets_key_by_key_and_a_body_goes_whole(tmp_path: Path) -> None:
    (tmp_path / "fleet.yaml").write_text(FLEET)
    text = TEXT.replace("PREFER", "fleet: fleet.yaml").replace("PROGRAMME", DRIVE.strip("\n"))
    text = text.replace("OTHER", box().strip("\n")).replace("CONTACT", BOXED)
    own = text.replace("body: BODY", "like: car\n    body: {length: 4.2 m, width: 1.7 m}")
    own = own.replace("accelerate: RATE, brake: 6 m/s2, jerk: 4 m/s3", "failsafe: {brake: 5 m/s2}")
    mover = loads(own, "claims.yaml", tmp_path).movers["subject"]
    assert mover.body.front_m == pytest.approx(2.1)  # half its own length, not the fleet's 3 m
    assert mover.limits.accelerate == ((0.0, 3.0),)
    assert mover.limits.failsafe is not None
    assert (mover.limits.failsafe.brake_mps2, mover.limits.failsafe.reaction_s) == (5.0, 0.0)


@pytest.mark.parametrize(
    ("name", "mover", "gap", "facing_m"),
    [
        # Head-on, front to front: the target's reference point is at x = 900 - 300 - 44 m, its front 2.05 m on.
        ("head-on-lane-departure", "subject", "drifted", 900 - 300 - 44 - 2.05),
        # Led by its rear centre, which is at x = 200 + 300 + 60 m and faces the car behind.
        ("cut-in", "subject", "cut", 200 + 300 + 60),
    ],
)
def test_a_gap_counts_to_the_end_that_faces_the_one_behind(
    name: str, mover: str, gap: str, facing_m: float
) -> None:
    scenario = load(SCENARIOS / f"{name}.yaml")
    plan = answer(case_of(scenario)).plan
    front_m = event_station(plan, mover, gap) + scenario.movers[mover].body.front_m
    closing_mps = {"drifted": 100 / 3.6, "cut": 50 / 3.6}[gap]
    assert facing_m - front_m == pytest.approx(1.5 * closing_mps, abs=1e-3)
