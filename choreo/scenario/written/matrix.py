"""The keys of a matrix, the same in a scenario and in a campaign's run."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BeforeValidator, Field, WithJsonSchema

from choreo.scenario.written.block import Written


def _listed(value: Any) -> Any:
    """Steps may be written alone, without a list round them."""
    return (value,) if isinstance(value, str) else value


Values = Annotated[
    tuple[str, ...],
    BeforeValidator(_listed),
    WithJsonSchema(
        {
            "anyOf": [{"type": "string"}, {"type": "array", "items": {"type": "string"}}],
            "description": "a list of quantities, or steps like `10..60 km/h by 10 km/h`",
            "examples": ["10..60 km/h by 10 km/h"],
        }
    ),
]


class MatrixWritten(Written):
    vary: dict[str, Values] = Field(default_factory=dict)
    together: dict[str, Values] = Field(default_factory=dict)
    without: tuple[dict[str, str], ...] = ()
