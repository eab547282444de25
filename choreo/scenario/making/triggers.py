"""Triggers as written -> records."""

from __future__ import annotations

from choreo.scenario.making.draft import Draft
from choreo.scenario.records.scenario import Span, Trigger
from choreo.scenario.text.document import Keys
from choreo.scenario.written import scenario as w


def trigger_of(draft: Draft, name: str, written: w.TriggerWritten) -> Trigger | None:
    """Make a trigger; who waits for it is filled in later."""
    keys: Keys = ("triggers", name, "when")
    chosen = draft.one_of(keys, f"trigger `{name}`", written.when.by_condition())
    if chosen is None:
        return None
    condition, setting = chosen
    if condition == "speed" and not setting.fixed:
        setting = Span(max(setting.lo, 0.0), setting.hi)
    return Trigger(
        written.watch,
        condition,
        setting,
        written.to,
        written.latency,
        written.sampling,
        written.during,
    )
