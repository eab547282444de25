"""Moments that a file names."""

from __future__ import annotations

from choreo.words.kinds import EventKind
from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class Event:
    """A moment named in the file; the guide's page on the format lists them."""

    kind: EventKind
    name: str | None = None
    mover: str | None = None
