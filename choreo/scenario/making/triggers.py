"""Triggers as written -> records."""

from __future__ import annotations

from choreo.scenario.making.draft import Draft
from choreo.scenario.records.scenario import Span, Trigger
from choreo.scenario.text.document import Keys
from choreo.scenario.written import scenario as w
from choreo.words.kinds import CONDITIONS, Condition


def trigger_of(draft: Draft, name: str, written: w.TriggerWritten) -> Trigger | None:
    """Make a trigger; who waits for it is filled in later."""
    keys: Keys = ("triggers", name, "when")
    chosen = draft.one_of(keys, f"trigger `{name}`", written.when.by_condition())
    if chosen is None:
        return None
    condition, setting = chosen
    if condition in ("gap", "speed") and not setting.fixed:
        setting = Span(max(setting.lo, 0.0), setting.hi)
    return Trigger(
        written.watch,
        condition,
        setting,
        _to(draft, name, condition, written),
        written.latency.planned_s,
        written.sampling,
        written.during,
    )


def _to(draft: Draft, name: str, condition: Condition, written: w.TriggerWritten) -> str | None:
    """What it counts to: a mover stands beside the condition, an encounter beside the trigger's other keys."""
    keys: Keys = ("triggers", name)
    mover = written.when.to
    if not CONDITIONS[condition].to_mover:
        if mover is not None:
            first, second = f"`{condition}`", "`to` in `when`"
            draft.fault(
                "scenario.not-together",
                (*keys, "when", "to"),
                where=f"trigger `{name}`",
                first=first,
                second=second,
            )
        return written.to
    if mover is None:
        where = f"`when` of trigger `{name}`: the mover that the {condition} is measured to"
        draft.fault("scenario.missing-key", (*keys, "when"), key="to", where=where)
    elif written.to is not None:
        first, second = f"`{condition}`", "a `to` beside `when`"
        draft.fault(
            "scenario.not-together",
            (*keys, "to"),
            where=f"trigger `{name}`",
            first=first,
            second=second,
        )
    return mover
