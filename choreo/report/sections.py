"""What a report is made of: tables, notes and accounts, as text, without any layout."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Table:
    """A titled table: header and rows of text; numeric columns are right-aligned."""

    title: str
    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numeric: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class Notes:
    """A titled list of sentences."""

    title: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Account:
    """A budget: what is needed, piece by piece, against what there is."""

    title: str
    unit: str
    rows: tuple[tuple[str, str, str], ...]


Section = Table | Notes | Account
