"""Where a value was written: file, line and column, so that every message can point there."""

from __future__ import annotations

from choreo.words.display import visible
from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class Origin:
    """A place in a text file; line and column count from 1."""

    file: str
    line: int
    column: int

    def __str__(self) -> str:
        return f"{visible(self.file)}:{self.line}:{self.column}"
