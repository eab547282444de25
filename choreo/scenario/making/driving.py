"""A `drive` along a path as written -> its phase; places on a mover's own path."""

from __future__ import annotations

from choreo.scenario.making.draft import Draft
from choreo.scenario.making.moments import event_of
from choreo.scenario.records.scenario import FREE, Drive, Event, Phase, Span
from choreo.scenario.text.document import Keys
from choreo.scenario.written import scenario as w
from choreo.scenario.written.events import EventWritten


def drive_of(draft: Draft, keys: Keys, name: str, written: w.DriveWritten) -> Phase:
    """A hold in form, until its path is known; its speed at the end is any where nothing says it."""
    until_m, until = place_of(draft, (*keys, "until"), "drive > until", written.until)
    to = FREE if written.to is None else Span.at(written.to)
    at_end = until is not None and until.kind == "mark end"
    name_of = None if until is None else until.name
    drive = Drive(until_m, name_of, at_end, written.to, written.lasting)
    return Phase("hold", name, to=to, drive=drive)


def place_of(
    draft: Draft, keys: Keys, where: str, written: float | EventWritten
) -> tuple[float | None, Event | None]:
    """Give a station of the mover's own path in m, or one of its marks."""
    if isinstance(written, float):
        return written, None
    at = event_of(draft, keys, written, draft.document.passes.get(keys[:-2], 0))
    if at is not None and (at.mover != keys[1] or at.kind not in ("mark start", "mark end")):
        draft.fault(
            "scenario.bad-value",
            keys,
            where=where,
            what=f"a named piece of the path of {keys[1]} is wanted here",
            instead=f"Write a station, like `120 m`, or `end of {keys[1]}.PIECE`.",
        )
    return None, at
