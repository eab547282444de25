"""The file model of a site: shared paths, ground to drive on, obstacles, and where it lies on earth."""

from __future__ import annotations

import re
from typing import Annotated, Any, ClassVar, Literal

from pydantic import BeforeValidator, Field, WithJsonSchema

from choreo.scenario.written.block import Name, Point, Written
from choreo.scenario.written.fields import Angle, Length, Ratio, text_of, wrong
from choreo.scenario.written.scenario import PathWritten
from choreo.words.quantities import quoted
from choreo.words.units import NUMBER

PLAIN_OR_PERCENT = re.compile(rf"({NUMBER})\s*(%?)")


def _friction(value: Any) -> float:
    """A plain number, or a percentage: friction has no unit."""
    match = PLAIN_OR_PERCENT.fullmatch(text_of(value).strip())
    if match is None:
        raise wrong(
            f"`{quoted(value)}` is not a friction",
            "Write the peak braking coefficient as a plain number without unit, like `0.9`.",
        )
    return float(match[1]) / (100 if match[2] else 1)


Friction = Annotated[
    float,
    BeforeValidator(_friction),
    WithJsonSchema({"type": "string", "description": "peak braking coefficient, e.g. 0.9"}),
]


class SlopeWritten(Written):
    grade: Ratio
    uphill: Angle


class AreaWritten(Written):
    outline: tuple[Point, ...]
    holes: tuple[tuple[Point, ...], ...] = ()
    friction: Friction | None = None
    slope: SlopeWritten | None = None


class ObstacleWritten(Written):
    outline: tuple[Point, ...]


class AnchorWritten(Written):
    longitude: Angle
    latitude: Angle
    bearing: Angle | None = None
    height: Length = 0.0
    datum: str = "EPSG:4326"


class SiteWritten(Written):
    """A site file."""

    _blocks: ClassVar[frozenset[str]] = frozenset({"paths", "areas", "obstacles"})

    version: Literal["1"] = Field(alias="choreo site")
    title: str = ""
    paths: dict[Name, PathWritten] = Field(default_factory=dict)
    outline: tuple[Point, ...] | None = None
    areas: dict[Name, AreaWritten] = Field(default_factory=dict)
    obstacles: dict[Name, ObstacleWritten] = Field(default_factory=dict)
    anchor: AnchorWritten | None = None
    geojson: str | None = None
