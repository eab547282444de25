"""Start marks and latencies as measured on the day: a small CSV with units."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from pathlib import Path

from choreo.scenario.records.scenario import Scenario
from choreo.scenario.text.document import read_text
from choreo.words import ChoreoError, Finding, Origin
from choreo.words.nearest import suggestion
from choreo.words.quantities import QuantityError, parse, quoted
from choreo.words.records import dataclass
from choreo.words.units import QuantityKind

# The first line of a file of measurements.
HEADER = ["name", "quantity", "value"]
QUANTITIES: dict[str, QuantityKind] = {
    "station": "length",
    "x": "length",
    "y": "length",
    "latency": "time",
}


@dataclass(frozen=True, slots=True)
class Measurements:
    """Stations and points of start marks by mover (m, site frame), latencies by trigger (s)."""

    stations_m: Mapping[str, float]
    points_m: Mapping[str, tuple[float, float]]
    latencies_s: Mapping[str, float]


@dataclass()
class _Reading:
    """A measured file on its way: what it says, on which line, and its faults."""

    path: Path
    scenario: Scenario
    values: dict[tuple[str, str], float] = field(default_factory=dict)
    lines: dict[tuple[str, str], int] = field(default_factory=dict)
    faults: list[Finding] = field(default_factory=list)

    def fault(self, line: int, why: str, instead: str, *others: int) -> None:
        """Add a fault at a line, with other lines that it concerns."""
        related = tuple(Origin(str(self.path), other, 1) for other in others)
        values = {"why": why, "instead": instead}
        place = Origin(str(self.path), line, 1)
        self.faults.append(Finding("scenario.measured", "error", place, values, related))

    def read(self, line: int, name: str, quantity: str, text: str) -> None:
        """Take one line in."""
        if quantity not in QUANTITIES:
            hint = suggestion(quantity, QUANTITIES)
            self.fault(line, f"`{quoted(quantity)}` is not a quantity here", hint)
            return
        known = self.scenario.triggers if quantity == "latency" else self.scenario.movers
        if name not in known:
            kind = "trigger" if quantity == "latency" else "mover"
            hint = suggestion(name, known)
            self.fault(line, f"there is no {kind} named `{quoted(name)}`", hint)
            return
        first = self.lines.setdefault((name, quantity), line)
        if first != line:
            why = f"{quantity} of {name} stands here again"
            self.fault(line, why, "Keep one of the lines.", first)
            return
        try:
            value = parse(text, QUANTITIES[quantity])
        except QuantityError as error:
            self.fault(line, error.wrong, error.instead)
            return
        if quantity == "latency" and value < 0:
            self.fault(line, f"the latency of {name} is negative", "Write a time from zero up.")
            return
        self.values[name, quantity] = value

    def check_points(self) -> None:
        """A mark is given by its station, or by both of x and y."""
        for name in self.scenario.movers:
            station, x, y = (self.lines.get((name, key)) for key in ("station", "x", "y"))
            if (x is None) != (y is None):
                here, missing = ("x", "y") if y is None else ("y", "x")
                why = f"{name} has only one of x and y: `{here}` stands here, `{missing}` nowhere"
                self.fault(x or y or 1, why, "Write both, or `station`.")
            points = [line for line in (x, y) if line is not None]
            if station is not None and points:
                why = f"{name} has both `station` and a point"
                self.fault(station, why, "Keep `station`, or `x` and `y`.", *points)


def load_measured(path: Path, scenario: Scenario) -> Measurements:
    """Read a measured file.

    Raises ChoreoError with every faulty line: unknown names, quantities or units, a negative latency,
    x without y, a station beside x and y.
    """
    rows = [line.split(",") for line in read_text(path).splitlines()]
    reading = _Reading(path, scenario)
    if not rows or [cell.strip() for cell in rows[0]] != HEADER:
        why = "the header is not `name,quantity,value`"
        reading.fault(1, why, "Begin with the line `name,quantity,value`.")
        # What stands below other columns, or in a file of another kind, is no fault of its own.
        raise ChoreoError(reading.faults)
    for line, row in enumerate(rows[1:], start=2):
        cells = [cell.strip() for cell in row]
        if not any(cells) or cells[0].startswith("#"):
            continue
        if len(cells) != len(HEADER):
            why = f"there are {len(cells)} columns"
            reading.fault(line, why, "Write name, quantity and value.")
            continue
        reading.read(line, *cells)
    reading.check_points()
    if reading.faults:
        raise ChoreoError(reading.faults)
    values = reading.values
    return Measurements(
        stations_m={name: v for (name, quantity), v in values.items() if quantity == "station"},
        points_m={
            name: (v, values[name, "y"])
            for (name, quantity), v in values.items()
            if quantity == "x"
        },
        latencies_s={name: v for (name, quantity), v in values.items() if quantity == "latency"},
    )
