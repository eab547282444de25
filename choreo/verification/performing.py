"""One mover's phases laid one after another on the clock: its simulated motion, and when each phase was."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import NamedTuple

from choreo.scenario import Mover
from choreo.verification.in_step import Command, Driven, drive, progress_of
from choreo.verification.integration import Motion, integrate
from choreo.verification.script import Script, ScriptPhase
from choreo.words.records import dataclass


class PhaseSpan(NamedTuple):
    """Start and end of a phase in seconds after go; inf where it is never reached or never ends."""

    start_s: float
    end_s: float


# One whose lead is late is followed so long (s) after its own planned end.
PATIENCE_S = 5.0

Performed = tuple[Motion, dict[int, PhaseSpan]]


class Planned(NamedTuple):
    """What a mover does by plan, which those who go in step refer to."""

    script: Script
    motion: Motion


@dataclass(frozen=True, slots=True, eq=False)
class Stepping:
    """A mover that goes in step: itself, by plan, and the other one by plan and as simulated."""

    mover: Mover
    planned: Planned
    planned_lead: Planned
    lead: Motion

    def driven(
        self, script: Script, begin: tuple[float, float, float] | None, until_s: float
    ) -> Driven:
        """Drive its phases in step; begin: time in s, station and speed, None: from its launch.

        until_s: when the run ends at the latest.
        """
        law = self.mover.in_step
        if law is None:
            raise AssertionError("asked only of who goes in step")
        until_s = min(until_s, self.planned.motion.end_s + PATIENCE_S)
        progress = progress_of(law, self.planned_lead.motion, self.lead, until_s)
        if begin is None:
            launch_s = progress.when(self.planned.motion.launch_s)
            begin = (launch_s, script.start_m, script.start_mps)
        run, ends = self.planned.motion.launch_s, []
        for phase in self.planned.script.phases:
            run += sum(phase.durations_s)
            if phase.phase.name in law.phases:
                ends.append(run)
        return drive(law, self.mover.limits, self.planned.motion, progress, begin, ends)


def perform(
    script: Script,
    acts: Mapping[str, float],
    horizon_s: float,
    stepping: Stepping | None = None,
) -> Performed:
    """Lay the phases one after another; one that waits for a trigger not yet seen lasts to the horizon.

    acts: by trigger, in s after go. stepping: of one that goes in step.
    """
    spans: dict[int, PhaseSpan] = {}
    names = stepping.mover.in_step.phases if stepping and stepping.mover.in_step else ()
    at_once = bool(script.phases) and script.phases[0].phase.name in names
    driven: Driven | None = None
    launch = script.launch_s
    if script.launch_trigger is not None:
        launch = acts.get(script.launch_trigger, math.inf) + script.launch_late_s
    elif stepping is not None and at_once and script.launch_phase is None:
        driven = stepping.driven(script, None, horizon_s)
        launch = driven.begins_s
    if script.launch_phase is not None:
        spans[script.launch_phase] = PhaseSpan(0.0, launch)
    if not math.isfinite(launch):
        return integrate(script.start_m, script.start_mps, horizon_s, (), (), ()), spans
    now = launch
    commands: list[Command] = []
    slower = 1.0  # how much of the planned speed it has: its stop is as much shorter
    for phase in script.phases:
        if stepping is not None and phase.phase.name in names:
            if driven is None:
                begin = _state(script, launch, commands)
                driven = stepping.driven(script, (now, *begin), horizon_s)
            if phase.phase.name == names[0]:
                commands += driven.commands
                slower = driven.pace
            ends = driven.reached_s[names.index(phase.phase.name)]
            spans[phase.index] = PhaseSpan(now, ends)
            now = ends
            if not math.isfinite(ends):
                break
            continue
        ends = now + slower * sum(phase.durations_s)
        if phase.ended_by is not None:
            ends = acts.get(phase.ended_by, math.inf) + phase.late_s
        elif phase.ends_at_s is not None:
            ends = phase.ends_at_s
        lasting = max(0.0, min(ends, max(horizon_s, now)) - now)
        timed = phase.ended_by is not None or phase.ends_at_s is not None
        commands += _lasting(phase, lasting) if timed else _given(phase, slower)
        spans[phase.index] = PhaseSpan(now, max(ends, now))
        now += lasting
        if not math.isfinite(ends):
            break
    durations, accels, jerks = zip(*commands, strict=True) if commands else ((), (), ())
    return integrate(script.start_m, script.start_mps, launch, durations, accels, jerks), spans


def _state(script: Script, launch_s: float, commands: list[Command]) -> tuple[float, float]:
    """Station in m and speed in m/s after some commands."""
    if not commands:
        return script.start_m, script.start_mps
    durations, accels, jerks = zip(*commands, strict=True)
    motion = integrate(script.start_m, script.start_mps, launch_s, durations, accels, jerks)
    return motion.last[1:]


def _given(phase: ScriptPhase, slower: float) -> list[Command]:
    """The phase's commands; slower: of one that comes with this much of its planned speed."""
    parts = zip(phase.durations_s, phase.accels_mps2, phase.jerks_mps3, strict=True)
    return [(d * slower, a, j / slower) for d, a, j in parts]


def _lasting(phase: ScriptPhase, lasting_s: float) -> list[Command]:
    """The phase's commands cut or stretched to a duration: the last command is the one that waits."""
    given = _given(phase, 1.0) or [(0.0, 0.0, 0.0)]
    commands, left = [], lasting_s
    for duration, accel, jerk in given[:-1]:
        commands.append((min(duration, left), accel, jerk))
        left -= commands[-1][0]
    return [*commands, (left, given[-1][1], given[-1][2])]
