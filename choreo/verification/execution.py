"""Runs all scripts together: triggers are detected on simulated motion and launch what waits for
them.

The earliest trigger among those still waiting is settled first: nothing that acts later can
change what came before it, so movers may watch each other in any order, even themselves.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType
from typing import NamedTuple

from choreo.geometry import Path
from choreo.plans.record import Plan
from choreo.scenario import Scenario, Trigger
from choreo.verification.ahead import Ahead
from choreo.verification.crossing import crossing_s
from choreo.verification.integration import Motion
from choreo.verification.performing import Performed, PhaseSpan, Planned, Stepping, perform
from choreo.verification.script import Script
from choreo.words.kinds import CONDITIONS
from choreo.words.records import dataclass

# A detection comes between 0 and 1 sampling periods after the crossing: the plan counts on the mean.
NOMINAL_DELAY = 0.5
SPREAD_DELAYS = (0.0, 1.0)
NOTHING: Mapping[str, Planned] = MappingProxyType({})


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
    planned: Mapping[str, Planned] = NOTHING,
) -> Run:
    """Run all scripts from go.

    paths: by mover. settings: by trigger. horizon_s: until when phases that wait for a trigger are followed.
    delay_periods: detection delay after the true crossing, in sampling periods (0 to 1). planned: by mover, what it
    does by plan, which those who go in step refer to.
    """
    acts: dict[str, float] = {}
    crossings: dict[str, float] = {}
    performed: dict[str, Performed] = {}
    order = _in_order(scenario, scripts)
    for name in order:
        stepping = _stepping(scenario, name, planned, performed)
        performed[name] = perform(scripts[name], acts, horizon_s, stepping)
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
        if not math.isfinite(acting[first]):
            break
        acts[first], crossings[first] = acting[first], candidates[first]
        pending.remove(first)
        for name in order:
            stepping = _stepping(scenario, name, planned, performed)
            if first in scripts[name].triggers or stepping is not None:
                performed[name] = perform(scripts[name], acts, horizon_s, stepping)
    return Run(
        {name: motion for name, (motion, _) in performed.items()},
        {name: spans for name, (_, spans) in performed.items()},
        crossings,
        acts,
    )


def _in_order(scenario: Scenario, scripts: Mapping[str, Script]) -> list[str]:
    """All movers, whoever goes in step after the one whom it goes in step with."""
    order: list[str] = []
    rest = list(scripts)
    while rest:
        laws = {name: scenario.movers[name].in_step for name in rest}
        free = [name for name, law in laws.items() if law is None or law.mover not in rest]
        order += free
        rest = [name for name in rest if name not in free]
    return order


def _stepping(
    scenario: Scenario,
    name: str,
    planned: Mapping[str, Planned],
    performed: Mapping[str, Performed],
) -> Stepping | None:
    mover = scenario.movers[name]
    law = mover.in_step
    if law is None or name not in planned or law.mover not in performed:
        return None
    return Stepping(mover, planned[name], planned[law.mover], performed[law.mover][0])


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
    performed: Mapping[str, Performed],
) -> float:
    trigger = scenario.triggers[name]
    if trigger.watch not in performed:
        return math.inf
    motion, spans = performed[trigger.watch]
    armed = PhaseSpan(0.0, math.inf)
    if trigger.during is not None:
        programme = scenario.movers[trigger.watch].programme
        index = next(i for i, phase in enumerate(programme) if phase.name == trigger.during)
        armed = spans.get(index, PhaseSpan(math.inf, math.inf))
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
