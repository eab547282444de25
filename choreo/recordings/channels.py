"""What every kind of file is read into: named channels, each with its unit where the file says one."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import field

from choreo.recordings.record import Floats, Remark
from choreo.words import ChoreoError, Finding, Origin
from choreo.words.nearest import nearest_word
from choreo.words.quantities import quoted
from choreo.words.records import dataclass

# Names of channels that a fault lists.
LISTED = 12
NAME_AND_UNIT = re.compile(r"(.*\S)\s*[\[(<]([^\])>]*)[\])>]")


def unreadable(file: str, why: str, instead: str, line: int = 1, column: int = 1) -> ChoreoError:
    """Give the fault of a recorded file at a place of it."""
    place = Origin(file, max(line, 1), column)
    return ChoreoError(
        [Finding("recording.unreadable", "error", place, {"why": why, "instead": instead})]
    )


@dataclass(frozen=True, eq=False)
class Channels:
    """Channels of one file, all of one length. units: None where the file says none. texts: of a time written out.

    known: every channel that the file has. lines: of each row in a text file, empty elsewhere. simulated: its first
    line says that nothing was measured.
    """

    file: str
    numbers: Mapping[str, Floats]
    units: Mapping[str, str | None]
    known: tuple[str, ...]
    texts: Mapping[str, list[str]] = field(default_factory=dict)
    lines: tuple[int, ...] = ()
    remarks: tuple[Remark, ...] = ()
    simulated: bool = False

    def line(self, row: int) -> int:
        """Give the line of a row in its file; 1 where it has none."""
        return self.lines[row] if row < len(self.lines) else 1


def name_and_unit(text: str) -> tuple[str, str | None]:
    """Give a channel's name, and its unit where that stands behind it in brackets."""
    match = NAME_AND_UNIT.fullmatch(text)
    return (text, None) if match is None else (match[1].strip(), match[2].strip() or None)


def twice(file: str, name: str, places: Sequence[str], line: int = 1) -> ChoreoError:
    """Give the fault of a channel that stands in a file more than once."""
    listed = " and ".join((", ".join(places[:-1]), places[-1]))
    return unreadable(
        file,
        f"it has `{quoted(name)}` {len(places)} times, in {listed}",
        "Which one is meant can't be known: give them names of their own, or leave one out.",
        line,
    )


def unknown_channel(name: str, known: list[str], place: Origin, file: str) -> Finding:
    """Give the fault of a channel that a file doesn't have, at the place where it is asked for."""
    nearest = nearest_word(name, known)
    shown = ", ".join(f"`{quoted(one)}`" for one in known[:LISTED])
    more = "" if len(known) <= LISTED else f" and {len(known) - LISTED} more"
    instead = f"There are {shown}{more}."
    if nearest:
        instead = f"Did you mean `{quoted(nearest)}`? {instead}"
    values = {"why": f"{quoted(file)} has no channel `{quoted(name)}`", "instead": instead}
    return Finding("recording.unfit", "error", place, values)
