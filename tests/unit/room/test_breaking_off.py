"""Breaking off with chains of triggers, long reactions and no margin: nothing is taken for safe that isn't."""

import numpy as np
import pytest

from choreo.ground.stop import Stop
from choreo.plans.record import EncounterPlan, Plan, TriggerPlan
from choreo.room.no_return import Aborts, no_returns
from choreo.track.tracks import Track
from choreo.track.variants import CutTrack, LateTrack
from tests.unit.track.tracks_by_hand import straight, track

LANE = straight(600.0)


def plan_of(
    encounters: dict[str, EncounterPlan], triggers: dict[str, TriggerPlan] | None = None
) -> Plan:
    """A plan with nothing but encounters and triggers in it."""
    return Plan("choreo plan 1", "feasible", "by hand", "", "", {}, triggers or {}, encounters, {})


def contact(of: str, with_: str, time_s: float, stations: tuple[float, float]) -> EncounterPlan:
    """A contact on the front."""
    nothing = (0.0, 0.0)
    return EncounterPlan(
        "contact", "overlap", of, with_, time_s, nothing, 0.0, "m", 0.05, True, *stations, 10.0
    )


def standing(x_m: float) -> Track:
    """A car that stands in the lane with its reference point at x."""
    return track(straight(1.0, (x_m, 0.0)), [], name="standing")


def cruising(speed: float = 10.0, lasting: float = 10.0) -> Track:
    """A car that drives along and stops."""
    phases = [(lasting, 0.0, 0.0), (speed / 5.0, -5.0, 0.0)]
    return track(LANE, phases, name="subject", start_mps=speed)


def test_no_margin_still_means_not_to_touch() -> None:
    tracks = {"subject": cruising(), "standing": standing(104.3)}
    plan = plan_of({"hit": contact("subject", "standing", 10.0, (100.0, 0.0))})
    stops = {"subject": Stop(5.0, 1.0, False)}
    (told,) = no_returns(plan, tracks, stops, 0.0)
    assert told.state == "until"
    # 10 m of reaction and 10 m of braking before the rear of what stands.
    assert told.before_m["subject"] == pytest.approx(20.0, abs=0.02)


def test_speed_held_through_the_reaction_counts_where_the_plan_would_brake() -> None:
    # By plan it brakes from 5 s on; with 2 s of reaction at speed it overruns what the plan would stop before.
    braking = track(LANE, [(5.0, 0.0, 0.0), (5.0, -2.0, 0.0)], name="subject", start_mps=10.0)
    plan = plan_of({"hit": contact("subject", "standing", 9.9, (74.9, 0.0))})
    tracks = {"subject": braking, "standing": standing(79.3)}
    stop = Stop(2.0, 2.0, False)
    (told,) = no_returns(plan, tracks, {"subject": stop}, 0.1)
    assert told.time_s is not None
    # Held: 20 m of reaction, 25 m of braking, from 75 m less 0.1 m: at 29.9 m, 2.99 s after go.
    assert told.time_s == pytest.approx(2.99, abs=0.01)


def test_mover_whose_trigger_fails_is_followed_to_the_end_of_its_path() -> None:
    # The lead would stop at a trigger on the subject; should it not, it rolls into what stands far ahead.
    lead = track(
        LANE, [(10.0, 0.0, 0.0), (2.0, -5.0, 0.0)], name="lead", start_m=50.0, start_mps=10.0
    )
    trigger = TriggerPlan("subject", "station", 95.0, "m", 95.0, 9.5, 0.5, 100.0, 10.0, ("lead",))
    subject = track(
        straight(600.0, (0.0, 50.0)),
        [(10.0, 0.0, 0.0), (2.0, -5.0, 0.0)],
        name="subject",
        start_mps=10.0,
    )
    stops = {"subject": Stop(5.0, 0.0, False), "lead": Stop(5.0, 0.0, False)}
    encounter = contact("subject", "other", 11.0, (100.0, 0.0))
    for far, good in ((550.0, False), (700.0, True)):
        tracks = {"subject": subject, "lead": lead, "standing": standing(far)}
        plan = plan_of({"later": encounter}, {"stops": trigger})
        assert Aborts(plan, tracks, stops, 0.5).good("subject", np.array([3.0]))[0] == good


def test_trigger_that_is_passed_late_launches_late() -> None:
    # Breaking off at 7.5 s the subject still passes its line at 80 m, later than by plan.
    subject = cruising(10.0, 10.0)
    crossing = track(
        straight(60.0, (150.0, -30.0), np.pi / 2), [(6.0, 0.0, 0.0)], name="crossing",
        start_mps=0.0, launch_s=8.0,
    )  # fmt: skip
    trigger = TriggerPlan(
        "subject", "station", 80.0, "m", 80.0, 8.0, 0.0, 100.0, 8.0, ("crossing",)
    )
    plan = plan_of({}, {"line": trigger})
    from_s = np.array([7.5])
    aborts = Aborts(
        plan, {"subject": subject, "crossing": crossing}, {"subject": Stop(5.0, 0.0, False)}, 0.5
    )
    ways = list(aborts._ways(["subject"], from_s))
    late = [one["crossing"] for one in ways if isinstance(one.get("crossing"), LateTrack)]
    assert late
    # 75 m at 7.5 s, then 5 m while braking with 5 m/s2 from 10 m/s: 2 - sqrt(2) s.
    assert isinstance(late[0], LateTrack)
    assert late[0].late_s[0] == pytest.approx(2.0 - np.sqrt(2.0) - 0.5, abs=1e-3)


def test_late_motion_stands_while_it_waits_and_then_is_the_plan_shifted() -> None:
    one = track(LANE, [(2.0, 2.0, 0.0), (3.0, 0.0, 0.0)], launch_s=4.0, start_m=20.0)
    late = LateTrack(one, 4.0, np.array([1.5]))
    times = np.array([0.0, 4.0, 5.0, 6.5, 8.0])
    wanted = one.states(np.array([0.0, 4.0, 4.0, 5.0, 6.5]))[0]
    assert late.states(times)[0] == pytest.approx(wanted)


def test_stop_that_holds_its_speed_first_ends_where_the_sum_says() -> None:
    cut = CutTrack(cruising(), np.array([2.0]), 5.0, 1.0)
    assert cut.rest_s()[0] == pytest.approx(5.0)
    assert cut.states(np.array([9.0]))[0][0] == pytest.approx(20.0 + 10.0 + 10.0)
