"""A mover that is late puts off whom it launches itself, but only by triggers that it reaches once it is late.

The subject drives at 10 m/s and passes station 70 after 7 s, which sends a rider on; the rider's way launches a walker.
"""

import numpy as np
import pytest

from choreo.plans.record import Plan, TriggerPlan
from choreo.room.late import Late, late_movers, left_waiting
from choreo.track.tracks import Track
from choreo.track.variants import CutTrack, LateTrack
from tests.unit.track.tracks_by_hand import straight, track

SUBJECT = track(straight(600.0), [(30.0, 0.0, 0.0)], name="subject", start_mps=10.0)
# 5 m/s, then from 7 s on with 1 m/s2.
RIDER = track(straight(400.0), [(7.0, 0.0, 0.0), (5.0, 1.0, 0.0)], name="rider", start_mps=5.0)
# Breaks off 2 m before station 70 and brakes with 5 m/s2: (10 - sqrt(80)) / 5 s for them.
BREAKS_OFF_S, BRAKE_MPS2 = 6.8, 5.0
LATE_S = (10.0 - 80.0**0.5) / 5.0 - 0.2


def trigger(
    watch: str, fires_s: float, station_m: float, on: str, latency_s: float = 0.0
) -> TriggerPlan:
    """A trigger at a station, reached at fires_s."""
    acts_s = fires_s + latency_s
    return TriggerPlan(
        watch, "station", station_m, "m", station_m, fires_s, latency_s, 100.0, acts_s, (on,)
    )


def late(
    out_fires_s: float, latency_s: float = 0.0
) -> tuple[Late, dict[str, CutTrack | LateTrack]]:
    """What becomes of both when the subject breaks off; the walker's trigger fires at out_fires_s by plan."""
    walker = track(straight(9.0), [(6.0, 0.0, 0.0)], name="walker", launch_s=out_fires_s)
    tracks: dict[str, Track] = {"subject": SUBJECT, "rider": RIDER, "walker": walker}
    place_m = float(RIDER.states(np.array([out_fires_s]))[0][0])
    triggers = {
        "ride": trigger("subject", 7.0, 70.0, "rider"),
        "out": trigger("rider", out_fires_s, place_m, "walker", latency_s),
    }
    plan = Plan("choreo plan 1", "feasible", "by hand", "", "", {}, triggers, {}, {})
    case = Late(plan, tracks, ["subject"], np.array([BREAKS_OFF_S]))
    stopping = CutTrack(SUBJECT, case.at_s, BRAKE_MPS2)
    return case, late_movers(case, {"subject": stopping})


@pytest.mark.parametrize("out_fires_s", [8.0, 11.0])
def test_walker_of_a_late_rider_is_as_late(out_fires_s: float) -> None:
    _, found = late(out_fires_s)
    rider, walker = found["rider"], found["walker"]
    assert isinstance(rider, LateTrack)
    assert isinstance(walker, LateTrack)
    assert [rider.late_s[0], walker.late_s[0]] == pytest.approx([LATE_S, LATE_S], abs=1e-3)


@pytest.mark.parametrize("latency_s", [0.0, 0.5])
def test_walker_whose_trigger_the_rider_reached_before_it_was_late_goes_as_planned(
    latency_s: float,
) -> None:
    _, found = late(6.9, latency_s)
    assert set(found) == {"rider"}


def test_walker_of_a_rider_that_is_never_sent_on_is_left_waiting_with_it() -> None:
    case, _ = late(8.0)
    cuts = left_waiting(case)
    assert set(cuts) == {"rider", "walker"}
    assert [cuts["rider"].cut_s[0], cuts["walker"].cut_s[0]] == pytest.approx([7.0, 8.0])
