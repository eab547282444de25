"""The crew's lists say what the plan's events and encounters say, at the points that they name."""

import itertools
import math

import pytest

from choreo.plans.crew_record import CrewPlan, NamedPlace
from choreo.plans.record import Plan
from tests.unit.page.shown import planned

LEAD = "braking-lead-bumper-gap"


def crew_of(name: str) -> tuple[Plan, CrewPlan]:
    _, plan = planned(name)
    assert plan.crew is not None
    return plan, plan.crew


def place_of(crew: CrewPlan, mover: str, name: str, point: str) -> NamedPlace:
    (found,) = (
        place
        for place in crew.programmes[mover].places
        if (place.name, place.point) == (name, point)
    )
    return found


@pytest.mark.parametrize("name", [LEAD, "walker-nearside", "double-lane-change"])
def test_legs_begin_where_the_one_before_ends_and_end_where_the_plan_has_its_event(
    name: str,
) -> None:
    plan, crew = crew_of(name)
    assert crew.programmes
    for mover, programme in crew.programmes.items():
        legs = programme.legs
        assert [leg.phase for leg in legs if leg.kind != "wait"]
        for before, after in itertools.pairwise(legs):
            assert before.ends.time_s == pytest.approx(after.begins.time_s, abs=1e-9)
            assert before.ends.station_m == pytest.approx(after.begins.station_m, abs=1e-6)
            assert before.ends.speed_mps == pytest.approx(after.begins.speed_mps, abs=1e-6)
        ends = {event.name: event for event in plan.movers[mover].events}
        for leg in legs:
            if leg.kind == "wait":
                assert leg.ends.time_s == pytest.approx(plan.movers[mover].launch_s)
                continue
            event = ends[f"end of {leg.phase}"]
            assert leg.ends.time_s == pytest.approx(event.time_s, abs=1e-6)
            assert (leg.ends.x_m, leg.ends.y_m) == pytest.approx((event.x_m, event.y_m), abs=1e-5)


def test_rates_and_build_up_are_the_authors() -> None:
    # The scenario: ramps at 2 m/s2, build-up 0.5 s by a jerk limit of 4 m/s3; the lead has no limit of jerk.
    _, crew = crew_of(LEAD)
    ramp, hold, stop = crew.programmes["subject"].legs
    assert (ramp.rate_mps2, ramp.build_up_s) == pytest.approx((2.0, 0.5))
    assert (hold.rate_mps2, hold.build_up_s) == (None, None)
    assert (stop.rate_mps2, stop.build_up_s) == pytest.approx((-5.0, 1.25))
    brake = crew.programmes["lead"].legs[-1]
    assert (brake.rate_mps2, brake.build_up_s) == pytest.approx((-0.5 * 9.80665, 0.0))


def test_places_are_of_the_point_that_they_name() -> None:
    plan, crew = crew_of(LEAD)
    front = place_of(crew, "subject", "gap", "front")
    rear = place_of(crew, "lead", "gap", "rear")
    assert math.dist((front.x_m, front.y_m), (rear.x_m, rear.y_m)) == pytest.approx(12.0, abs=1e-4)
    hit = place_of(crew, "lead", "contact", "impact point")
    assert (hit.x_m, hit.y_m) == pytest.approx(plan.encounters["contact"].place)
    start = plan.movers["subject"].start
    ahead = place_of(crew, "subject", "start mark", "front")
    assert ahead.x_m - start.x_m == pytest.approx(3.4)
    braking = place_of(crew, "lead", "braking begins (brake)", "reference point")
    assert braking.station_m == pytest.approx(crew.programmes["lead"].legs[1].ends.station_m)


def test_distances_are_between_bumpers() -> None:
    plan, crew = crew_of(LEAD)
    (one,) = crew.distances
    # Marks by the plan; the subject's front is 3.40 m ahead, the lead's rear 2.05 m behind its reference point.
    by_hand = plan.movers["lead"].start.x_m - 2.05 - plan.movers["subject"].start.x_m - 3.40
    assert (one.moment, one.behind, one.ahead, one.head_on) == (
        "start marks",
        "subject",
        "lead",
        False,
    )
    assert one.distance_m == pytest.approx(by_hand, abs=1e-9)


def test_those_who_meet_head_on_are_front_to_front() -> None:
    plan, crew = crew_of("head-on-lane-departure")
    first = crew.distances[0]
    assert first.head_on
    assert first.moment == "start marks"
    contact = plan.encounters["contact"]
    ways = (
        contact.station_of_m - plan.movers[contact.of].start.station_m,
        contact.station_with_m - plan.movers[contact.with_].start.station_m,
    )
    # Until they touch both together have driven what was between them, give or take the change of lane.
    assert first.distance_m == pytest.approx(sum(ways), rel=0.01)
