"""When a trigger that watches a stopping mover still fires, worked out by hand for each condition.

The subject drives at 10 m/s from station 0; a contact by plan at station 100, after 10 s. It stops with 5 m/s2.
"""

import math

import numpy as np
import pytest

from choreo.plans.record import EncounterPlan, Plan, TriggerPlan
from choreo.room.late import NEVER_S, Late, late_movers, left_waiting
from choreo.track.tracks import Track
from choreo.track.variants import CutTrack, LateTrack
from tests.unit.track.tracks_by_hand import straight, track

LANE = straight(600.0)
BRAKE_MPS2 = 5.0
# Later than this: never.
LONG_S = NEVER_S / 2
STEADY = track(LANE, [(30.0, 0.0, 0.0)], name="subject", start_mps=10.0)
# From 10 m/s at 2 m/s2, from 2 s to 12 s.
FASTER = track(
    LANE, [(2.0, 0.0, 0.0), (10.0, 2.0, 0.0), (9.0, 0.0, 0.0)], name="subject", start_mps=10.0
)
# From 20 m/s at -1 m/s2, from 2 s to 12 s.
SLOWER = track(
    LANE, [(2.0, 0.0, 0.0), (10.0, -1.0, 0.0), (9.0, 0.0, 0.0)], name="subject", start_mps=20.0
)


def contact() -> EncounterPlan:
    """The contact at station 100 of the subject."""
    return EncounterPlan(
        "contact", "overlap", "subject", "walker", 10.0, (0.0, 0.0), 0.0, "m", 0.05, True,
        100.0, 4.0, 10.0,
    )  # fmt: skip


def late_s(
    subject: Track, condition: str, setting: float, fires_s: float, at_s: float, reaction_s: float
) -> float:
    """By how much a walker is late whose trigger on the subject fires at fires_s by plan.

    The subject breaks off at at_s and brakes after its reaction. Without latency; past LONG_S the trigger never fires.
    """
    station = float(subject.states(np.array([fires_s]))[0][0])
    trigger = TriggerPlan(
        "subject", condition, setting, "", station, fires_s, 0.0, 100.0, fires_s, ("walker",),
        "contact",
    )  # fmt: skip
    plan = Plan(
        "choreo plan 1", "feasible", "by hand", "", "", {}, {"go": trigger},
        {"contact": contact()}, {},
    )  # fmt: skip
    walker = track(straight(9.0), [(6.0, 0.0, 0.0)], name="walker", launch_s=fires_s)
    late = Late(plan, {"subject": subject, "walker": walker}, ["subject"], np.array([at_s]))
    stopping = CutTrack(subject, np.array([at_s + reaction_s]), BRAKE_MPS2)
    found = late_movers(late, {"subject": stopping})["walker"]
    assert isinstance(found, LateTrack)
    return float(found.late_s[0])


# From v m/s braking with 5 m/s2, d m take (v - sqrt(v^2 - 10 d)) / 5 seconds (elementary).
TWO_METRES_S = (10.0 - math.sqrt(100.0 - 20.0)) / 5.0


@pytest.mark.parametrize(("condition", "setting"), [("station", 70.0), ("distance", 30.0)])
def test_place_that_is_still_reached_is_reached_late(condition: str, setting: float) -> None:
    # 2 m before station 70, 30 m before the contact.
    assert late_s(STEADY, condition, setting, 7.0, 6.8, 0.0) == pytest.approx(
        TWO_METRES_S - 0.2, abs=1e-3
    )
    # It comes to rest 10 m on: from 11 m before it the place is never reached.
    assert late_s(STEADY, condition, setting, 7.0, 5.9, 0.0) > LONG_S


def test_time_to_collision_counts_the_speed_that_is_left() -> None:
    # 3 s before the contact at 10 m/s; through a reaction of 1 s it drives on as planned, and the trigger fires.
    assert late_s(STEADY, "time to collision", 3.0, 7.0, 6.5, 1.0) == pytest.approx(0.0, abs=1e-3)
    # 35 m before the contact it starts to brake: the time that is left only grows.
    assert late_s(STEADY, "time to collision", 3.0, 7.0, 6.5, 0.0) > LONG_S


def test_rising_speed_is_met_only_while_it_rises() -> None:
    # 16 m/s at 5 s by plan; with 1 s of reaction from 4.5 s it gets there, from 3 s it does not.
    assert late_s(FASTER, "speed", 16.0, 5.0, 4.5, 1.0) == pytest.approx(0.0, abs=1e-3)
    assert late_s(FASTER, "speed", 16.0, 5.0, 3.0, 1.0) > LONG_S


def test_falling_speed_is_met_earlier_by_braking_harder() -> None:
    # 12 m/s at 10 s by plan; braking from 20 m/s at 1 s it is there after 8 / 5 s.
    assert late_s(SLOWER, "speed", 12.0, 10.0, 1.0, 0.0) == pytest.approx(2.6 - 10.0, abs=1e-3)


# A lead 51.3 m on drives 5 m/s: from its rear to the subject's front 47 m. The trigger by gap launches the walker.
LEAD = track(LANE, [(60.0, 0.0, 0.0)], name="lead", start_m=51.3, start_mps=5.0)
FIRST_GAP_M = 51.3 - 0.9 - 3.4


def by_gap(setting: float, fires_s: float, at_s: float, stopping: list[str]) -> Late:
    """A run in which the walker is launched by the subject's gap to the lead, and some break off at an instant."""
    trigger = TriggerPlan(
        "subject", "gap", setting, "m", 10.0 * fires_s, fires_s, 0.0, 100.0, fires_s, ("walker",), "lead",
    )  # fmt: skip
    plan = Plan(
        "choreo plan 1", "feasible", "by hand", "", "", {}, {"close": trigger},
        {"contact": contact()}, {},
    )  # fmt: skip
    walker = track(straight(9.0), [(6.0, 0.0, 0.0)], name="walker", launch_s=fires_s)
    tracks = {"subject": STEADY, "lead": LEAD, "walker": walker}
    return Late(plan, tracks, stopping, np.array([at_s]))


def late_by_gap_s(setting: float, fires_s: float, at_s: float, stopping: list[str]) -> float:
    """By how much the walker is late then."""
    late = by_gap(setting, fires_s, at_s, stopping)
    cuts = {name: CutTrack(late.tracks[name], np.array([at_s]), BRAKE_MPS2) for name in stopping}
    found = late_movers(late, cuts)["walker"]
    assert isinstance(found, LateTrack)
    return float(found.late_s[0])


def test_gap_is_met_late_by_a_follower_that_brakes_or_never() -> None:
    # 27 m after 4 s, closing with 5 m/s. Braking with 5 m/s2 from 1 m before: 5 u - 2.5 u^2 = 1.
    assert pytest.approx(47.0) == FIRST_GAP_M
    late = late_by_gap_s(27.0, 4.0, 3.8, ["subject"])
    assert late == pytest.approx(1.0 - math.sqrt(0.6) - 0.2, abs=1e-3)
    # It closes by no more than 2.5 m.
    assert late_by_gap_s(27.0, 4.0, 3.4, ["subject"]) > LONG_S


def test_gap_is_met_early_when_the_one_ahead_brakes() -> None:
    # From 5 m before: 5 u + 2.5 u^2 = 5.
    early = late_by_gap_s(27.0, 4.0, 3.0, ["lead"])
    assert early == pytest.approx(math.sqrt(3.0) - 1.0 - 1.0, abs=1e-3)


def test_gap_between_two_that_brake_alike_closes_while_both_roll() -> None:
    # They go on closing with 5 m/s until the lead stands, 1 s later: the 5 m that were left, as by plan.
    assert late_by_gap_s(27.0, 4.0, 3.0, ["subject", "lead"]) == pytest.approx(0.0, abs=1e-3)


@pytest.mark.parametrize("stopping", ["subject", "lead"])
def test_either_of_a_gap_may_leave_a_mover_waiting(stopping: str) -> None:
    assert set(left_waiting(by_gap(27.0, 4.0, 3.0, [stopping]))) == {"walker"}


def test_gap_of_two_that_keep_to_their_plan_is_not_put_off() -> None:
    late = by_gap(27.0, 4.0, 3.0, ["walker"])
    assert left_waiting(late) == {}
    assert late_movers(late, {}) == {}
