"""Start marks and latencies as measured on the day: a small CSV with units."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from choreo.scenario.records import Scenario
from choreo.scenario.text import read_text
from choreo.words import ChoreoError, Finding, Origin
from choreo.words.nearest import suggestion
from choreo.words.quantities import QuantityError, parse

HEADER = ["name", "quantity", "value"]
QUANTITIES = {"station": "length", "x": "length", "y": "length", "latency": "time"}


@dataclass(frozen=True, slots=True)
class Measured:
    """Stations and points of start marks by mover (m, site frame), latencies by trigger (s)."""

    stations_m: Mapping[str, float]
    points_m: Mapping[str, tuple[float, float]]
    latencies_s: Mapping[str, float]


def load_measured(path: Path, scenario: Scenario) -> Measured:
    """Read a measured file.

    Raises ChoreoError with every faulty line: unknown names, quantities or units, x without y.
    """
    rows = [line.split(",") for line in read_text(path).splitlines()]
    faults: list[Finding] = []
    values: dict[tuple[str, str], float] = {}

    def fault(line: int, why: str, instead: str) -> None:
        place = Origin(str(path), line, 1)
        faults.append(
            Finding("scenario.measured", "error", place, {"why": why, "instead": instead}, ())
        )

    if not rows or [cell.strip() for cell in rows[0]] != HEADER:
        fault(
            1,
            "the header is not `name,quantity,value`",
            "Begin with the line `name,quantity,value`.",
        )
    for line, row in enumerate(rows[1:], start=2):
        cells = [cell.strip() for cell in row]
        if not any(cells) or cells[0].startswith("#"):
            continue
        if len(cells) != len(HEADER):
            fault(line, f"there are {len(cells)} columns", "Write name, quantity and value.")
            continue
        problem = _read(cells, scenario, values)
        if problem is not None:
            fault(line, *problem)
    for name in scenario.movers:
        if ((name, "x") in values) != ((name, "y") in values):
            fault(1, f"{name} has only one of x and y", "Write both, or `station`.")
    if faults:
        raise ChoreoError(faults)
    return Measured(
        stations_m={name: v for (name, quantity), v in values.items() if quantity == "station"},
        points_m={
            name: (v, values[name, "y"])
            for (name, quantity), v in values.items()
            if quantity == "x"
        },
        latencies_s={name: v for (name, quantity), v in values.items() if quantity == "latency"},
    )


def _read(
    cells: list[str], scenario: Scenario, values: dict[tuple[str, str], float]
) -> tuple[str, str] | None:
    name, quantity, text = cells
    if quantity not in QUANTITIES:
        return f"`{quantity}` is not a quantity here", suggestion(quantity, QUANTITIES)
    known = scenario.triggers if quantity == "latency" else scenario.movers
    if name not in known:
        kind = "trigger" if quantity == "latency" else "mover"
        return f"there is no {kind} named `{name}`", suggestion(name, known)
    if (name, quantity) in values:
        return f"{quantity} of {name} stands here again", "Keep one of the lines."
    try:
        values[name, quantity] = parse(text, QUANTITIES[quantity])
    except QuantityError as error:
        return error.wrong, error.instead
    return None
