"""A solution as a Plan: marks, events, pieces, triggers, encounters, instants, runway, peaks."""

from __future__ import annotations

from choreo.plans.record import PLAN_FORMAT, Plan, TriggerPlan
from choreo.scenario import Scenario
from choreo.solve.attempts import Solved
from choreo.solve.plan_source import Source, source_of
from choreo.solve.to_plan_encounters import encounter_plan
from choreo.solve.to_plan_instants import instant_plan
from choreo.solve.to_plan_movers import mover_plan
from choreo.words.kinds import CONDITIONS


def plan_of(scenario: Scenario, solved: Solved, fingerprint: str, *, peaks: bool = True) -> Plan:
    """Write a solution as a plan without verdict: it stays 'undecided' until verified.

    fingerprint: of the scenario. peaks: those of the motions are wanted, else they are zero. The predicted values are
    the wanted ones; the verifier's replace them.
    """
    source = source_of(scenario, solved)
    problem = source.problem
    return Plan(
        format=PLAN_FORMAT,
        verdict="undecided",
        title=scenario.title,
        prefer=scenario.prefer,
        fingerprint=fingerprint,
        movers={mover.name: mover_plan(source, mover, peaks=peaks) for mover in problem.movers},
        triggers={
            trigger.name: _trigger_plan(source, trigger.name) for trigger in problem.triggers
        },
        encounters={name: encounter_plan(source, name) for name in scenario.encounters},
        instants={one.name: instant_plan(source, one.name) for one in problem.instants},
    )


def _trigger_plan(source: Source, name: str) -> TriggerPlan:
    trigger, reading = source.scenario.triggers[name], source.reading.triggers[name]
    facts = CONDITIONS[trigger.condition]
    return TriggerPlan(
        watch=trigger.watch,
        condition=trigger.condition,
        # A time counts from go; everything else is the same on any clock.
        setting=reading.setting - source.zero_s if facts.by_clock else reading.setting,
        setting_unit=facts.unit,
        station_m=None if facts.by_clock else reading.station_m,
        time_s=reading.crossing_s - source.zero_s,
        latency_s=trigger.latency_s,
        sampling_hz=trigger.sampling_hz,
        acts_at_s=reading.acts_s - source.zero_s,
        acts_on=trigger.acts_on,
        to=trigger.to,
    )
