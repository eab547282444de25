"""Which gates a run sheet gets when there are more places than lines, on a plan written by hand.

The car speeds up from 2 s to 6 s, holds, slows down from 10 s to 12 s, holds, and stops from 16 s to 18 s.
"""

from dataclasses import replace

import numpy as np
import pytest

from choreo.page.gates import gates_of
from choreo.plans.record import (
    EncounterPlan,
    InstantPlan,
    MoverPlan,
    Peak,
    PhasePlan,
    Piece,
    Plan,
    PlanEvent,
    Runway,
    StartMark,
    TriggerPlan,
)
from tests.unit.track.tracks_by_hand import straight

PHASES = (
    PhasePlan("up", "ramp"), PhasePlan("ramp", "hold"), PhasePlan("down", "ramp"),
    PhasePlan("slow", "hold"), PhasePlan("end", "stop"),
)  # fmt: skip
# Phase, start s, duration s, station m, speed m/s, acceleration m/s2.
MOTION = (
    (0, 2.0, 4.0, 0.0, 0.0, 5.0), (1, 6.0, 4.0, 40.0, 20.0, 0.0), (2, 10.0, 2.0, 120.0, 20.0, -5.0),
    (3, 12.0, 4.0, 150.0, 10.0, 0.0), (4, 16.0, 2.0, 190.0, 10.0, -5.0),
)  # fmt: skip


def mover() -> MoverPlan:
    """The car."""
    pieces = tuple(
        Piece(PHASES[phase].name, start, lasting, station, speed, accel, 0.0, phase)
        for phase, start, lasting, station, speed, accel in MOTION
    )
    ends = tuple(
        PlanEvent(
            f"end of {piece.phase}", piece.start_s + piece.duration_s, 0.0, 0.0, 0.0,
            piece.speed_mps + piece.accel_mps2 * piece.duration_s, "phase end", piece.phase_index,
        )
        for piece in pieces
    )  # fmt: skip
    return MoverPlan(
        StartMark(0.0, 0.0, 0.0, 0.0, 0.0), 2.0, "time", ends, pieces,
        Runway(120.0, 0.0, 80.0, 200.0), Peak(5.0, 5.0, 0.0, 0.0, 20.0), {}, PHASES,
    )  # fmt: skip


def gates(encounters: list[float], triggers: list[float], instants: list[float]) -> list[str]:
    """What the gates are, by time, for encounters, triggers and instants at times in s."""
    met = {
        f"e{i}": EncounterPlan(
            "contact", "overlap", "car", "other", at, (0.0, 0.0), 0.0, "m", 0.1, True, 0.0, 0.0, 0.0
        )
        for i, at in enumerate(encounters)
    }
    fired = {
        f"t{i}": TriggerPlan("car", "station", 0.0, "m", 0.0, at, 0.0, 100.0, at, ())
        for i, at in enumerate(triggers)
    }
    named = {f"n{i}": InstantPlan(at, {}, {}, {}) for i, at in enumerate(instants)}
    plan = Plan("choreo plan 1", "feasible", "by hand", "", "", {"car": mover()}, fired, met, named)
    found = gates_of("car", plan, straight(300.0))
    times = [gate.time_s for gate in found]
    assert times == sorted(times)
    return [gate.what for gate in found]


def test_end_of_the_first_ramp_comes_before_instants_and_later_ramps() -> None:
    assert gates([15.0], [14.0], [3.0, 4.0, 5.0]) == [
        "n0", "end of up", "trigger t0 fires", "encounter e0",
    ]  # fmt: skip


def test_later_ramps_come_after_triggers_and_among_instants_by_time() -> None:
    assert gates([15.0], [13.0, 14.0], [11.0]) == [
        "end of up", "trigger t0 fires", "trigger t1 fires", "encounter e0",
    ]  # fmt: skip
    assert gates([15.0], [14.0], [13.0]) == [
        "end of up", "end of down", "trigger t0 fires", "encounter e0",
    ]  # fmt: skip


def test_with_lines_to_spare_half_of_the_first_speed_and_ends_of_holds_follow() -> None:
    assert gates([], [], []) == [
        "on the way, at 36.00 km/h", "end of up", "end of ramp", "end of down",
    ]  # fmt: skip


def test_half_of_the_first_speed_is_where_the_sum_says() -> None:
    plan = Plan("choreo plan 1", "feasible", "by hand", "", "", {"car": mover()}, {}, {}, {})
    half = gates_of("car", plan, straight(300.0))[0]
    # 10 m/s at 5 m/s2, two seconds after the launch at 2 s, 10 m on (elementary).
    found = np.array([half.time_s, half.station_m, half.speed_mps])
    assert found == pytest.approx([4.0, 10.0, 10.0])


def test_what_happens_at_one_moment_shares_a_gate() -> None:
    assert gates([6.0], [6.0], []) == [
        "on the way, at 36.00 km/h", "encounter e0, end of up, trigger t0 fires", "end of ramp",
        "end of down",
    ]  # fmt: skip


def test_half_of_the_first_speed_of_a_rolling_start_lies_between_both_speeds() -> None:
    # From 10 m/s, 10 m/s2 up to 30 m/s: 20 m/s after 1 s and 15 m (elementary).
    rolling = mover()
    faster = replace(rolling.pieces[0], duration_s=2.0, speed_mps=10.0, accel_mps2=10.0)
    end = replace(rolling.events[0], time_s=4.0, speed_mps=30.0)
    rolling = replace(
        rolling, start=replace(rolling.start, speed_mps=10.0), pieces=(faster,), events=(end,)
    )
    plan = Plan("choreo plan 1", "feasible", "by hand", "", "", {"car": rolling}, {}, {}, {})
    half = gates_of("car", plan, straight(300.0))[0]
    assert half.what == "on the way, at 72.00 km/h"
    found = np.array([half.time_s, half.station_m, half.speed_mps])
    assert found == pytest.approx([3.0, 15.0, 20.0], abs=1e-9)
