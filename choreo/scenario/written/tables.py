"""An acceleration, or a table of it over speed, as written."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise
from typing import Annotated, Any

from pydantic import BeforeValidator, WithJsonSchema

from choreo.scenario.written.fields import text_of, wrong
from choreo.words.quantities import QuantityError, parse, quoted


def _table(value: Any) -> tuple[tuple[float, float], ...]:
    """A number, or a mapping from speed to acceleration."""
    rows: Iterable[tuple[str, Any]] = (
        value.items() if isinstance(value, dict) else [("0 km/h", value)]
    )
    table = []
    for speed, accel in rows:
        try:
            pair = (parse(speed, "speed"), parse(text_of(accel), "acceleration"))
        except QuantityError as error:
            raise wrong(error.wrong, error.instead) from None
        if pair[1] <= 0:
            raise wrong(
                f"`{quoted(accel)}` must be more than zero",
                "Write a positive acceleration, like `3 m/s2`.",
            )
        table.append(pair)
    if not table:
        raise wrong(
            "the table is empty", "Write at least one `speed: acceleration`, like `0 km/h: 3 m/s2`."
        )
    if any(late[0] <= early[0] for early, late in pairwise(table)):
        raise wrong(
            "the table's speeds must rise",
            "Write its lines in the order of speed, each speed once.",
        )
    return tuple(table)


Table = Annotated[
    tuple[tuple[float, float], ...],
    BeforeValidator(_table),
    WithJsonSchema(
        {
            "anyOf": [
                {"type": "string"},
                {"type": "object", "additionalProperties": {"type": "string"}},
            ],
            "description": "an acceleration, or a table of speed: acceleration",
            "examples": ["3 m/s2", {"0 km/h": "3.5 m/s2", "100 km/h": "1.5 m/s2"}],
        }
    ),
]
