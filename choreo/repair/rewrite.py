"""A repair written into the scenario's own text: only the values change, comments and order stay."""

from __future__ import annotations

import math
import os
import re
from collections.abc import Sequence
from pathlib import Path

from choreo.case.quantity import Keys, Quantity
from choreo.repair.changes import Change, Repair
from choreo.scenario import Scenario
from choreo.scenario.written.fields import LATERAL
from choreo.words import ChoreoError, Finding, Origin
from choreo.words.display import KMH_PER_MPS
from choreo.words.quantities import parse
from choreo.words.units import UNITS

# How units are written where the author's own don't say, with the factor from SI and the digits kept.
WRITTEN = {
    "m": ("m", 1.0, 4),
    "s": ("s", 1.0, 4),
    "m/s": ("km/h", KMH_PER_MPS, 4),
    "m/s2": ("m/s2", 1.0, 4),
    "m/s3": ("m/s3", 1.0, 4),
}
# A quoted scalar, or a plain one up to a comma, a bracket, a comment or the line's end.
SCALAR = re.compile(r"""("[^"\n]*"|'[^'\n]*'|[^,\]\}\n#]*[^,\]\}\n#\s])""")
# What ends a line in YAML, so that lines are counted as its parser does.
LINE_END = re.compile("\r\n|[\n\r\x85\u2028\u2029]")
BYTE_ORDER_MARK = "\ufeff"
# By how much a value spreads, after the value itself: `60 ms +/- 10 ms`.
SPREAD = re.compile(r"(\+/-|\+-|±).*")
RANGE_MARK = ".."
# A stop whose keys stand on its own line.
STOP = re.compile(r"stop:\s*\{")
# What may be a unit: `km/h` of `40..50 km/h`.
UNIT_WORD = re.compile(r"(?<=[0-9.\s])[A-Za-z][A-Za-z0-9/]*")
# A scalar that stands for a named value.
REFERENCE = re.compile(r"\$([A-Za-z][A-Za-z0-9_-]*)")

# So finely (m/s2) that the speed that it stands for is the one that was tried, to less than what anybody sets.
LATERAL_DIGITS = 7

Edit = tuple[Origin, str]
# A unit, the factor from SI and the digits kept.
WrittenIn = tuple[str, float, int]


def _edited(text: str, edits: Sequence[Edit]) -> str:
    """Put new values in place of the scalars at their origins; line ends stay as they are."""
    lines, ends = LINE_END.split(text), [*LINE_END.findall(text), ""]
    for origin, new in sorted(edits, key=lambda edit: (-edit[0].line, -edit[0].column)):
        line = lines[origin.line - 1]
        head, tail = line[: origin.column - 1], line[origin.column - 1 :]
        match = SCALAR.match(tail)
        if match is None:
            raise _not_applicable(origin, "its value isn't written on one line")
        lines[origin.line - 1] = head + new + tail[match.end() :]
    return "".join(line + end for line, end in zip(lines, ends, strict=True))


def _edits(
    text: str, file: str, scenario: Scenario, quantity: Quantity, value: float
) -> list[Edit]:
    if quantity.moves_start:
        return _earlier_start(text, file, scenario, quantity, value)
    unit = _unit_at(text, scenario, quantity)
    new = _lateral_text(text, scenario, quantity, value) or _range_text(
        scenario, quantity, value, unit
    )
    if quantity.keys[-2:] == ("stop", "brake") and quantity.keys not in scenario.places:
        return [_braking(text, file, scenario, quantity.keys, new)]
    return [_edit(text, file, scenario, quantity.keys, new)]


def _unit_at(text: str, scenario: Scenario, quantity: Quantity) -> WrittenIn:
    """The unit that the author has there, with the factor from SI and the digits kept."""
    usual = word, factor, digits = WRITTEN[quantity.unit]
    origin = scenario.origin(*quantity.keys)
    reference = REFERENCE.fullmatch(_scalar_at(text, origin))
    if reference is not None:
        origin = scenario.origin("values", reference.group(1))
    for own in UNIT_WORD.findall(_scalar_at(text, origin)):
        if own in UNITS and own != word and UNITS[own].kind == UNITS[word].kind:
            finer = factor * float(UNITS[own].factor)
            return own, 1.0 / float(UNITS[own].factor), max(digits + round(math.log10(finer)), 0)
    return usual


def _lateral_text(text: str, scenario: Scenario, quantity: Quantity, value: float) -> str | None:
    """A speed where a lateral acceleration is written as the goal stays one: it goes with the speed squared."""
    if quantity.unit != "m/s":
        return None
    old = _scalar_at(text, scenario.origin(*quantity.keys))
    if not old.endswith(LATERAL):
        return None
    goal = parse(old.removesuffix(LATERAL), "acceleration") * (value / quantity.value) ** 2
    return f"{_plain(goal, LATERAL_DIGITS)} m/s2{LATERAL}"


def _edit(text: str, file: str, scenario: Scenario, keys: Keys, new: str) -> Edit:
    """The place of a value, or of the named value that stands for it."""
    origin = scenario.origin(*keys)
    if origin.file != file:
        raise _not_applicable(origin, "it stands in a file that other scenarios share")
    if keys not in scenario.places and not _written_there(text, origin):
        raise _not_applicable(origin, "it isn't written in the file but is a default")
    if sum(place == origin for place in scenario.places.values()) > 1:
        raise _not_applicable(origin, "it is written once for several")
    old = _scalar_at(text, origin)
    if RANGE_MARK in old and keys[0] == "triggers" and keys[-1] == "latency":
        raise _not_applicable(origin, "it is written as the range over which it spreads")
    spread = SPREAD.search(old)
    if spread is not None:
        return origin, f"{new} {spread.group(0)}"
    reference = REFERENCE.fullmatch(old)
    if reference is not None:
        return scenario.origin("values", reference.group(1)), new
    return origin, new


def _braking(text: str, file: str, scenario: Scenario, keys: Keys, new: str) -> Edit:
    """The braking of a stop that states none, put into its `stop: {}`."""
    origin = scenario.origin(*keys)
    line = LINE_END.split(text)[origin.line - 1][origin.column - 1 :]
    match = SCALAR.match(line)
    if origin.file != file or match is None or STOP.match(line) is None:
        why = f"no braking is written there: write `stop: {{brake: {new}}}`"
        raise _not_applicable(origin, why)
    old = match.group(1)
    return origin, f"{old}{'' if old.endswith('{') else ', '}brake: {new}"


def _written_there(text: str, origin: Origin) -> bool:
    return any(letter.isdigit() for letter in _scalar_at(text, origin)) or "$" in _scalar_at(
        text, origin
    )


def _scalar_at(text: str, origin: Origin) -> str:
    line = LINE_END.split(text)[origin.line - 1][origin.column - 1 :]
    match = SCALAR.match(line)
    return "" if match is None else match.group(1).strip("'\"")


def _range_text(scenario: Scenario, quantity: Quantity, value: float, unit: WrittenIn) -> str:
    if not quantity.end:
        # What is counted from go says so in the file.
        after = " after go" if quantity.keys[-1] == "until" else ""
        return _written(value, unit) + after
    span = _span_of(scenario, quantity)
    low, high = (value, span[1]) if quantity.end == "lo" else (span[0], value)
    word, factor, digits = unit
    return f"{_plain(low * factor, digits)}..{_plain(high * factor, digits)} {word}"


def _span_of(scenario: Scenario, quantity: Quantity) -> tuple[float, float]:
    name = str(quantity.keys[1])
    if quantity.keys[2] == "programme":
        phase = scenario.movers[name].programme[int(quantity.keys[3])]
        rates = phase.accelerate if quantity.keys[-1] == "accelerate" else phase.brake
        return (-math.inf, math.inf) if rates is None else (rates.lo, rates.hi)
    if quantity.keys[0] == "movers":
        station = scenario.movers[name].start.station
        return station.lo, station.hi
    setting = scenario.triggers[name].setting
    return setting.lo, setting.hi


def _earlier_start(
    text: str, file: str, scenario: Scenario, quantity: Quantity, value: float
) -> list[Edit]:
    """A path begun earlier: its first line is longer and its start lies further back."""
    path = scenario.paths[str(quantity.keys[1])]
    x, y = path.start_m or (0.0, 0.0)
    more = value - quantity.value
    if quantity.keys not in scenario.places:
        why = f"it isn't written in the file but is a default: write `run-up: {quantity.value:g} m` first"
        raise _not_applicable(scenario.origin(*quantity.keys), why)
    start = (
        x - more * math.cos(path.heading_rad),
        y - more * math.sin(path.heading_rad),
    )
    new = _written(value, _unit_at(text, scenario, quantity))
    edits = [_edit(text, file, scenario, quantity.keys, new)]
    for index, coordinate in enumerate(start):
        if abs(coordinate - (x, y)[index]) > 1e-9:
            keys: Keys = ("paths", quantity.keys[1], "start", index)
            edits.append(_edit(text, file, scenario, keys, _written(coordinate, WRITTEN["m"])))
    return edits


def _written(value: float, unit: WrittenIn) -> str:
    """'68.03 km/h': a value in SI as an author would write it."""
    word, factor, digits = unit
    return f"{_plain(value * factor, digits)} {word}"


def _plain(value: float, digits: int) -> str:
    text = f"{round(value, digits):.{digits}f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def _not_applicable(origin: Origin, why: str) -> ChoreoError:
    return ChoreoError([Finding("plan.not-applicable", "error", origin, {"why": why}, ())])


def apply(
    file: Path, scenario: Scenario, repairs: Sequence[Repair], number: int, output: Path
) -> str:
    """Give the text of a scenario file with repair `number` (from 1) applied, fit to stand at output.

    Files that the scenario names are named from there. Raises ChoreoError: plan.no-such-repair, plan.not-applicable.
    """
    if not 1 <= number <= len(repairs):
        values = {"number": number, "count": len(repairs)}
        place = Origin(str(file), 1, 1)
        raise ChoreoError([Finding("plan.no-such-repair", "error", place, values, ())])
    return rewritten(file, scenario, repairs[number - 1].changes, output)


def rewritten(file: Path, scenario: Scenario, changes: Sequence[Change], output: Path) -> str:
    """Give the text of a scenario file with other values, fit to stand at output.

    scenario: of that very text. Files that it names are named from there. Raises ChoreoError: plan.not-applicable.
    """
    raw = file.read_bytes().decode("utf-8")
    text = raw.removeprefix(BYTE_ORDER_MARK)
    edits: list[Edit] = []
    for change in changes:
        edits += _edits(text, str(file), scenario, change.quantity, change.value)
    if file.resolve().parent != output.resolve().parent:
        edits += _references(text, file, scenario, output)
    return raw[: len(raw) - len(text)] + _edited(text, edits)


def _references(text: str, file: Path, scenario: Scenario, output: Path) -> list[Edit]:
    """Companion files named relative to the new place."""
    edits = []
    for keys in scenario.places:
        origin = scenario.origin(*keys)
        named = (
            keys in (("site",), ("fleet",), ("placed", "on"))
            or keys[:1] == ("fleet",)
            or keys[-1:] == ("surveyed",)
        )
        if not named or origin.file != str(file):
            continue
        old = _scalar_at(text, origin)
        if old and not old.startswith("[") and not Path(old).is_absolute():
            there = os.path.relpath(file.resolve().parent / old, output.resolve().parent)
            edits.append((origin, there))
    return edits
