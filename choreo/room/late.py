"""What becomes of movers whose trigger watches one that breaks off: left as they are, or set off late.

A trigger's condition is looked for on the stopping mover's way to rest, in steps; those that act on a mover which is
late itself are late by as much.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import assert_never

import numpy as np
from numpy.typing import NDArray

from choreo.plans.record import Plan, TriggerPlan
from choreo.track.motion import Array
from choreo.track.tracks import Track
from choreo.track.variants import CutTrack, Departure, LateTrack
from choreo.words.kinds import CONDITIONS

Mask = NDArray[np.bool_]

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

    stopping: who breaks off; at_s: when, shape (k,).
    """

    plan: Plan
    tracks: Mapping[str, Track]
    stopping: list[str]
    at_s: Array
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
        if trigger.watch not in late.stopping:
            known = cuts.get(trigger.watch)
            put_off &= False if known is None else known < trigger.acts_at_s
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
    delays: dict[str, tuple[float, Array]] = {}
    for trigger in late.triggers:
        put_off = late.at_s < trigger.acts_at_s
        if trigger.watch in late.stopping:
            motion = motions[trigger.watch]
            if not isinstance(motion, CutTrack):
                continue
            by = np.where(put_off, _met_s(late.plan, trigger, motion) - trigger.time_s, 0.0)
        elif trigger.watch in delays and delays[trigger.watch][0] < trigger.time_s:
            by = delays[trigger.watch][1]
        else:
            continue
        for name in late.acted_on(trigger):
            delays.setdefault(name, (trigger.acts_at_s, by))
    return {
        name: LateTrack(late.tracks[name], from_s, np.minimum(by, NEVER_S))
        for name, (from_s, by) in delays.items()
    }


def _met_s(plan: Plan, trigger: TriggerPlan, motion: CutTrack) -> Array:
    """When each case of a stopping mover meets a trigger's condition, shape (k,); NEVER_S: not any more."""
    rest = motion.rest_s()
    from_s, until_s = np.zeros(len(rest)), rest
    found = np.full(len(rest), NEVER_S)
    for _ in range(ROUNDS):
        times = from_s[:, None] + (until_s - from_s)[:, None] * np.linspace(0.0, 1.0, STEPS)
        cases = np.repeat(np.arange(len(rest)), STEPS)
        station, speed = (one.reshape(times.shape) for one in motion.states(times.ravel(), cases))
        holds = _holds(plan, trigger, motion, station, speed)
        begins = holds[:, 1:] & ~holds[:, :-1]
        step, row = begins.argmax(axis=1), np.arange(len(rest))
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
