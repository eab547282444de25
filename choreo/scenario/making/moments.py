"""Moments that a file names -> events, and its instants."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import assert_never

from choreo.scenario.making.draft import Draft
from choreo.scenario.records.scenario import Event, Instant
from choreo.scenario.text.document import Keys
from choreo.scenario.text.repeats import counted
from choreo.scenario.written import scenario as w
from choreo.scenario.written.events import Edge, EdgeOf, EventWritten, LaunchOf, Named
from choreo.words.kinds import EventKind

PHASE_EDGES: Mapping[Edge, EventKind] = {"start": "phase start", "end": "phase end"}
MARK_EDGES: Mapping[Edge, EventKind] = {"start": "mark start", "end": "mark end"}


def instant_of(draft: Draft, name: str, written: w.InstantWritten) -> Instant | None:
    """Make a named instant."""
    before = event_of(draft, ("instants", name, "before"), written.before)
    return None if before is None else Instant(before, written.by)


def event_of(
    draft: Draft, keys: Keys, written: EventWritten | None, passing: int = 0
) -> Event | None:
    """Find out what an event expression means: encounter, trigger, instant, launch, phase, or path piece.

    passing: the pass of its repetition in which it is written; what is counted is meant by that number then.
    """
    match written:
        case None:
            return None
        case Named(name):
            kind = draft.names.get(name)
            if kind is None:
                draft.unknown(keys, "encounter, trigger or instant", name, draft.names)
                return None
            return Event(kind, name)
        case LaunchOf(mover):
            return Event("launch", None, mover) if _known(draft, keys, mover) else None
        case EdgeOf():
            known = _known(draft, keys, written.mover)
            return _edge(draft, keys, _in_pass(draft, written, passing)) if known else None
    assert_never(written)


def _known(draft: Draft, keys: Keys, mover: str) -> bool:
    if mover not in draft.movers:
        draft.unknown(keys, "mover", mover, draft.movers)
        return False
    return True


def _in_pass(draft: Draft, written: EdgeOf, passing: int) -> EdgeOf:
    """The same in a later pass: the lap of the second pass is the second lap."""
    inside = draft.movers[written.mover]
    is_counted = counted(written.name, 2) in (*inside.phases, *inside.marks)
    return replace(written, name=counted(written.name, passing)) if is_counted else written


def _edge(draft: Draft, keys: Keys, written: EdgeOf) -> Event | None:
    """The start or the end of a phase, else of a named path piece."""
    inside = draft.movers[written.mover]
    if written.name in inside.phases:
        return Event(PHASE_EDGES[written.edge], written.name, written.mover)
    if written.name in inside.marks:
        return Event(MARK_EDGES[written.edge], written.name, written.mover)
    if inside.whole:
        what = f"phase or named path piece of {written.mover}"
        draft.unknown(keys, what, written.name, [*inside.phases, *inside.marks])
    return None
