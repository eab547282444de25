"""Which rules a scenario is held against."""

from __future__ import annotations

from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class RulesAsked:
    """A rule set, by the name of a bundled one or by its path relative to `folder`, and a family of it."""

    set: str
    family: str
    folder: str
