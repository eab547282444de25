"""The point of no return against a direct simulation of aborts at every 10 ms, with its own arithmetic."""

import math
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import combinations

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from choreo.geometry import Poses
from choreo.ground.stop import Stop
from choreo.plans.record import Plan
from choreo.room.no_return import Aborts
from choreo.scenario import Scenario
from choreo.track.tracks import Track, tracks_of
from tests.answers import whole
from tests.unit.track.tracks_by_hand import bodies, stations

Array = NDArray[np.float64]
NAMES = (
    "walker-nearside",
    "braking-lead-time-gap",
    "turn-across-oncoming",
    "pass-with-margin",
    "cut-out-reveals-stationary",
)
FINELY = {"walker-nearside"}
ABORT_EVERY_S = 0.02
LOOK_EVERY_S = 0.008
# Between two looks bodies near each other by no more than this; nearer calls are left undecided.
UNSURE_M = 0.12


@lru_cache
def planned(name: str) -> tuple[Scenario, Plan, dict[str, Track], dict[str, Stop]]:
    """A bundled scenario with its plan, motions and stops."""
    found = whole(name)
    space = found.plan.space
    assert space is not None
    tracks = dict(tracks_of(found.scenario, found.paths, found.plan))
    stops = {
        mover: Stop(one.brake_mps2, one.reaction_s, one.assumed)
        for mover, one in space.stops.items()
    }
    return found.scenario, found.plan, tracks, stops


def stopped(one: Track, stop: Stop, abort_s: float, times: Array, held: bool) -> Array:
    """Stations of a mover that breaks off at abort_s; held: at its speed through the reaction."""
    found = stations(one, times)
    if held:
        here, soon = stations(one, np.array([abort_s, abort_s + 1e-5]))
        speed = (soon - here) / 1e-5
        since = np.maximum(times - abort_s, 0.0)
        braking = np.clip(since - stop.reaction_s, 0.0, speed / stop.brake_mps2)
        way = speed * (np.minimum(since, stop.reaction_s) + braking)
        return np.where(times > abort_s, here + way - stop.brake_mps2 * braking**2 / 2, found)
    begin = abort_s + stop.reaction_s
    late = times > begin
    if not late.any():
        return found
    place, after = stations(one, np.array([begin, begin + 1e-5]))
    speed = (after - place) / 1e-5
    since = np.minimum(times[late] - begin, speed / stop.brake_mps2)
    found[late] = place + speed * since - stop.brake_mps2 * since**2 / 2
    return found


@dataclass(frozen=True)
class Way:
    """Where a mover is at all looks after an instant: stations in m, and its poses there; each of shape (n,)."""

    track: Track
    stations_m: Array

    @cached_property
    def poses(self) -> Poses:
        return self.track.path.pose(self.stations_m)


def least_m(a: Way, b: Way) -> float:
    """The least of the distances at all times; far from each other circles stand for the bodies."""
    radii = a.track.radius_m + b.track.radius_m
    apart = np.hypot(a.poses.x_m - b.poses.x_m, a.poses.y_m - b.poses.y_m) - radii
    if apart.min() > 3.0:
        return float(apart.min())
    # Bodies are no farther apart than their middles: others can't be nearest.
    near = np.flatnonzero(apart <= apart.min() + radii)
    shapes = [bodies(one.track, one.stations_m[near]) for one in (a, b)]
    return float(shapely.distance(*shapes).min())


def room_m(name: str, who: str, abort_s: float) -> float:
    """By how much breaking off at an instant comes out well: least distance less what is asked for, over all pairs."""
    _, plan, tracks, stops = planned(name)
    end = max(one.end_s for one in tracks.values()) + 8.0
    times = np.arange(abort_s, end, LOOK_EVERY_S)
    stopping = list(stops) if who == "all" else [who]
    meets = {
        frozenset((e.of, e.with_)): e.time_s
        for e in plan.encounters.values()
        if e.kind == "contact"
    }
    # Movers that the stopping one would trigger later: once as planned, once left as they are.
    waiting = {}
    for trigger in plan.triggers.values():
        if trigger.watch in stopping and abort_s < trigger.acts_at_s:
            waiting |= {one: trigger.acts_at_s for one in trigger.acts_on if one not in stopping}
    as_planned = {
        mover: Way(one, stations(one, times))
        for mover, one in tracks.items()
        if mover not in stopping
    }
    worst = math.inf
    for held in (False, True):
        broken_off = {
            mover: Way(tracks[mover], stopped(tracks[mover], stops[mover], abort_s, times, held))
            for mover in stopping
        }
        for put_off in ("", "never", "late") if waiting else ("",):
            moved = {**as_planned, **broken_off}
            for mover in waiting if put_off else ():
                acts_s, one = waiting[mover], tracks[mover]
                if put_off == "never":
                    places = np.full(len(times), stations(one, np.array([acts_s]))[0])
                else:
                    by = late_by(plan, broken_off, times, mover)
                    shifted = np.minimum(times, acts_s)
                    if by is not None:
                        shifted = np.where(times - by > acts_s, times - by, 0.0)
                    places = stations(one, shifted)
                moved[mover] = Way(one, places)
            changed = {*stopping, *(waiting if put_off else ())}
            for a, b in combinations(tracks, 2):
                pair = frozenset((a, b))
                if not changed & pair or abort_s >= meets.get(pair, math.inf):
                    continue
                wanted = 0.5 if pair in meets else 0.001
                distance = least_m(moved[a], moved[b])
                worst = min(worst, distance - wanted if distance > 0.0 else -wanted - 1.0)
    return worst


def late_by(plan: Plan, moved: dict[str, Way], times: Array, mover: str) -> float | None:
    """By how much a mover that waits is triggered later; None: never. Triggers here watch for a time to collision."""
    (trigger,) = (one for one in plan.triggers.values() if mover in one.acts_on)
    assert trigger.condition == "time to collision"
    encounter = plan.encounters[trigger.to or ""]
    watched_m = moved[trigger.watch].stations_m
    way = encounter.station_of_m - watched_m
    speed = np.gradient(watched_m, times)
    met = np.flatnonzero(way <= trigger.setting * speed)
    if len(met) == 0:
        return None
    return max(float(times[met[0]]) - trigger.time_s, 0.0)


def parties(name: str) -> list[str]:
    """Who can break a bundled scenario off."""
    _, plan, _, _ = planned(name)
    assert plan.space is not None
    return list(dict.fromkeys(one.who for one in plan.space.no_return))


@pytest.mark.parametrize("name", NAMES)
def test_breaking_off_comes_out_as_a_direct_simulation_says(name: str) -> None:
    # Reference: each abort simulated by itself every 20 ms, distances by shapely (GEOS) every 8 ms.
    _, plan, tracks, stops = planned(name)
    assert plan.space is not None
    aborts = Aborts(plan, tracks, stops, 0.5)
    found = parties(name)
    assert "all" in found
    for who in found:
        told = next(one for one in plan.space.no_return if one.who == who)
        last = plan.encounters[told.encounter].time_s
        times = np.arange(0.0, last - 0.002, ABORT_EVERY_S)
        # Every 20 ms near the ends of the windows, elsewhere at a coarser step, in larger scenarios a coarse one.
        ends = np.array([end for window in told.windows for end in window] or [0.0])
        close = np.abs(times[:, None] - ends).min(axis=1) < 0.1
        step = 4 if name in FINELY else 25
        times = times[close | (np.arange(len(times)) % step == 0)]
        good = aborts.good(who, times)
        assert len(times) > 20
        decided = 0
        for at, said in zip(times, good, strict=True):
            room = room_m(name, who, float(at))
            if abs(room) <= UNSURE_M:
                # Sampling can only miss an approach: what it finds too near is too near.
                assert room >= 0.0 or not said
                continue
            decided += 1
            assert said == (room > 0.0), (who, at, room)
            inside = any(start - 1e-9 <= at <= end + 1e-9 for start, end in told.windows)
            assert inside == said, (who, at)
        assert decided > 0.7 * len(times)


def test_told_instant_is_the_last_one_that_comes_out_well() -> None:
    # Sharper than the 10 ms above: a millisecond earlier it comes out well, and two later no more.
    for name, who in (("walker-nearside", "subject"), ("turn-across-oncoming", "all")):
        _, plan, tracks, stops = planned(name)
        assert plan.space is not None
        told = next(one for one in plan.space.no_return if one.who == who)
        assert told.state == "until"
        assert told.time_s is not None
        good = Aborts(plan, tracks, stops, 0.5).good(
            who, told.time_s + np.array([-0.001, 0.0, 0.002])
        )
        assert list(good) == [True, True, False]


def test_subject_towards_a_standing_target_can_stop_until_its_stopping_way_is_left() -> None:
    # Elementary: reaction way, braking way and the margin make up the way left.
    _, plan, _, stops = planned("cut-out-reveals-stationary")
    assert plan.space is not None
    told = next(one for one in plan.space.no_return if one.who == "subject")
    stop, speed = stops["subject"], plan.encounters["contact"].closing_mps
    way = speed * stop.reaction_s + speed**2 / (2 * stop.brake_mps2) + 0.5
    assert told.before_m["subject"] == pytest.approx(way, abs=0.002 * speed)
    assert told.before_m["subject"] >= way


def test_lead_that_stops_alone_is_run_into() -> None:
    _, plan, _, _ = planned("braking-lead-time-gap")
    assert plan.space is not None
    assert {one.who: one.state for one in plan.space.no_return} == {
        "subject": "until",
        "lead": "never",
        "all": "until",
    }
    assert [one.touches for one in plan.space.no_return if one.state == "never"] == [True]


def test_mover_that_stops_in_the_others_way_is_told_with_its_windows() -> None:
    _, plan, _, _ = planned("pass-with-margin")
    assert plan.space is not None
    states = {one.who: one for one in plan.space.no_return}
    assert states["subject"].state == "always"
    crosser = states["crosser"]
    assert crosser.state == "until"
    # Until it would come to rest in the lane; again when it gets across even so.
    assert len(crosser.windows) == 2
    assert crosser.time_s == crosser.windows[0][1]
