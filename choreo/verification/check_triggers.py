"""Is every trigger set as the scenario allows, reached when the plan says, by a settled mover?"""

from __future__ import annotations

from collections.abc import Mapping

from choreo.plans.record import Plan, TriggerPlan
from choreo.scenario import Scenario, Trigger
from choreo.verification.execute import Run
from choreo.verification.ledger import Ledger
from choreo.verification.script import Script
from choreo.verification.tolerances import DRIFT, TIME_S

NEEDS_SETTLED = ("station", "distance", "time to collision")


def check_triggers(ledger: Ledger, plan: Plan, scripts: Mapping[str, Script], run: Run) -> None:
    """Check all triggers in the nominal run."""
    for name, trigger in ledger.scenario.triggers.items():
        planned = plan.triggers[name]
        _check_setting(ledger, name, trigger, planned)
        if name not in run.acts_s:
            ledger.error("trigger-never", "triggers", name, trigger=name, watch=trigger.watch)
            continue
        _check_times(ledger, name, trigger.watch, planned, run)
        if trigger.condition in NEEDS_SETTLED:
            _check_settled(ledger, name, trigger, scripts[trigger.watch], run)


def _check_setting(ledger: Ledger, name: str, trigger: Trigger, planned: TriggerPlan) -> None:
    if not trigger.setting.lo - DRIFT <= planned.setting <= trigger.setting.hi + DRIFT:
        ledger.error(
            "trigger-setting",
            "triggers",
            name,
            "when",
            trigger=name,
            setting=planned.setting,
            least=trigger.setting.lo,
            most=trigger.setting.hi,
        )
    told: dict[str, tuple[str | float, str | float]] = {
        "watch": (planned.watch, trigger.watch),
        "when": (planned.condition, trigger.condition),
        "latency": (planned.latency_s, trigger.latency_s),
        "sampling": (planned.sampling_hz, trigger.sampling_hz),
    }
    for key, (value, wanted) in told.items():
        if value != wanted:
            ledger.error(
                "trigger-differs",
                "triggers",
                name,
                key,
                trigger=name,
                what=key,
                told=value,
                wanted=wanted,
            )
    waiting = set(_waiting(ledger.scenario, name))
    if set(planned.acts_on) != waiting:
        ledger.error(
            "trigger-differs",
            "triggers",
            name,
            trigger=name,
            what="acts on",
            told=", ".join(sorted(planned.acts_on)),
            wanted=", ".join(sorted(waiting)),
        )


def _waiting(scenario: Scenario, trigger: str) -> list[str]:
    """Movers with a wait for the trigger or a hold until it."""
    return [
        name
        for name, mover in scenario.movers.items()
        for phase in mover.programme
        if (phase.kind == "wait" and phase.for_trigger == trigger)
        or (
            phase.kind == "hold"
            and phase.until is not None
            and (phase.until.kind, phase.until.name) == ("trigger", trigger)
        )
    ]


def _check_times(ledger: Ledger, name: str, watch: str, planned: TriggerPlan, run: Run) -> None:
    for what, told, found in (
        ("crosses its setting", planned.time_s, run.crossings_s[name]),
        ("acts", planned.acts_at_s, run.acts_s[name]),
    ):
        if abs(told - found) > TIME_S:
            ledger.error(
                "trigger-time",
                "triggers",
                name,
                trigger=name,
                what=what,
                told_s=told,
                found_s=found,
                late_s=found - told,
            )
            return
    if planned.station_m is None:
        return
    station_m, speed_mps = run.motions[watch].state(run.crossings_s[name])
    if abs(planned.station_m - station_m) > DRIFT + speed_mps * TIME_S:
        ledger.error(
            "trigger-station",
            "triggers",
            name,
            trigger=name,
            told_m=planned.station_m,
            found_m=station_m,
        )


def _check_settled(ledger: Ledger, name: str, trigger: Trigger, script: Script, run: Run) -> None:
    crossing_s = run.crossings_s[name]
    spans = run.spans[script.name]
    if trigger.during is not None and not _is_hold(script, trigger.during):
        return  # the author asked for it while the speed changes
    steady_s, wanted_s = 0.0, 0.0
    for phase in script.phases:
        span = spans.get(phase.index)
        if span is None or phase.phase.kind != "hold":
            continue
        if span.start_s - TIME_S <= crossing_s <= span.end_s + TIME_S:
            steady_s, wanted_s = crossing_s - span.start_s, phase.phase.settle_s
            if steady_s >= wanted_s - TIME_S:
                return
    ledger.error(
        "trigger-unsettled",
        "triggers",
        name,
        trigger=name,
        watch=trigger.watch,
        time_s=crossing_s,
        steady_s=max(steady_s, 0.0),
        wanted_s=wanted_s,
    )


def _is_hold(script: Script, phase: str) -> bool:
    return any(one.phase.name == phase and one.phase.kind == "hold" for one in script.phases)
