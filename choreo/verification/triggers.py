"""Is every trigger set as the scenario allows, reached when the plan says, by a settled mover?"""

from __future__ import annotations

from collections.abc import Mapping

from choreo.plans.record import Plan, TriggerPlan
from choreo.scenario import Scenario, Trigger
from choreo.verification.execution import Run
from choreo.verification.ledger import Ledger
from choreo.verification.script import Script, ending_trigger
from choreo.verification.tolerances import DRIFT, TIME_S
from choreo.words.kinds import CONDITIONS


def check_triggers(ledger: Ledger, plan: Plan, scripts: Mapping[str, Script], run: Run) -> None:
    """Check all triggers in the nominal run."""
    for name, trigger in ledger.scenario.triggers.items():
        planned = plan.triggers[name]
        _check_setting(ledger, name, trigger, planned)
        if name not in run.acts_s:
            ledger.error("trigger-never", "triggers", name, trigger=name, watch=trigger.watch)
            continue
        _check_times(ledger, name, trigger.watch, planned, run)
        watched = ledger.scenario.movers[trigger.watch]
        if CONDITIONS[trigger.condition].settled and not trigger.anywhere(watched):
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
    recorded: dict[str, tuple[str | float | None, str | float | None]] = {
        "watch": (planned.watch, trigger.watch),
        "when": (planned.condition, trigger.condition),
        "to": (planned.to, trigger.to),
        "unit": (planned.setting_unit, CONDITIONS[trigger.condition].unit),
        "latency": (planned.latency_s, trigger.latency_s),
        "sampling": (planned.sampling_hz, trigger.sampling_hz),
    }
    for key, (value, wanted) in recorded.items():
        if value != wanted:
            ledger.error(
                "trigger-differs",
                "triggers",
                name,
                key,
                trigger=name,
                what=key,
                planned=_named(value),
                wanted=_named(wanted),
            )
    waiting = set(_waiting(ledger.scenario, name))
    if set(planned.acts_on) != waiting:
        ledger.error(
            "trigger-differs",
            "triggers",
            name,
            trigger=name,
            what="acts on",
            planned=", ".join(sorted(planned.acts_on)),
            wanted=", ".join(sorted(waiting)),
        )


def _named(value: str | float | None) -> str | float:
    return "none" if value is None else value


def _waiting(scenario: Scenario, trigger: str) -> list[str]:
    """Movers with a wait for the trigger or a hold until it."""
    return [
        name
        for name, mover in scenario.movers.items()
        for phase in mover.programme
        if ending_trigger(phase) == trigger
    ]


def _check_times(ledger: Ledger, name: str, watch: str, planned: TriggerPlan, run: Run) -> None:
    for what, recorded_s, found_s in (
        ("crosses its setting", planned.time_s, run.crossings_s[name]),
        ("acts", planned.acts_at_s, run.acts_s[name]),
    ):
        if abs(recorded_s - found_s) > TIME_S:
            ledger.error(
                "trigger-time",
                "triggers",
                name,
                trigger=name,
                what=what,
                planned_s=recorded_s,
                found_s=found_s,
                late_s=found_s - recorded_s,
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
            planned_m=planned.station_m,
            found_m=station_m,
        )


def _check_settled(ledger: Ledger, name: str, trigger: Trigger, script: Script, run: Run) -> None:
    crossing_s = run.crossings_s[name]
    spans = run.spans[script.name]
    if trigger.during is not None and not script.holds_in(trigger.during):
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
