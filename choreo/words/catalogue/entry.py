"""One entry of the catalogue of findings."""

from __future__ import annotations

from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class Entry:
    """title: a few words; meaning: when it is reported and why; template, advice: sentences with {values}."""

    title: str
    meaning: str
    template: str
    advice: str
