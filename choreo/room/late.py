"""What becomes of movers whose trigger watches one that breaks off: left as they are, or set off late.

A trigger's condition is looked for on the stopping mover's way to rest, in steps; those that act on a mover which is
late itself are late by as much.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import field
from typing import assert_never

import numpy as np
from numpy.typing import NDArray

from choreo.plans.record import Plan, TriggerPlan
from choreo.room.facing import Gaps
from choreo.track.motion import Array, Index
from choreo.track.tracks import Track
from choreo.track.variants import CutTrack, Departure, LateTrack
from choreo.words.kinds import CONDITIONS
from choreo.words.records import dataclass

Mask = NDArray[np.bool_]
Motion = Track | Departure
# Of each mover that is set off late: when it would be by plan (s), and by how much later it is, shape (k,).
Delays = dict[str, tuple[float, Array]]

# Later than anything: a mover that never leaves its plan, or never sets off.
NEVER_S = 1e9
# Conditions are looked for on the way to rest in so many steps, then in the one where they begin to hold.
STEPS = 200
ROUNDS = 2
# This long (s) before it is reached by plan, a speed still lies on the side from which it is reached.
BEFORE_S = 0.01


@dataclass(frozen=True, eq=False)
class Late:
    """Instants at which some movers break off, and the triggers that this may put off.

    stopping: who breaks off; at_s: when, shape (k,). gaps: between the tracks, where they are worked out already.
    """

    plan: Plan
    tracks: Mapping[str, Track]
    stopping: list[str]
    at_s: Array
    gaps: Gaps | None = None
    triggers: list[TriggerPlan] = field(init=False)

    def __post_init__(self) -> None:
        triggers = self.plan.triggers.values()
        watching = [one for one in triggers if not CONDITIONS[one.condition].by_clock]
        object.__setattr__(self, "triggers", sorted(watching, key=lambda one: one.acts_at_s))

    def acted_on(self, trigger: TriggerPlan) -> list[str]:
        """Those that a trigger acts on and that don't break off themselves."""
        return [n for n in trigger.acts_on if n in self.tracks and n not in self.stopping]


def left_waiting(late: Late) -> dict[str, CutTrack]:
    """Give movers whose trigger never fires any more: from then on they go on as they are."""
    cuts: dict[str, Array] = {}
    for trigger in late.triggers:
        put_off = late.at_s < trigger.acts_at_s
        if not set(trigger.watched) & set(late.stopping):
            left = [cuts[name] < trigger.acts_at_s for name in trigger.watched if name in cuts]
            put_off &= np.any(left, axis=0) if left else False
        if not put_off.any():
            continue
        for name in late.acted_on(trigger):
            before = cuts.get(name, np.full(len(late.at_s), NEVER_S))
            cuts[name] = np.where(put_off, np.minimum(before, trigger.acts_at_s), before)
    return {name: CutTrack(late.tracks[name], cut, 0.0) for name, cut in cuts.items()}


def late_movers(late: Late, motions: Mapping[str, Departure]) -> dict[str, Departure]:
    """Give movers whose trigger fires when the stopping mover really meets its condition, if it ever does.

    motions: of those that break off. A mover that more than one trigger puts off is late by the first of them.
    """
    delays: Delays = {}
    for trigger in late.triggers:
        by = _late_by(late, trigger, motions, delays)
        if by is None:
            continue
        for name in late.acted_on(trigger):
            delays.setdefault(name, (trigger.acts_at_s, by))
    return {
        name: LateTrack(late.tracks[name], from_s, np.minimum(by, NEVER_S))
        for name, (from_s, by) in delays.items()
    }


def _late_by(
    late: Late,
    trigger: TriggerPlan,
    motions: Mapping[str, Departure],
    delays: Delays,
) -> Array | None:
    """By how much later than planned a trigger fires in each variant, shape (k,); None: it isn't put off."""
    put_off = late.at_s < trigger.acts_at_s
    if CONDITIONS[trigger.condition].to_mover:
        pair = _pair_off(late, trigger, motions, delays)
        if pair is None:
            return None
        return np.where(put_off, _closed_s(trigger, pair, late) - trigger.time_s, 0.0)
    if trigger.watch in late.stopping:
        motion = motions[trigger.watch]
        if not isinstance(motion, CutTrack):
            return None
        return np.where(put_off, _met_s(late.plan, trigger, motion) - trigger.time_s, 0.0)
    if trigger.watch in delays and delays[trigger.watch][0] < trigger.time_s:
        return delays[trigger.watch][1]
    return None


def _pair_off(
    late: Late,
    trigger: TriggerPlan,
    motions: Mapping[str, Departure],
    delays: Delays,
) -> tuple[Motion, Motion] | None:
    """How the two that a gap is between move, where at least one of them leaves its plan before."""
    pair: list[Motion] = []
    for name in trigger.watched:
        from_s, by = delays.get(name, (NEVER_S, np.zeros(len(late.at_s))))
        if name in late.stopping:
            pair.append(motions[name])
        elif from_s < trigger.time_s:
            pair.append(LateTrack(late.tracks[name], from_s, np.minimum(by, NEVER_S)))
        else:
            pair.append(late.tracks[name])
    first, second = pair
    return None if isinstance(first, Track) and isinstance(second, Track) else (first, second)


def _closed_s(trigger: TriggerPlan, pair: tuple[Motion, Motion], late: Late) -> Array:
    """When each variant of two movers has a trigger's gap between them, shape (k,); NEVER_S: not any more."""
    (a, b), gaps = trigger.watched, late.gaps or Gaps(late.tracks)
    before = np.array([trigger.time_s - BEFORE_S])
    stations = late.tracks[a].states(before)[0], late.tracks[b].states(before)[0]
    falling = gaps.between(a, stations[0], b, stations[1])[0] > trigger.setting

    def holds(times: Array, variants: Index) -> Mask:
        stations = pair[0].states(times, variants)[0], pair[1].states(times, variants)[0]
        gap = gaps.between(a, stations[0], b, stations[1])
        return np.asarray(gap <= trigger.setting if falling else gap >= trigger.setting)

    return _first_s(holds, np.maximum(_rest_s(pair[0], late), _rest_s(pair[1], late)))


def _rest_s(motion: Motion, late: Late) -> Array:
    """When each variant of a motion is over, shape (k,)."""
    if isinstance(motion, Track):
        return np.full(len(late.at_s), motion.end_s)
    return motion.rest_s()


def _met_s(plan: Plan, trigger: TriggerPlan, motion: CutTrack) -> Array:
    """When each variant of a stopping mover meets a trigger's condition, shape (k,); NEVER_S: not any more."""

    def holds(times: Array, variants: Index) -> Mask:
        return _holds(plan, trigger, motion, *motion.states(times, variants))

    return _first_s(holds, motion.rest_s())


def _first_s(holds: Callable[[Array, Index], Mask], until_s: Array) -> Array:
    """When each variant begins to meet a condition, up to a time, shape (k,); NEVER_S: not at all.

    holds: says at times of the variants of those numbers, both of shape (n,), whether it is met.
    """
    from_s, count = np.zeros(len(until_s)), len(until_s)
    found = np.full(count, NEVER_S)
    for _ in range(ROUNDS):
        times = from_s[:, None] + (until_s - from_s)[:, None] * np.linspace(0.0, 1.0, STEPS)
        variants = np.repeat(np.arange(count), STEPS)
        met = holds(times.ravel(), variants).reshape(times.shape)
        begins = met[:, 1:] & ~met[:, :-1]
        step, row = begins.argmax(axis=1), np.arange(count)
        found = np.where(begins.any(axis=1), times[row, step + 1], NEVER_S)
        from_s, until_s = times[row, step], times[row, step + 1]
    return found


def _holds(
    plan: Plan, trigger: TriggerPlan, motion: CutTrack, station: Array, speed: Array
) -> Mask:
    """Whether a trigger's condition is met at stations in m and speeds in m/s of the mover that it watches."""
    match trigger.condition:
        case "station" | "distance":
            # What is left to an encounter is a place on the path as well.
            if trigger.station_m is None:
                raise AssertionError("a place on the path has a station")
            return np.asarray(station >= trigger.station_m)
        case "time to collision":
            left = _meets_m(plan, trigger) - station
            return np.asarray(left <= trigger.setting * speed)
        case "speed":
            before = motion.track.states(np.array([trigger.time_s - BEFORE_S]))[1][0]
            rising = before < trigger.setting
            return np.asarray(speed >= trigger.setting if rising else speed <= trigger.setting)
        case "gap":
            raise AssertionError("a gap is between two movers")
        case "time":
            raise AssertionError("a trigger by the clock watches nobody")
        case _:
            assert_never(trigger.condition)


def _meets_m(plan: Plan, trigger: TriggerPlan) -> float:
    """The watched mover's station at the encounter that a trigger counts down to, in m."""
    if trigger.to is None:
        raise AssertionError("what counts down names its encounter")
    encounter = plan.encounters[trigger.to]
    return encounter.station_of_m if trigger.watch == encounter.of else encounter.station_with_m
