"""When triggers act in many runs: on what is measured, at the sample that shows it, after the latency.

The instants of sampling are drawn as the delay from the crossing to the next sample, uniform over a period: as likely
as those of a clock whose phase is drawn, and the same whatever else is off in that run.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import assert_never

import numpy as np
from numpy.typing import NDArray

from choreo.errors.draws import Draws
from choreo.errors.gaps import Gaps
from choreo.errors.laying import Spans
from choreo.errors.motions import NEVER_S, RunMotion
from choreo.errors.stage import Stage
from choreo.scenario import Trigger
from choreo.words.kinds import CONDITIONS
from choreo.words.records import dataclass

Floats = NDArray[np.float64]

# Newton's steps towards the moment of a gap, and the least speed (m/s) at which one changes.
STEPS = 30
LEAST_MPS = 1e-3
# A gap that differs by less than this (m) has been reached.
REACHED_M = 1e-9


@dataclass(frozen=True, slots=True)
class Watched:
    """Motions and phases of all movers as they are known so far."""

    motions: Mapping[str, RunMotion]
    spans: Mapping[str, Spans]


def acts_of(stage: Stage, name: str, draws: Draws, watched: Watched) -> tuple[Floats, Floats]:
    """Give when a trigger's setting is truly crossed and when it acts, in s, each of shape (runs,)."""
    trigger = stage.scenario.triggers[name]
    crossed = _crossed_s(stage, name, trigger, watched)
    sampling, latency = draws.of("sampling", name), draws.of("latency", name)
    delay = 0.5 / trigger.sampling_hz + (0.0 if sampling is None else sampling)
    late = trigger.latency_s + (0.0 if latency is None else latency)
    acts = crossed + np.maximum(delay, 0.0) + np.maximum(late, 0.0)
    return crossed, np.where(crossed < NEVER_S, acts, NEVER_S)


def _crossed_s(stage: Stage, name: str, trigger: Trigger, watched: Watched) -> Floats:
    motion, spans = watched.motions[trigger.watch], watched.spans[trigger.watch]
    setting = stage.plan.triggers[name].setting
    armed, until = np.zeros(motion.runs), np.full(motion.runs, NEVER_S)
    if trigger.during is not None:
        programme = stage.scenario.movers[trigger.watch].programme
        index = next(i for i, one in enumerate(programme) if one.name == trigger.during)
        armed, until = spans[index]
    measured = motion.position_m
    match trigger.condition:
        case "station":
            return motion.first_s((1.0, 0.0), measured - setting, armed, until)
        case "distance":
            left = measured + setting - target_m(stage, trigger)
            return motion.first_s((1.0, 0.0), left, armed, until)
        case "time to collision":
            # distance <= setting * speed: standing still needs no division.
            left = measured - target_m(stage, trigger)
            return motion.first_s((1.0, setting), left, armed, until)
        case "gap":
            return _gap_crossed_s(stage, name, trigger, watched, (armed, until))
        case "speed":
            rising = np.where(motion.states(armed)[1] <= setting, 1.0, -1.0)
            return motion.first_s((0.0, rising), -rising * setting, armed, until)
        case "time":
            reached = np.maximum(setting, armed)
            return np.where(reached <= until, reached, NEVER_S)
        case _:
            assert_never(trigger.condition)


def target_m(stage: Stage, trigger: Trigger) -> float:
    """Give the watched mover's planned station at the encounter that a trigger counts down to, in m."""
    own = [
        name
        for name, one in stage.scenario.encounters.items()
        if trigger.watch in (one.of, one.with_)
    ]
    planned = stage.plan.encounters[trigger.to or own[0]]
    return planned.station_of_m if planned.of == trigger.watch else planned.station_with_m


def _gap_crossed_s(
    stage: Stage, name: str, trigger: Trigger, watched: Watched, window: tuple[Floats, Floats]
) -> Floats:
    """Newton's steps from the planned moment: a gap falls or rises to its setting once there."""
    if not CONDITIONS[trigger.condition].to_mover or trigger.to is None:
        raise AssertionError("a gap is measured to another mover")
    planned = stage.plan.triggers[name]
    behind, ahead = watched.motions[trigger.watch], watched.motions[trigger.to]
    gaps = Gaps.planned(stage, trigger.watch, trigger.to, planned.time_s, planned.setting)
    time_s = np.clip(np.full(behind.runs, planned.time_s), *window)
    for _ in range(STEPS):
        gap, closing, _ = gaps.measured(behind, ahead, time_s)
        off = gap - planned.setting
        if not (np.abs(off) > REACHED_M).any():
            break
        safe = np.where(np.abs(closing) > LEAST_MPS, closing, np.copysign(LEAST_MPS, closing))
        time_s = np.clip(time_s + off / safe, *window)
    gap, _, _ = gaps.measured(behind, ahead, time_s)
    at_first = time_s <= window[0]
    reached = (np.abs(gap - planned.setting) <= 1e3 * REACHED_M) | at_first
    return np.where(reached & (time_s <= window[1]), time_s, NEVER_S)
