"""What a report is made of: tables, notes and accounts, as text, without any layout."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

from choreo.words.records import dataclass

# By what layouts and other reports find a section; titles are for people and may change.
SectionKey = Literal[
    "failed checks",
    "collisions",
    "preferred",
    "held",
    "relative",
    "triggers",
    "obstacles of sights",
    "ground",
    "budget",
    "repairs",
    "conflicts",
    "tried",
    "warnings",
    "chain",
    "caution",
    "events",
    "programme",
    "places",
    "distances",
    "returns",
    "in step",
    "releases",
    "allowed",
    "frontier",
    "authority",
    "shares",
    "causes",
    "course figures",
]


@dataclass(frozen=True, slots=True)
class Table:
    """A titled table: header and rows of text; numeric columns are right-aligned.

    key: None where nobody needs to find it.
    """

    title: str
    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numeric: frozenset[int] = frozenset()
    key: SectionKey | None = None


@dataclass(frozen=True, slots=True)
class Notes:
    """A titled list of sentences; key as in Table."""

    title: str
    lines: tuple[str, ...]
    key: SectionKey | None = None


@dataclass(frozen=True, slots=True)
class Account:
    """A budget: what is needed, piece by piece, against what there is; key as in Table."""

    title: str
    unit: str
    rows: tuple[tuple[str, str, str], ...]
    key: SectionKey | None = "budget"


Section = Table | Notes | Account


def notes_of(sections: Iterable[Section], *keys: SectionKey) -> tuple[Notes, ...]:
    """Give the notes among sections that have one of the keys, in their order."""
    return tuple(one for one in sections if isinstance(one, Notes) and one.key in keys)
