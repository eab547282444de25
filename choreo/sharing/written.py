"""A file of a shared track as it is written: the vehicles with their circuits, the headway, single places."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, WithJsonSchema

from choreo.scenario.written.block import Name, Written
from choreo.scenario.written.fields import (
    Acceleration,
    Distance,
    PositiveTime,
    Time,
    text_of,
    wrong,
)
from choreo.scenario.written.paths import YesNo
from choreo.words.quantities import quoted

# More vehicles than this were meant otherwise.
MOST_VEHICLES = 60
MOST_RUNS = 100


def _count(value: Any) -> int:
    text = text_of(value).strip()
    if text.isascii() and text.isdigit() and 0 < int(text[:9]) <= MOST_VEHICLES:
        return int(text)
    raise wrong(
        f"`{quoted(text)}` is no number of vehicles",
        f"Write a whole number from 1 to {MOST_VEHICLES}, like `count: 8`.",
    )


def _runs(value: Any) -> int:
    text = text_of(value).strip()
    if text.isascii() and text.isdigit() and 0 < int(text[:9]) <= MOST_RUNS:
        return int(text)
    raise wrong(
        f"`{quoted(text)}` is no number of runs",
        f"Write a whole number from 1 to {MOST_RUNS}, like `runs: 6`.",
    )


class HeadwayWritten(Written):
    reaction: Time = 1.0
    braking: Acceleration = 4.0
    margin: Distance = 20.0


class VisitWritten(Written):
    at: Name
    for_: PositiveTime = Field(alias="for")


class VehicleWritten(Written):
    file: str | None = None
    visits: tuple[VisitWritten, ...] | None = None
    staged: str | None = None
    runs: Annotated[int, BeforeValidator(_runs), WithJsonSchema({"type": "integer"})] | None = None
    between: Time | None = Field(None, alias="between runs")
    at: Name | None = None
    count: Annotated[int, BeforeValidator(_count), WithJsonSchema({"type": "integer"})] = 1
    ready: Time = 0.0
    waits: YesNo = True


class ShareWritten(Written):
    """The whole file."""

    _blocks = frozenset({"headway", "vehicles"})

    choreo_share: Literal["1"] = Field(alias="choreo share")
    title: str
    about: str = ""
    headway: HeadwayWritten = HeadwayWritten()
    vehicles: dict[Name, VehicleWritten]
    single: tuple[str, ...] = ()
    within: PositiveTime | None = None
