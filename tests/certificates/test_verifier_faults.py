"""Plans damaged in one known way each: the right finding must appear."""

import math
import re
from dataclasses import replace

import numpy as np
import pytest

from choreo.geometry import CurvePath
from choreo.geometry.cusps import CuspPath
from choreo.scenario.records.edits import with_mover
from choreo.scenario.records.scenario import Event, Gap, Limits, PathSpec, Piece, Span, Start
from choreo.verification import Verification
from tests.certificates.plans_by_hand import (
    CAR,
    CONTACT,
    KMH,
    LIMITS,
    Case,
    Crossing,
    body,
    braking_lead,
    closing_lead,
    codes,
    crossing_pass,
    exactly,
    hold,
    met,
    motion,
    mover,
    plan_of,
    ramp,
    scenario_of,
    standing_target,
    stop,
)
from tests.unit.verification.paths_by_hand import Circle, Straight


def alone(commands, programme, *, path=None, limits=LIMITS, start_m=10.0, start_mps=0.0) -> Case:
    """One mover and no encounter."""
    lane = path or Straight(length_m=400.0)
    one = mover(programme, limits=limits, start=Start(exactly(start_m), start_mps))
    planned = motion(lane, start_m, 0.0, commands, start_mps)
    return Case(scenario_of({"car": one}), {"car": lane}, plan_of({"car": planned}))


PAIR = ("subject", "lead")


def finding(found, code):
    """The one finding of a code."""
    return next(one for one in found.findings if one.code == code)


def test_speed_over_the_limit_for_a_tenth_of_a_second_is_found():
    # 50 m/s is passed by 0.1 m/s at 4 m/s2 up and down: over for 0.05 s.
    commands = [
        ("ramp", 50.1 / 3, 3.0, 0.0),
        ("ramp", 0.05, -2.0, 0.0),
        ("hold", 1.0, 0.0, 0.0),
        ("stop", 10.0, -5.0, 0.0),
    ]
    case = alone(
        commands,
        (ramp(50.0), hold(), stop()),
        path=Straight(length_m=2000.0),
        limits=replace(LIMITS, speed_mps=50.0),
    )
    found = case.verify()
    assert "verify.speed" in codes(found)
    values = finding(found, "verify.speed").values
    assert values["value"] == pytest.approx(50.1, abs=1e-9)
    assert values["time_s"] == pytest.approx(50.1 / 3, abs=1e-9)
    assert found.worst_limit_use == pytest.approx(50.1 / 50.0, abs=1e-9)


def test_a_peak_a_millimetre_a_second_over_the_limit_inside_one_command_is_found():
    # Acceleration falls from 3 to -3 m/s2 in 4 s: the speed peaks after 2 s at 3 m/s and is back at 0 after 4.
    commands = [("ramp", 4.0, 3.0, -1.5), ("stop", 0.0, 0.0, 0.0)]
    limits = replace(LIMITS, speed_mps=3.0 - 1e-3)
    found = alone(commands, (ramp(0.0), stop()), limits=limits).verify()
    values = finding(found, "verify.speed").values
    assert values["value"] == pytest.approx(3.0, abs=1e-12)
    assert values["time_s"] == pytest.approx(2.0, abs=1e-12)
    right = alone(commands, (ramp(0.0), stop()), limits=replace(LIMITS, speed_mps=3.0)).verify()
    assert "verify.speed" not in codes(right)


def test_a_moment_of_reversing_inside_one_command_is_found():
    # From 1 m/s with -1 m/s2 that grow by 0.4 m/s3: least after 2.5 s, -0.25 m/s, and 1 m/s again after 5 s.
    commands = [("ramp", 5.0, -1.0, 0.4), ("stop", 1.0, -1.0, 0.0)]
    found = alone(commands, (ramp(1.0), stop()), start_mps=1.0).verify()
    values = finding(found, "verify.reverses").values
    assert values["speed_mps"] == pytest.approx(-0.25, abs=1e-6)
    assert values["time_s"] == pytest.approx(2.5, abs=0.01)


def test_acceleration_over_the_table_between_its_nodes_is_found():
    # From 3 m/s2 at rest to 1 m/s2 at 10 m/s in 5 s: right at both ends. Halfway it has reached
    # 6.25 m/s, where the table allows 3 - 0.2 * 6.25 = 1.75 m/s2, but commands 2.
    commands = [("ramp", 5.0, 3.0, -0.4), ("hold", 1.0, 0.0, 0.0), ("stop", 2.0, -5.0, 0.0)]
    table = ((0.0, 3.0), (10.0, 1.0), (20.0, 1.0))
    case = alone(commands, (ramp(10.0), hold(), stop()), limits=replace(LIMITS, accelerate=table))
    found = case.verify()
    assert codes(found) == {"verify.acceleration"}
    # The worst ratio (3 - 0.4 t) / (3 - 0.2 (3 t - 0.2 t^2)) on a dense grid of its own.
    t = np.linspace(0.0, 5.0, 500001)
    ratio = (3 - 0.4 * t) / (3 - 0.2 * (3 * t - 0.2 * t**2))
    assert found.worst_limit_use == pytest.approx(ratio.max(), abs=1e-5)


def test_acceleration_that_follows_the_table_is_not_found():
    # Below the table's line at every speed: 1 m/s2 throughout.
    commands = [("ramp", 10.0, 1.0, 0.0), ("hold", 1.0, 0.0, 0.0), ("stop", 2.0, -5.0, 0.0)]
    table = ((0.0, 3.0), (10.0, 1.0), (20.0, 1.0))
    case = alone(commands, (ramp(10.0), hold(), stop()), limits=replace(LIMITS, accelerate=table))
    assert codes(case.verify()) == set()


def test_braking_over_the_limit_is_found():
    case = standing_target().with_limits("subject", brake_mps2=4.5)
    assert "verify.braking" in codes(case.verify())


def test_jump_of_acceleration_under_a_jerk_limit_is_found():
    found = standing_target().with_limits("subject", jerk_mps3=40.0).verify()
    assert codes(found) == {"verify.jerk-jump"}
    assert found.worst_limit_use == math.inf


def test_jerk_over_the_limit_is_found():
    commands = [
        ("ramp", 0.5, 0.0, 6.0),
        ("ramp", 0.5, 3.0, -6.0),
        ("hold", 1.0, 0.0, 0.0),
        ("stop", 1.0, 0.0, -3.0),
        ("stop", 0.0, 0.0, 0.0),
    ]
    smooth = [*commands[:3], ("stop", 0.5, 0.0, -6.0), ("stop", 0.5, -3.0, 6.0)]
    programme = (ramp(1.5), hold(), stop())
    tight = alone(smooth, programme, limits=replace(LIMITS, jerk_mps3=5.9)).verify()
    loose = alone(smooth, programme, limits=replace(LIMITS, jerk_mps3=6.0)).verify()
    assert codes(tight) == {"verify.jerk"}
    assert codes(loose) == set()
    assert tight.worst_limit_use == pytest.approx(6.0 / 5.9, abs=1e-6)


def test_own_jerk_cap_of_a_ramp_is_held():
    case = alone(
        [("ramp", 5.0, 2.0, 0.0), ("hold", 1.0, 0.0, 0.0), ("stop", 2.0, -5.0, 0.0)],
        (ramp(10.0, jerk_mps3=4.0), hold(), stop()),
    )
    assert codes(case.verify()) == {"verify.jerk-jump"}


def test_contact_three_centimetres_off_is_found():
    case = Crossing().case()
    contact = replace(case.scenario.encounters["contact"], impact_m=-0.03)
    case = replace(case, scenario=replace(case.scenario, encounters={"contact": contact}))
    found = case.verify()
    assert codes(found) == {"verify.encounter-off"}
    assert finding(found, "verify.encounter-off").values["error"] == pytest.approx(0.03, abs=1e-6)
    assert found.worst_encounter_error == pytest.approx(0.6, abs=1e-4)


def test_contact_four_millimetres_off_is_within_a_tenth_of_the_tolerance():
    case = Crossing().case()
    contact = replace(case.scenario.encounters["contact"], impact_m=-0.004)
    case = replace(case, scenario=replace(case.scenario, encounters={"contact": contact}))
    assert codes(case.verify()) == set()


def test_trigger_that_acts_fifty_milliseconds_late_is_found():
    case = Crossing().case()
    told = case.plan.triggers["step_out"]
    late = case.with_trigger_plan("step_out", setting=told.setting - 0.05)
    found = late.verify()
    assert "verify.trigger-time" in codes(found)
    assert "verify.encounter-off" in codes(found)
    assert finding(found, "verify.trigger-time").values["late_s"] == pytest.approx(0.05, abs=1e-9)
    assert found.measured["contact"] == pytest.approx(-0.05 * 5 * KMH, abs=1e-6)


def test_trigger_by_gap_that_acts_fifty_milliseconds_late_is_found():
    case = closing_lead()
    assert codes(case.verify()) == set()
    # Half a metre less is closed with 10 m/s in 50 ms.
    late = replace(case.scenario.triggers["close"], setting=exactly(24.5))
    case = replace(case, scenario=replace(case.scenario, triggers={"close": late}))
    found = case.with_trigger_plan("close", setting=24.5).verify()
    assert finding(found, "verify.trigger-time").values["late_s"] == pytest.approx(0.05, abs=1e-9)
    assert "verify.trigger-setting" not in codes(found)


def test_trigger_whose_gap_is_to_another_mover_is_found():
    case = closing_lead()
    third = case.scenario.movers["lead"]
    standing = replace(third, programme=(), start=Start(exactly(700.0), 0.0))
    path = Straight(length_m=800.0)
    case = case.with_third("other", standing, path, motion(path, 700.0, 0.0, []))
    assert codes(case.verify()) == set()
    trigger = replace(case.scenario.triggers["close"], to="other")
    asked = replace(case, scenario=replace(case.scenario, triggers={"close": trigger}))
    assert {"verify.trigger-differs", "verify.trigger-never"} <= codes(asked.verify())


def test_a_latency_that_the_plan_forgot_is_found():
    case = Crossing().case()
    trigger = replace(case.scenario.triggers["step_out"], latency_s=0.11)
    case = replace(case, scenario=replace(case.scenario, triggers={"step_out": trigger}))
    found = codes(case.verify())
    assert {"verify.trigger-differs", "verify.trigger-time", "verify.launch"} <= found


def test_a_trigger_set_beyond_reach_never_acts():
    case = braking_lead(50 * KMH, 4.0, math.sqrt(2 * 50 * KMH / 4.0), by_trigger=True)
    found = codes(case.with_trigger_plan("now", setting=5000.0).verify())
    assert {"verify.trigger-never", "verify.phase-never-ends", "verify.event-never"} & found
    assert "verify.trigger-never" in found


def test_a_setting_outside_its_range_is_found():
    case = Crossing().case()
    trigger = replace(case.scenario.triggers["step_out"], setting=exactly(4.5))
    case = replace(case, scenario=replace(case.scenario, triggers={"step_out": trigger}))
    assert codes(case.verify()) == {"verify.trigger-setting"}


def test_a_trigger_reached_before_the_settle_time_is_found():
    case = Crossing()
    steady = case.case().plan.triggers["step_out"].time_s - case.speed_mps / case.ramp_rate
    short = case.case().with_phase("subject", 1, settle_s=steady - 1e-5)
    long = case.case().with_phase("subject", 1, settle_s=steady + 1e-5)
    assert codes(short.verify()) == set()
    assert codes(long.verify()) == {"verify.trigger-unsettled"}


def test_start_mark_ten_centimetres_off_is_found():
    case = standing_target()
    mark = replace(case.plan.movers["subject"].start, y_m=0.10)
    assert codes(case.with_plan("subject", start=mark).verify()) == {"verify.start-mark"}


def test_start_mark_turned_by_a_degree_is_found():
    case = standing_target()
    mark = replace(case.plan.movers["subject"].start, heading_deg=361.0)
    assert codes(case.with_plan("subject", start=mark).verify()) == {"verify.start-heading"}


def test_path_ten_centimetres_off_is_found():
    found = standing_target().with_path("subject", Straight(y_m=0.10, length_m=400.0)).verify()
    assert codes(found) == {"verify.start-mark", "verify.encounter-off"}


def test_start_outside_the_allowed_range_is_found():
    case = standing_target().with_mover("subject", start=Start(exactly(99.9)))
    assert codes(case.verify()) == {"verify.start-station"}


def test_start_at_another_speed_is_found():
    case = standing_target().with_mover("subject", start=Start(speed_mps=1.0))
    assert codes(case.verify()) == {"verify.start-speed"}


def test_drifting_stations_are_found():
    case = standing_target()
    piece = case.plan.movers["subject"].pieces[1]
    found = case.with_piece("subject", 1, station_m=piece.station_m + 1e-5).verify()
    assert codes(found) == {"verify.drift"}


def test_a_ramp_that_ends_a_millimetre_off_is_found():
    # Its duration is 0.1 ms longer: at 40 km/h that is a millimetre at the end of the hold too.
    case = standing_target()
    ramp_s = case.plan.movers["subject"].pieces[0].duration_s
    found = case.with_piece("subject", 0, duration_s=ramp_s + 1e-3 / (40 * KMH)).verify()
    assert {"verify.drift", "verify.hole", "verify.ramp-speed"} <= codes(found)


def test_drifting_speeds_are_found():
    case = standing_target()
    piece = case.plan.movers["subject"].pieces[2]
    found = case.with_piece("subject", 2, speed_mps=piece.speed_mps - 1e-5).verify()
    assert codes(found) == {"verify.drift"}


def test_a_hole_between_pieces_is_found():
    case = standing_target()
    piece = case.plan.movers["subject"].pieces[2]
    assert "verify.hole" in codes(
        case.with_piece("subject", 2, start_s=piece.start_s + 0.001).verify()
    )


def test_a_hold_that_is_not_settled_is_found():
    case = standing_target()
    steady = case.plan.movers["subject"].pieces[1].duration_s
    found = case.with_phase("subject", 1, settle_s=steady + 0.01).verify()
    assert codes(found) == {"verify.not-settled"}


def test_a_hold_that_drifts_in_speed_is_found():
    found = standing_target().with_piece("subject", 1, accel_mps2=0.01).verify()
    assert "verify.hold-speed" in codes(found)


def test_a_hold_that_ends_before_its_event_is_found():
    case = standing_target()
    hold_s = case.plan.movers["subject"].pieces[1].duration_s
    start = case.plan.movers["subject"].pieces[2].start_s
    early = case.with_piece("subject", 1, duration_s=hold_s - 0.01)
    early = early.with_piece("subject", 2, start_s=start - 0.01)
    assert "verify.hold-until" in codes(early.verify())


def test_contact_with_a_third_body_is_found_with_time_and_place():
    case = standing_target()
    spot = Straight(
        200.0, 1.8 / 2 + 2.0 / 2 - 0.05, 0.0, 1.0
    )  # five centimetres into the lane's swept strip
    third = mover((), path=None, stand=(200.0, 1.85, 0.0), body=body(4.0, 2.0, 2.0))
    found = case.with_third("van", third, spot, motion(spot, 0.0, 0.0, [])).verify()
    assert codes(found) == {"verify.unintended-contact"}
    values = finding(found, "verify.unintended-contact").values
    v = 40 * KMH
    reach_m = 200.0 - 2.0 - CAR.front_m
    assert values["time_s"] == pytest.approx(v / 3 + (reach_m - 100.0 - v**2 / 6) / v, abs=1e-6)
    assert values["x_m"] == pytest.approx(198.0, abs=1e-4)


def test_a_third_body_five_centimetres_beside_is_no_contact():
    spot = Straight(200.0, 1.8 / 2 + 2.0 / 2 + 0.05, 0.0, 1.0)
    third = mover((), path=None, stand=(200.0, 1.95, 0.0), body=body(4.0, 2.0, 2.0))
    found = standing_target().with_third("van", third, spot, motion(spot, 0.0, 0.0, [])).verify()
    assert codes(found) == set()


def test_contact_before_its_time_is_early_and_not_unasked():
    case = standing_target()
    told = case.plan.encounters["contact"]
    late = replace(told, time_s=told.time_s + 0.1)
    case = replace(case, plan=replace(case.plan, encounters={"contact": late}))
    assert codes(case.verify()) == {"verify.encounter-time", "verify.early-contact"}


def test_a_contact_told_two_milliseconds_late_is_found():
    case = standing_target()
    late_s = case.plan.encounters["contact"].time_s + 2e-3
    encounters = {"contact": replace(case.plan.encounters["contact"], time_s=late_s)}
    found = replace(case, plan=replace(case.plan, encounters=encounters)).verify()
    assert {"verify.encounter-time", "verify.early-contact"} <= codes(found)


def test_encounter_stations_told_wrongly_are_found():
    case = standing_target()
    told = case.plan.encounters["contact"]
    wrong = replace(told, station_with_m=told.station_with_m + 0.05)
    case = replace(case, plan=replace(case.plan, encounters={"contact": wrong}))
    assert codes(case.verify()) == {"verify.encounter-station"}


def test_thin_fast_bodies_are_not_tunnelled_through():
    lane, across = Straight(-600.0, 0.0, 0.0, 1200.0), Straight(0.0, -600.0, math.pi / 2, 1200.0)
    fast = Limits(120.0, ((0.0, 50.0),), 50.0)
    bar = body(0.04, 0.04, 0.02)
    programme = (ramp(100.0), hold(), stop())
    commands = [("ramp", 2.0, 50.0, 0.0), ("hold", 8.0, 0.0, 0.0), ("stop", 2.0, -50.0, 0.0)]
    movers = {
        "a": mover(programme, body=bar, limits=fast),
        "b": mover(programme, body=bar, limits=fast),
    }
    planned = {
        "a": motion(lane, 13.37, 0.0, commands),
        "b": motion(across, 13.37, 0.0, commands),
    }
    case = Case(scenario_of(movers), {"a": lane, "b": across}, plan_of(planned))
    found = case.verify()
    assert codes(found) == {"verify.unintended-contact"}
    expected = 2.0 + (600.0 - 0.04 - 13.37 - 100.0) / 100.0
    assert finding(found, "verify.unintended-contact").values["time_s"] == pytest.approx(
        expected, abs=1e-9
    )


def test_a_motion_that_does_not_end_at_rest_is_found():
    case = standing_target()
    stop_s = case.plan.movers["subject"].pieces[2].duration_s
    found = codes(case.with_piece("subject", 2, duration_s=stop_s - 0.01).verify())
    assert {"verify.not-at-rest", "verify.stop-speed"} <= found


def test_a_motion_that_goes_backwards_is_found():
    case = standing_target()
    stop_s = case.plan.movers["subject"].pieces[2].duration_s
    assert "verify.reverses" in codes(
        case.with_piece("subject", 2, duration_s=stop_s + 0.1).verify()
    )


def test_a_stop_beyond_the_paths_end_is_found():
    case = standing_target()
    short = case.with_path("subject", Straight(length_m=300.0))
    assert codes(short.verify()) == {"verify.path-end"}


def test_a_change_of_direction_at_speed_is_found():
    legs = [
        CurvePath([(30.0, 0.0, 0.0)]),
        CurvePath([(70.0, 0.0, 0.0)], (30.0, 0.0), math.pi),
    ]
    commands = [("ramp", 5.0, 2.0, 0.0), ("hold", 2.0, 0.0, 0.0), ("stop", 2.0, -5.0, 0.0)]
    found = alone(commands, (ramp(10.0), hold(), stop()), path=CuspPath(legs, {})).verify()
    assert codes(found) == {"verify.turns-at-speed"}
    assert finding(found, "verify.turns-at-speed").values["speed_mps"] == pytest.approx(80**0.5)


def test_travel_beyond_the_stroke_is_found():
    case = Crossing().case().with_limits("walker", stroke_m=4.0)
    assert codes(case.verify()) == {"verify.stroke"}


def test_lateral_acceleration_on_a_curve_is_found():
    commands = [("ramp", 5.0, 2.0, 0.0), ("hold", 2.0, 0.0, 0.0), ("stop", 2.0, -5.0, 0.0)]
    programme = (ramp(10.0), hold(), stop())
    curve = Circle(30.0, 180.0)
    tight = alone(
        commands, programme, path=curve, limits=replace(LIMITS, lateral_mps2=3.3)
    ).verify()
    loose = alone(
        commands, programme, path=curve, limits=replace(LIMITS, lateral_mps2=3.4)
    ).verify()
    assert codes(tight) == {"verify.lateral"}
    assert codes(loose) == set()
    assert finding(tight, "verify.lateral").values["value"] == pytest.approx(100.0 / 30.0, abs=1e-9)


@pytest.mark.parametrize(
    ("commands", "programme", "stretches"),
    [
        # 12 m/s after 36 m, 24 m of hold, then 4.4 m of braking down to 10 m/s where the arc begins
        (
            [("ramp", 6.0, 2.0, 0.0), ("hold", 2.0, 0.0, 0.0), ("stop", 2.4, -5.0, 0.0)],
            (ramp(12.0), hold(), stop()),
            [(64.4, 0.0, 0.0), (100.0, 1 / 30, 1 / 30)],
        ),
        # 10 m/s after 25 m, where the arc ends
        (
            [("ramp", 6.0, 2.0, 0.0), ("stop", 2.4, -5.0, 0.0)],
            (ramp(12.0), stop()),
            [(25.0, 1 / 30, 1 / 30), (100.0, 0.0, 0.0)],
        ),
    ],
    ids=["into the arc", "out of the arc"],
)
def test_lateral_acceleration_is_looked_at_on_both_sides_of_a_jump_in_curvature(
    commands, programme, stretches
):
    limits = replace(LIMITS, lateral_mps2=3.0)
    path = CurvePath(stretches, (0.0, 0.0), 0.0)
    found = alone(commands, programme, path=path, limits=limits, start_m=0.0).verify()
    # The speed changes by 2 m/s2 at least: a millisecond off the joint it would be 0.001 m/s2 less.
    assert finding(found, "verify.lateral").values["value"] == pytest.approx(100 / 30, abs=1e-4)


def test_braking_in_a_curve_beyond_the_ellipse_is_found():
    # 10 m/s on 30 m is 3.333 m/s2; beside 5 of 6 m/s2 of braking there are 6 sqrt(1 - 25/36) = 3.317 left.
    commands = [("ramp", 5.0, 2.0, 0.0), ("hold", 2.0, 0.0, 0.0), ("stop", 2.0, -5.0, 0.0)]
    programme = (ramp(10.0), hold(), stop())
    limits = replace(LIMITS, accelerate=((0.0, 3.0),), brake_mps2=6.0, combined="ellipse")
    found = [
        alone(commands, programme, path=Circle(30.0, 180.0), limits=replace(limits, **one)).verify()
        for one in ({"lateral_mps2": 6.0}, {"lateral_mps2": 6.1}, {"combined": "none"})
    ]
    assert [codes(one) for one in found] == [{"verify.combined"}, set(), set()]
    used = math.hypot(5.0 / 6.0, 100.0 / 30.0 / 6.0)
    assert finding(found[0], "verify.combined").values["value"] == pytest.approx(used, abs=1e-6)


def test_the_ellipse_is_read_on_the_side_of_a_joint_where_it_is_braked():
    # The hold ends 25 + 20 m on, where the arc of 30 m radius does: braking is all on the straight behind it.
    commands = [("ramp", 5.0, 2.0, 0.0), ("hold", 2.0, 0.0, 0.0), ("stop", 2.0, -5.0, 0.0)]
    programme = (ramp(10.0), hold(), stop())
    limits = replace(LIMITS, brake_mps2=6.0, lateral_mps2=5.0, combined="ellipse")
    for arc_m, wanted in ((20.0, set()), (20.001, {"verify.combined"})):
        stretches = [(25.0, 0.0, 0.0), (arc_m, 1 / 30, 1 / 30), (100.0, 0.0, 0.0)]
        path = CurvePath(stretches, (0.0, 0.0), 0.0)
        found = alone(commands, programme, path=path, limits=limits, start_m=0.0).verify()
        assert codes(found) == wanted


def test_harder_braking_than_the_stop_states_is_found():
    found = standing_target().with_phase("subject", 2, brake_mps2=4.9).verify()
    assert codes(found) == {"verify.phase-cap"}


def test_gentler_braking_than_the_stop_states_is_allowed():
    assert codes(standing_target().with_phase("subject", 2, brake_mps2=5.5).verify()) == set()


def test_a_ramp_to_another_speed_is_found():
    found = standing_target().with_phase("subject", 0, to=exactly(41 * KMH)).verify()
    assert codes(found) == {"verify.ramp-speed"}


def test_a_drive_faster_or_slower_than_its_piece_allows_is_found():
    commands = [("drive", 4.0, 2.0, 0.0), ("on", 4.0, 0.0, 0.0), ("stop", 4.0, -2.0, 0.0)]
    programme = (
        replace(ramp(8.0), name="drive", driven=True),
        replace(hold(), name="on", for_s=4.0, driven=True),
        stop(),
    )
    case = alone(commands, programme)
    before, there = Piece("line", length_m=30.0), Piece("line", length_m=20.0, speed=exactly(7.9))
    for speed, faults in ((Span(0.0, 7.9), 1), (Span(8.1, 9.0), 1), (Span(7.9, 8.1), 0)):
        pieces = (before, replace(there, speed=speed))
        spec = PathSpec(start_m=(0.0, 0.0), pieces=pieces)
        windowed = replace(case, scenario=replace(case.scenario, paths={"lane": spec}))
        lane = with_mover(
            windowed.scenario, "car", replace(windowed.scenario.movers["car"], path="lane")
        )
        found = replace(windowed, scenario=lane).verify()
        assert codes(found) == ({"verify.window"} if faults else set())


def test_a_ramp_longer_than_within_is_found():
    found = Crossing().case().with_phase("walker", 1, within_m=1.49).verify()
    assert codes(found) == {"verify.ramp-length"}


def test_a_ramp_of_another_length_or_time_is_found():
    case = standing_target()
    assert codes(case.with_phase("subject", 0, over_m=20.0).verify()) == {"verify.ramp-length"}
    assert codes(case.with_phase("subject", 0, lasting_s=3.0).verify()) == {"verify.ramp-time"}


def test_a_build_up_that_is_skipped_is_found():
    # The lead's brake must grow over 1.0 s but is full at once.
    commands = [("ramp", 5.0, 2.0, 0.0), ("ramp 2", 2.0, -4.0, 0.0), ("stop", 0.4, -5.0, 0.0)]
    braking = replace(ramp(2.0, build_up_s=1.0, brake_mps2=4.0), name="ramp 2")
    found = alone(commands, (ramp(10.0), braking, stop())).verify()
    assert codes(found) == {"verify.build-up"}


def test_a_build_up_as_asked_may_end_with_a_jump():
    # 0 to -4 m/s2 in 1.0 s takes 2 m/s, 1.5 s more take 6 m/s (facts.md C08, EN-FC build-up, SEEN).
    commands = [
        ("ramp", 5.0, 2.0, 0.0),
        ("ramp 2", 1.0, 0.0, -4.0),
        ("ramp 2", 1.5, -4.0, 0.0),
        ("stop", 0.4, -5.0, 0.0),
    ]
    braking = replace(ramp(2.0, build_up_s=1.0, brake_mps2=4.0), name="ramp 2")
    assert codes(alone(commands, (ramp(10.0), braking, stop())).verify()) == set()


def test_a_phase_in_the_wrong_order_is_found():
    case = standing_target()
    pieces = case.plan.movers["subject"].pieces
    renamed = tuple(
        replace(one, phase="ramp" if one.phase == "hold" else one.phase) for one in pieces
    )
    strange = (*renamed[:2], replace(renamed[2], phase="swerve"))
    assert "verify.phase-order" in codes(case.with_plan("subject", pieces=strange).verify())


def test_a_launch_by_something_else_is_found():
    case = Crossing().case().with_plan("walker", launched_by="go")
    assert "verify.launched-by" in codes(case.verify())


def test_a_wait_for_a_time_is_held():
    case = standing_target()
    waiting = replace(hold(), kind="wait", name="wait", for_s=1.5)
    programme = (waiting, *case.scenario.movers["subject"].programme)
    found = codes(case.with_mover("subject", programme=programme).verify())
    assert "verify.launch" in found


def test_a_hold_of_another_time_is_found():
    case = braking_lead(50 * KMH, 4.0, math.sqrt(2 * 50 * KMH / 4.0))
    assert codes(case.with_phase("lead", 1, for_s=4.1).verify()) == {"verify.hold-time"}


def test_a_gap_a_tenth_of_a_second_short_is_found():
    case = braking_lead(50 * KMH, 4.0, math.sqrt(2 * 50 * KMH / 4.0))
    gap = replace(case.scenario.encounters["gap"], wanted=exactly(1.1))
    encounters = {**case.scenario.encounters, "gap": gap}
    found = replace(case, scenario=replace(case.scenario, encounters=encounters)).verify()
    assert codes(found) == {"verify.encounter-off"}
    assert found.worst_encounter_error == pytest.approx(2.0, abs=1e-6)


def test_a_gap_that_should_hold_while_the_lead_brakes_is_found():
    case = braking_lead(50 * KMH, 4.0, math.sqrt(2 * 50 * KMH / 4.0))
    until = Event("phase end", "stop", "lead")
    gap = replace(case.scenario.encounters["gap"], held_until=until)
    encounters = {**case.scenario.encounters, "gap": gap}
    held = replace(case, scenario=replace(case.scenario, encounters=encounters))
    assert codes(held.verify()) == {
        "verify.gap-drifts",
        "verify.gap-ends",
        "verify.after-contact",
    }
    # At the contact the gap of 1 s is used up; the lead comes to rest 0.8 s later, 5.6 m behind the front.
    least = finding(held.verify(), "verify.gap-drifts").values["least"]
    assert least < 0.0


def test_a_gap_after_the_two_have_touched_is_found():
    # The lead comes to rest 50 / 3.6 / 4 = 3.472 s after it began to brake; 0.837 s before, at the contact, nothing is
    # left of the gap. Anything is wanted of it, so that its value is right.
    after_s = math.sqrt(2 * 50 * KMH / 4.0)
    case = braking_lead(50 * KMH, 4.0, after_s)
    rest_s = case.plan.movers["lead"].pieces[-1].start_s + 50 * KMH / 4.0
    stations = tuple(
        float(one) for one in (case.verify().motions[of].state(rest_s)[0] for of in PAIR)
    )

    def judged(at: Event, time_s: float, at_m: tuple[float, float]) -> Verification:
        gap = Gap("subject", "lead", "distance", Span(-100.0, 100.0), at, 0.05)
        scenario = replace(case.scenario, encounters={**case.scenario.encounters, "gap": gap})
        told = {**case.plan.encounters, "gap": met("gap", *PAIR, time_s, at_m)}
        return replace(case, scenario=scenario, plan=replace(case.plan, encounters=told)).verify()

    late = judged(Event("phase end", "stop", "lead"), rest_s, stations)
    assert codes(late) == {"verify.after-contact"}
    values = finding(late, "verify.after-contact").values
    assert values["time_s"] - values["touch_s"] == pytest.approx(3.472 - after_s, abs=1e-3)
    # Just at the contact is not after it.
    contact = case.plan.encounters["contact"]
    met_m = contact.station_of_m, contact.station_with_m
    assert codes(judged(CONTACT, contact.time_s, met_m)) == set()


def test_a_pass_five_centimetres_off_is_found():
    assert codes(crossing_pass("distance", 15.75, 0.1).verify()) == {"verify.encounter-off"}


def test_a_pass_by_the_other_one_first_is_found():
    case = crossing_pass("distance", 15.7, 0.1)
    turned = replace(case.scenario.encounters["pass"], first="subject")
    found = replace(case, scenario=replace(case.scenario, encounters={"pass": turned})).verify()
    assert "verify.encounter-off" in codes(found)


def test_a_contact_on_the_flank_is_not_one_on_the_front():
    # The walker is so late that it walks into the subject's right flank.
    case = Crossing().case()
    told = case.plan.triggers["step_out"]
    late = case.with_trigger_plan("step_out", setting=told.setting - 0.85)
    assert "verify.contact-face" in codes(late.verify())


def test_an_encounter_that_never_happens_is_found():
    case = standing_target().with_path("target", Straight(300.0, 10.0, 0.0, 1.0))
    found = case.verify()
    assert "verify.encounter-missed" in codes(found)
    assert found.worst_encounter_error == math.inf
    assert "contact" not in found.measured


def test_a_spread_beyond_the_tolerance_is_a_warning_only():
    case = Crossing().case()
    contact = replace(case.scenario.encounters["contact"], tolerance_m=0.006, overlap=0.5)
    case = replace(case, scenario=replace(case.scenario, encounters={"contact": contact}))
    found = case.verify()
    assert [one.code for one in found.findings] == ["verify.spread"]
    assert found.agrees
    # As its author wrote it: an overlap, with what it varies by on both sides.
    told = re.fullmatch(
        r"contact comes at (\S+) % to (\S+) %, the sooner or later .*: wanted is 50.0 % within 0.006 m, .*",
        found.findings[0].text,
    )
    assert told is not None
    assert float(told[1]) < 50.0 < float(told[2])


@pytest.mark.parametrize("value", [math.nan, math.inf])
@pytest.mark.parametrize("key", ["duration_s", "accel_mps2", "jerk_mps3", "station_m"])
def test_numbers_that_are_none_are_found_and_nothing_is_simulated(key, value):
    found = standing_target().with_piece("subject", 1, **{key: value}).verify()
    assert codes(found) == {"verify.not-finite"}
    assert found.motions == {}


def test_a_negative_duration_is_found():
    found = standing_target().with_piece("subject", 1, duration_s=-0.5).verify()
    assert codes(found) == {"verify.negative-duration"}


def test_a_motion_of_a_year_is_not_simulated():
    found = standing_target().with_piece("subject", 1, duration_s=3e7).verify()
    assert codes(found) == {"verify.too-long"}


def test_an_encounter_with_exchanged_roles_is_found():
    case = standing_target()
    told = case.plan.encounters["contact"]
    turned = replace(told, of=told.with_, with_=told.of)
    case = replace(case, plan=replace(case.plan, encounters={"contact": turned}))
    assert codes(case.verify()) == {"verify.encounter-differs"}


def test_a_trigger_that_watches_another_is_found():
    case = Crossing().case().with_trigger_plan("step_out", watch="nobody", acts_on=("nobody",))
    assert codes(case.verify()) == {"verify.trigger-differs"}


@pytest.mark.parametrize(("key", "value"), [("to", "other"), ("to", None), ("setting_unit", "m")])
def test_a_trigger_that_counts_down_to_another_encounter_or_in_another_unit_is_found(key, value):
    case = Crossing().case().with_trigger_plan("step_out", **{key: value})
    assert codes(case.verify()) == {"verify.trigger-differs"}


def test_a_mover_or_an_encounter_left_out_is_found():
    case = standing_target()
    without = replace(case.plan, movers={"subject": case.plan.movers["subject"]})
    assert codes(replace(case, plan=without).verify()) == {"verify.missing"}
    assert codes(replace(case, plan=replace(case.plan, encounters={})).verify()) == {
        "verify.missing"
    }


def test_a_runway_told_too_short_is_found():
    case = standing_target()
    runway = replace(case.plan.movers["subject"].runway, total_m=100.0)
    assert codes(case.with_plan("subject", runway=runway).verify()) == {"verify.runway-told"}


def test_a_peak_told_too_low_is_a_warning():
    case = standing_target()
    peak = replace(case.plan.movers["subject"].peak, brake_mps2=4.0)
    found = case.with_plan("subject", peak=peak).verify()
    assert [one.code for one in found.findings] == ["verify.peak-told"]


def test_a_peak_of_speed_inside_one_command_told_too_low_is_a_warning():
    commands = [("ramp", 4.0, 3.0, -1.5), ("stop", 0.0, 0.0, 0.0)]
    case = alone(commands, (ramp(0.0), stop()))
    peak = replace(case.plan.movers["car"].peak, speed_mps=2.9)
    found = case.with_plan("car", peak=peak).verify()
    assert {one.values["what"] for one in found.findings if one.code == "verify.peak-told"} >= {
        "speed"
    }
