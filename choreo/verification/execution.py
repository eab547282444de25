"""Runs all scripts together: triggers are detected on simulated motion and launch what waits for
them.

The earliest trigger among those still waiting is settled first: nothing that acts later can
change what came before it, so movers may watch each other in any order, even themselves.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from choreo.geometry import Path
from choreo.plans.record import Plan
from choreo.scenario import Scenario, Trigger
from choreo.verification.ahead import Ahead
from choreo.verification.crossing import crossing_s
from choreo.verification.integration import Motion, integrate
from choreo.verification.script import Script, ScriptPhase
from choreo.words.kinds import CONDITIONS

# A detection comes between 0 and 1 sampling periods after the crossing: the plan counts on the mean.
NOMINAL_DELAY = 0.5
SPREAD_DELAYS = (0.0, 1.0)


class PhaseSpan(NamedTuple):
    """Start and end of a phase in seconds after go; inf where it is never reached or never ends."""

    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True, eq=False)
class Run:
    """One simulated run: motions, phase spans by programme index, trigger crossings and actions."""

    motions: Mapping[str, Motion]
    spans: Mapping[str, Mapping[int, PhaseSpan]]
    crossings_s: Mapping[str, float]
    acts_s: Mapping[str, float]

    @property
    def end_s(self) -> float:
        """Give the time in s at which the last mover ends its programme."""
        return max((motion.end_s for motion in self.motions.values()), default=0.0)


class Settings(NamedTuple):
    """A trigger's numbers as the plan sets them; target_m: the watched mover's station at the encounter."""

    setting: float
    target_m: float | None


def execute(
    scenario: Scenario,
    paths: Mapping[str, Path],
    scripts: Mapping[str, Script],
    settings: Mapping[str, Settings],
    *,
    horizon_s: float,
    delay_periods: float = NOMINAL_DELAY,
) -> Run:
    """Run all scripts from go.

    paths: by mover. settings: by trigger. horizon_s: until when phases that wait for a trigger are followed.
    delay_periods: detection delay after the true crossing, in sampling periods (0 to 1).
    """
    acts: dict[str, float] = {}
    crossings: dict[str, float] = {}
    performed = {name: _perform(script, acts, horizon_s) for name, script in scripts.items()}
    pending = [name for name in scenario.triggers if name in settings]
    while pending:
        candidates = {
            name: _crossing(scenario, paths, name, settings[name], performed) for name in pending
        }
        acting = {
            name: crossing + _delay_s(scenario.triggers[name], delay_periods)
            for name, crossing in candidates.items()
        }
        first = min(pending, key=lambda name: acting[name])
        if not np.isfinite(acting[first]):
            break
        acts[first], crossings[first] = acting[first], candidates[first]
        pending.remove(first)
        for name, script in scripts.items():
            if first in script.triggers:
                performed[name] = _perform(script, acts, horizon_s)
    return Run(
        {name: motion for name, (motion, _) in performed.items()},
        {name: spans for name, (_, spans) in performed.items()},
        crossings,
        acts,
    )


def settings_of(scenario: Scenario, plan: Plan) -> dict[str, Settings]:
    """Read the triggers' settings off the plan, with the station each counts down to."""
    settings = {}
    for name, trigger in scenario.triggers.items():
        planned = plan.triggers.get(name)
        if planned is not None:
            target = target_m(scenario, plan, trigger)
            settings[name] = Settings(planned.setting, target)
    return settings


def target_m(scenario: Scenario, plan: Plan, trigger: Trigger) -> float | None:
    """Give the watched mover's station at the encounter a trigger counts down to, None without one."""
    own = [
        name
        for name, encounter in scenario.encounters.items()
        if trigger.watch in (encounter.of, encounter.with_)
    ]
    name = trigger.to or (own[0] if len(own) == 1 else None)
    planned = plan.encounters.get(name) if name is not None else None
    if planned is None:
        return None
    return planned.station_of_m if planned.of == trigger.watch else planned.station_with_m


def _delay_s(trigger: Trigger, periods: float) -> float:
    return periods / trigger.sampling_hz + trigger.latency_s


def _crossing(
    scenario: Scenario,
    paths: Mapping[str, Path],
    name: str,
    settings: Settings,
    performed: Mapping[str, tuple[Motion, Mapping[int, PhaseSpan]]],
) -> float:
    trigger = scenario.triggers[name]
    if trigger.watch not in performed:
        return np.inf
    motion, spans = performed[trigger.watch]
    armed = PhaseSpan(0.0, np.inf)
    if trigger.during is not None:
        programme = scenario.movers[trigger.watch].programme
        index = next(i for i, phase in enumerate(programme) if phase.name == trigger.during)
        armed = spans.get(index, PhaseSpan(np.inf, np.inf))
    motions = {name: one for name, (one, _) in performed.items()}
    return crossing_s(
        motion,
        trigger.condition,
        settings.setting,
        settings.target_m,
        armed.start_s,
        armed.end_s,
        _ahead(scenario, paths, trigger, motions),
    )


def _ahead(
    scenario: Scenario,
    paths: Mapping[str, Path],
    trigger: Trigger,
    motions: Mapping[str, Motion],
) -> Ahead | None:
    """The mover that a trigger's gap is measured to; None where it counts something else."""
    a, b = trigger.watch, trigger.to
    if not CONDITIONS[trigger.condition].to_mover or b is None or b not in motions:
        return None
    bodies = scenario.movers[a].body, scenario.movers[b].body
    ways = scenario.movers[a].path, scenario.movers[b].path
    one_path = ways[0] is not None and ways[0] == ways[1]
    return Ahead(paths[a], bodies[0], motions[a], paths[b], bodies[1], motions[b], one_path)


def _perform(
    script: Script, acts: Mapping[str, float], horizon_s: float
) -> tuple[Motion, dict[int, PhaseSpan]]:
    """Lay the phases one after another; one that waits for a trigger not yet seen lasts to the horizon."""
    spans: dict[int, PhaseSpan] = {}
    launch = script.launch_s
    if script.launch_trigger is not None:
        launch = acts.get(script.launch_trigger, np.inf) + script.launch_late_s
    if script.launch_phase is not None:
        spans[script.launch_phase] = PhaseSpan(0.0, launch)
    if not np.isfinite(launch):
        return integrate(script.start_m, script.start_mps, horizon_s, (), (), ()), spans
    now = launch
    commands: list[tuple[float, float, float]] = []
    for phase in script.phases:
        ends = now + sum(phase.durations_s)
        if phase.ended_by is not None:
            ends = acts.get(phase.ended_by, np.inf) + phase.late_s
        elif phase.ends_at_s is not None:
            ends = phase.ends_at_s
        lasting = max(0.0, min(ends, max(horizon_s, now)) - now)
        timed = phase.ended_by is not None or phase.ends_at_s is not None
        commands += _lasting(phase, lasting) if timed else _given(phase)
        spans[phase.index] = PhaseSpan(now, max(ends, now))
        now += lasting
        if not np.isfinite(ends):
            break
    durations, accels, jerks = zip(*commands, strict=True) if commands else ((), (), ())
    return integrate(script.start_m, script.start_mps, launch, durations, accels, jerks), spans


def _given(phase: ScriptPhase) -> list[tuple[float, float, float]]:
    return list(zip(phase.durations_s, phase.accels_mps2, phase.jerks_mps3, strict=True))


def _lasting(phase: ScriptPhase, lasting_s: float) -> list[tuple[float, float, float]]:
    """The phase's commands cut or stretched to a duration: the last command is the one that waits."""
    given = _given(phase) or [(0.0, 0.0, 0.0)]
    commands, left = [], lasting_s
    for duration, accel, jerk in given[:-1]:
        commands.append((min(duration, left), accel, jerk))
        left -= commands[-1][0]
    return [*commands, (left, given[-1][1], given[-1][2])]
