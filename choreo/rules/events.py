"""Moments of a run as rules write them: `1.0 s before steering begins`, `time to collision 4 s`."""

from __future__ import annotations

import re

from choreo.rules.records import EVENTS, VALUED, EventName, EventRef
from choreo.words.nearest import suggestion
from choreo.words.quantities import QuantityError, parse, quoted

_OFFSET = re.compile(r"(.+?)\s+(before|after)\s+(.+)")


def event_of(text: str) -> EventRef:
    """Read a moment. Raises QuantityError: an unknown event, a time that can't be read."""
    written, offset_s = text.strip(), 0.0
    parted = _OFFSET.fullmatch(written)
    if parted is not None:
        offset_s = parse(parted[1], "time") * (-1.0 if parted[2] == "before" else 1.0)
        written = parted[3]
    for name in sorted(VALUED):
        if written.startswith(f"{name} "):
            return EventRef(name, offset_s, parse(written.removeprefix(f"{name} "), "time"))
    found = _named(written)
    if found is None:
        raise QuantityError(f"`{quoted(text)}` is no moment of a run", suggestion(written, EVENTS))
    if found in VALUED:
        raise QuantityError(f"`{quoted(text)}` says no time", f"Write it like `{found} 4 s`.")
    return EventRef(found, offset_s)


def told_event(event: EventRef) -> str:
    """Give a moment as it is written."""
    name = event.event if event.value_s is None else f"{event.event} {event.value_s:g} s"
    if event.offset_s == 0.0:
        return name
    side = "before" if event.offset_s < 0 else "after"
    return f"{abs(event.offset_s):g} s {side} {name}"


def _named(written: str) -> EventName | None:
    return next((name for name in EVENTS if name == written), None)
