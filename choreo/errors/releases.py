"""Other ways of releasing a mover, on the same errors and the same drawn runs.

Each way is set so that by plan it releases at the same moment: its setting is read off the planned motion of the one
that is watched.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace

import numpy as np

from choreo.errors.draws import Draws
from choreo.errors.monte_carlo import simulate_runs
from choreo.errors.outcomes import Outcomes
from choreo.errors.sources import sources_of
from choreo.errors.stage import Stage, stage_of
from choreo.errors.statistics import chance_of
from choreo.geometry import Path
from choreo.plans.errors_record import Chance
from choreo.plans.record import Plan, TriggerPlan
from choreo.plans.releases_record import Release, Releases
from choreo.scenario import ErrorSource, Mover, Phase, Scenario, Span, Trigger
from choreo.scenario.records.in_step import InStep
from choreo.track.motion import motion_of
from choreo.words.kinds import CONDITIONS, MEASURES, PHASES, Condition
from choreo.words.records import dataclass

# Of one that is let go in step: common practice, no source.
CORRECTION_RATIO, FROZEN_S, SAMPLING_HZ = 0.10, 0.5, 100.0
# A speed that changes by less (m/s2) is held, and sets off nothing.
HELD_MPS2 = 0.05
# The ways that are compared; a gap only where it is the scenario's own.
COMPARED: tuple[Condition, ...] = tuple(one for one, of in CONDITIONS.items() if not of.to_mover)
# The condition that counts a place on its path.
PLACE: Condition = next(one for one, of in CONDITIONS.items() if of.anywhere)


@dataclass(frozen=True, slots=True)
class Drawing:
    """How many runs are drawn, from which seed, by points of low discrepancy or not, in how many processes."""

    runs: int
    seed: int
    quasi: bool = False
    jobs: int = 1

    def simulated(
        self, stage: Stage, sources: tuple[ErrorSource, ...]
    ) -> Iterator[tuple[Draws, Outcomes]]:
        """Give what was drawn and what came of it, chunk after chunk."""
        return simulate_runs(stage, sources, self.runs, self.seed, jobs=self.jobs, quasi=self.quasi)


@dataclass(frozen=True)
class _Staged:
    """One way, ready to be run: scenario and plan with it; or why it can't be."""

    release: Release
    scenario: Scenario
    plan: Plan


def releases_of(
    scenario: Scenario,
    paths: Mapping[str, Path],
    plan: Plan,
    drawing: Drawing,
    *,
    only_given: bool = False,
    progress: Callable[[str], None] | None = None,
) -> tuple[Releases, ...]:
    """Compare the ways of releasing each mover that a trigger or another one's progress releases.

    scenario: as its ground lets it be driven; paths: by mover. drawing: the same runs are drawn for each way.
    """
    found = []
    for name, mover in scenario.movers.items():
        trigger = _trigger_of(scenario, plan, name, mover)
        encounter = _encounter_of(plan, name)
        if trigger is None or encounter is None:
            continue
        ways = []
        for way in _ways(scenario, plan, name, trigger):
            if progress is not None:
                progress(f"{name} released by {way.release.name}")
            if way.release.why_not is None:
                stage = stage_of(way.scenario, paths, way.plan)
                told = _told(stage, encounter, drawing, only_given=only_given)
                ways.append(replace(way.release, spread=told[0], chance=told[1]))
            else:
                ways.append(way.release)
        found.append(_sorted(plan, name, trigger[1].watch, encounter, ways))
    return tuple(found)


def _sorted(plan: Plan, mover: str, watched: str, encounter: str, ways: list[Release]) -> Releases:
    """The best first: by the chance, then by the spread; what can't be last."""

    def rank(one: Release) -> tuple[float, float]:
        if one.chance is None:
            return (math.inf, math.inf)
        return (-one.chance.ratio, math.inf if one.spread is None else one.spread)

    ordered = tuple(sorted(ways, key=rank))
    own = next(one for one in ordered if one.own)
    best = ordered[0]
    loss = 0.0
    if own.chance is not None and best.chance is not None:
        loss = best.chance.ratio - own.chance.ratio
    unit = MEASURES[plan.encounters[encounter].measure]
    return Releases(mover, watched, encounter, unit, ordered, loss)


def _told(
    stage: Stage, encounter: str, drawing: Drawing, *, only_given: bool
) -> tuple[float | None, Chance]:
    """Spread of an encounter's value, and the chance of a valid run."""
    sources = sources_of(stage.scenario, only_given=only_given)
    valid = met = 0
    total = squares = 0.0
    middle = stage.plan.encounters[encounter].predicted
    for _, found in drawing.simulated(stage, sources):
        valid += int(found.valid.sum())
        values = found.encounters[encounter].value
        off = values[np.isfinite(values)] - middle
        met, total, squares = met + len(off), total + float(off.sum()), squares + float(off @ off)
    spread = None
    if met > 1:
        spread = math.sqrt(max(squares - total**2 / met, 0.0) / (met - 1))
    counted = chance_of(valid, drawing.runs)
    return spread, Chance(valid, drawing.runs, counted.low, counted.high)


def _encounter_of(plan: Plan, mover: str) -> str | None:
    """The first encounter that a mover is in."""
    own = {name: one.time_s for name, one in plan.encounters.items() if mover in one.pair}
    return min(own, key=lambda name: own[name], default=None)


def _trigger_of(
    scenario: Scenario, plan: Plan, name: str, mover: Mover
) -> tuple[str, Trigger, TriggerPlan] | None:
    """The trigger that launches a mover; of one that progress launches the one that would do so at its moment."""
    by = plan.movers[name].launched_by
    if plan.movers[name].launch_kind == "trigger":
        return by, scenario.triggers[by], plan.triggers[by]
    law, planned = mover.in_step, plan.movers[name].in_step
    if law is None or planned is None or planned.launched_at_m is None:
        return None
    late_s = mover.launch_latency_s if mover.start.speed_mps == 0.0 else 0.0
    acts_s = plan.movers[name].launch_s - late_s
    crossed_s = acts_s - law.link_s - 0.5 / law.sampling_hz
    station = motion_of(plan.movers[law.mover]).state(crossed_s).station_m
    trigger = Trigger(
        law.mover, PLACE, Span.at(station), None, law.link_s, law.sampling_hz, None, (name,)
    )
    made = TriggerPlan(
        law.mover,
        PLACE,
        station,
        "m",
        station,
        crossed_s,
        law.link_s,
        law.sampling_hz,
        acts_s,
        (name,),
    )
    return f"release of {name}", trigger, made


def _ways(
    scenario: Scenario, plan: Plan, name: str, trigger: tuple[str, Trigger, TriggerPlan]
) -> Iterator[_Staged]:
    """The scenario's own way, and all others at the same moment."""
    mover = scenario.movers[name]
    by_trigger = mover.in_step is None or plan.movers[name].launch_kind == "trigger"
    if by_trigger:
        own = trigger[1].condition
        release = Release(own, trigger[2].setting, trigger[2].setting_unit, True, _needs(own))
        yield _Staged(release, scenario, plan)
        yield _in_step(scenario, plan, name, trigger[1])
        based = scenario, plan
    else:
        yield _Staged(Release(None, None, None, True, _needs(None)), scenario, plan)
        based = _waiting(scenario, plan, name, trigger)
    for condition in COMPARED:
        if not by_trigger or condition != trigger[1].condition:
            yield _by(*based, trigger, condition)


def _by(
    scenario: Scenario,
    plan: Plan,
    trigger: tuple[str, Trigger, TriggerPlan],
    condition: Condition,
) -> _Staged:
    """Released by another condition."""
    name, written, planned = trigger
    unit = CONDITIONS[condition].unit
    to = _counts_down_to(plan, written, planned)
    setting = _setting(plan, planned, condition, to)
    if isinstance(setting, str):
        release = Release(condition, None, unit, False, _needs(condition), why_not=setting)
        return _Staged(release, scenario, plan)
    release = Release(condition, setting, unit, False, _needs(condition))
    target = to if CONDITIONS[condition].to_encounter else None
    changed = replace(
        written, condition=condition, setting=Span.at(setting), to=target, during=None
    )
    set_so = replace(planned, condition=condition, setting=setting, setting_unit=unit, to=target)
    return _Staged(
        release,
        replace(scenario, triggers={**scenario.triggers, name: changed}),
        replace(plan, triggers={**plan.triggers, name: set_so}),
    )


def _counts_down_to(plan: Plan, written: Trigger, planned: TriggerPlan) -> str | None:
    """The encounter that a distance would count down to: its own, else one with whom it releases, else the first."""
    if written.to is not None and CONDITIONS[written.condition].to_encounter:
        return written.to
    own = [name for name, one in plan.encounters.items() if written.watch in one.pair]
    own.sort(key=lambda name: plan.encounters[name].time_s)
    with_them = [name for name in own if plan.encounters[name].pair & set(planned.acts_on)]
    return next(iter((*with_them, *own)), None)


def _setting(plan: Plan, planned: TriggerPlan, condition: Condition, to: str | None) -> float | str:
    """What a condition reads at the moment by plan; or why it can't release then."""
    watch = planned.watch
    state = motion_of(plan.movers[watch]).state(planned.time_s)
    left_m = None
    if to is not None:
        met = plan.encounters[to]
        left_m = (met.station_of_m if met.of == watch else met.station_with_m) - state.station_m
    facts = CONDITIONS[condition]
    if facts.by_clock:
        return planned.time_s if planned.time_s >= 0.0 else "it would have to be before go"
    if facts.to_encounter:
        if left_m is None:
            return f"{watch} is in no encounter"
        if state.speed_mps <= 0.0:
            return f"{watch} stands then"
        if left_m <= 0.0:
            return f"{watch} has no way left to it then"
        return left_m if facts.unit == "m" else left_m / state.speed_mps
    if facts.unit == "m":
        return state.station_m if state.speed_mps > 0.0 else f"{watch} stands then"
    held = abs(state.accel_mps2) < HELD_MPS2
    return f"{watch} holds its speed then" if held else state.speed_mps


def _needs(condition: Condition | None) -> str:
    """What it takes, of the one that is watched."""
    if condition is None:
        return "a link that never breaks"
    facts = CONDITIONS[condition]
    if facts.by_clock:
        return "a common clock"
    if facts.to_mover:
        return "both positions, linked"
    if facts.unit == "m":
        return "its position"
    return "its position and its measured speed" if facts.to_encounter else "its measured speed"


def _in_step(scenario: Scenario, plan: Plan, name: str, trigger: Trigger) -> _Staged:
    """Let go in step with the one that is watched, with the trigger's latency as that of the link."""
    mover, watch = scenario.movers[name], trigger.watch
    encounter = _encounter_of(plan, name)
    met_s = plan.encounters[encounter].time_s if encounter is not None else 0.0
    phases = _phases_until(plan, name, met_s)
    why_not = None
    if watch == name:
        why_not = "it is watched itself"
    elif scenario.movers[watch].in_step is not None:
        why_not = f"{watch} goes in step itself"
    elif not phases or PHASES[phases[-1].kind].changes_speed:
        why_not = "it holds no speed when they meet"
    release = Release(None, None, None, False, _needs(None), why_not=why_not)
    if why_not is not None:
        return _Staged(release, scenario, plan)
    law = InStep(
        watch,
        tuple(one.name for one in phases),
        CORRECTION_RATIO,
        trigger.latency_s,
        SAMPLING_HZ,
        FROZEN_S,
    )
    free = replace(mover, programme=mover.programme[1:], in_step=law)
    return _Staged(release, *_with(scenario, plan, name, free, -1))


def _waiting(
    scenario: Scenario, plan: Plan, name: str, trigger: tuple[str, Trigger, TriggerPlan]
) -> tuple[Scenario, Plan]:
    """The same mover by the clock, launched by a trigger."""
    mover = scenario.movers[name]
    wait = Phase("wait", f"{trigger[0]} waited for", for_trigger=trigger[0])
    bound = replace(mover, programme=(wait, *mover.programme), in_step=None)
    scenario, plan = _with(scenario, plan, name, bound, 1)
    return (
        replace(scenario, triggers={**scenario.triggers, trigger[0]: trigger[1]}),
        replace(plan, triggers={**plan.triggers, trigger[0]: trigger[2]}),
    )


def _with(
    scenario: Scenario, plan: Plan, name: str, mover: Mover, later: int
) -> tuple[Scenario, Plan]:
    """Scenario and plan with another programme of a mover, whose phases come that many places later."""
    planned = plan.movers[name]
    pieces = tuple(
        replace(one, phase_index=None if one.phase_index is None else one.phase_index + later)
        for one in planned.pieces
    )
    changed = replace(planned, pieces=pieces)
    return (
        replace(scenario, movers={**scenario.movers, name: mover}),
        replace(plan, movers={**plan.movers, name: changed}),
    )


def _phases_until(plan: Plan, name: str, time_s: float) -> list[Phase]:
    """The phases after the wait up to the one in which a time falls."""
    planned = plan.movers[name]
    begun = {
        piece.phase for piece in planned.pieces if piece.start_s < time_s and piece.duration_s > 0
    }
    return [
        Phase(one.kind, one.name)
        for index, one in enumerate(planned.phases)
        if index > 0 and one.name in begun
    ]
