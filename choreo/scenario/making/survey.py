"""The points of a surveyed path, read from their CSV; faults point into it."""

from __future__ import annotations

import math
import re
from pathlib import Path

from choreo.scenario.making.companions import named_at
from choreo.scenario.making.draft import Draft
from choreo.scenario.text.document import MOST_FAULTS, Keys, read_text
from choreo.words import ChoreoError, Finding, Origin
from choreo.words.quantities import LONGEST_TOKEN, quoted
from choreo.words.tolerances import SAME_POINT_M
from choreo.words.units import NUMBER

Points = tuple[tuple[float, float], ...]

HEADER = ["x_m", "y_m"]
PLAIN_NUMBER = re.compile(rf"\s*{NUMBER}\s*")
# A line without a fault.
POINT = re.compile(rf"\s*({NUMBER})\s*,\s*({NUMBER})\s*")
# As far as a length may be written (words/units.py): a survey in coordinates of a grid is a mistake here.
FARTHEST_M = 100_000
EXAMPLE = "Write two numbers in metres, like `12.5,3.0`."


def surveyed_points(draft: Draft, file: Path, keys: Keys) -> Points:
    """Read the points (x, y) in m of a file with the header x_m,y_m; none where it is faulty.

    keys: where it is named. Faults go to draft.
    """
    asked = draft.document.origin(keys)
    try:
        text = read_text(file, asked)
    except ChoreoError as error:
        draft.findings += error.findings
        return ()
    draft.files.append(str(file))
    points, faults = _read(text.splitlines(), str(file))
    draft.findings += named_at(asked, faults)
    return () if faults else points


def _read(lines: list[str], file: str) -> tuple[Points, list[Finding]]:
    """Points and faults; of a file with another header nothing more is told, nor beyond a hundred faults."""
    faults: list[Finding] = []

    def fault(line: int, why: str, instead: str) -> None:
        values = {"why": why, "instead": instead}
        origin = Origin(file, line, 1)
        faults.append(Finding("scenario.not-in-survey", "error", origin, values))

    if not lines or [cell.strip() for cell in lines[0].split(",")] != HEADER:
        advice = "Begin with the line `x_m,y_m`, then one point a line."
        fault(1, "the header is not `x_m,y_m`", advice)
        return (), faults
    points: list[tuple[float, float]] = []
    for number, line in enumerate(lines[1:], start=2):
        if len(faults) > MOST_FAULTS:
            break
        point = _point(line)
        if point is None:
            if line.strip() and not line.lstrip().startswith("#"):
                fault(number, _wrong(line.split(",")), EXAMPLE)
            continue
        if points and math.dist(points[-1], point) < SAME_POINT_M:
            fault(number, "this point is the same as the one before", "Remove one of them.")
        else:
            points.append(point)
    if not faults and len(points) < 2:
        count = "only one" if points else "no"
        fault(1, f"there is {count} point", "A path needs at least two points.")
    return tuple(points), faults


def _point(line: str) -> tuple[float, float] | None:
    """A line's point; None where it has none, or a faulty one."""
    found = POINT.fullmatch(line)
    if found is None:
        return None
    x, y = float(found[1]), float(found[2])
    return (x, y) if max(abs(x), abs(y)) <= FARTHEST_M else None


def _wrong(cells: list[str]) -> str:
    """What is wrong with the cells of a line that is no point."""
    if len(cells) != len(HEADER):
        return f"this is not a point: it has {len(cells)} numbers, not two"
    for cell in cells:
        number = PLAIN_NUMBER.fullmatch(cell)
        if number is None:
            return f"this is not a point: `{quoted(cell.strip(), LONGEST_TOKEN)}` is not a number"
        if abs(float(cell)) > FARTHEST_M:
            return f"this is not a point: {float(cell):g} m is farther than any site reaches"
    return ""
