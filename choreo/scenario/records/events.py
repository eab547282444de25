"""Moments that a file names."""

from __future__ import annotations

from dataclasses import dataclass

from choreo.words.kinds import EventKind


@dataclass(frozen=True, slots=True)
class Event:
    """A moment named in the file; the guide's page on the format lists them."""

    kind: EventKind
    name: str | None = None
    mover: str | None = None
