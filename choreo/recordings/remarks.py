"""What was inferred of the files of a run, put together as it is told."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from choreo.recordings.record import Remark


def told_of(remarks: list[Remark], path: Path, files: Mapping[str | None, Path]) -> list[Remark]:
    """Give what was inferred of one file, by its name where there are several."""
    if len(files) == 1:
        return remarks
    return [
        replace(
            one,
            words=f"{one.words} of {path.name}"
            if one.unit is not None
            else f"{path.name}: {one.words}",
        )
        for one in remarks
    ]


def grouped(remarks: list[Remark]) -> tuple[Remark, ...]:
    """Give each remark once, and what was inferred of units in one."""
    units: dict[str, list[str]] = {}
    for one in dict.fromkeys(remarks):
        if one.unit is not None:
            units.setdefault(one.unit, []).append(one.words)
    told = "; ".join(f"{unit} of {', '.join(names)}" for unit, names in units.items())
    found = [one for one in dict.fromkeys(remarks) if one.unit is None]
    return tuple([*found, Remark(f"units as the file says, or usual: {told}")] if told else found)
