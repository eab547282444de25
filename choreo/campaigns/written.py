"""A campaign file as it is written: several scenarios, what is varied of each, how often each is run."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BeforeValidator, Field, WithJsonSchema

from choreo.campaigns.day.written import DayWritten
from choreo.scenario.written.block import Name, Written
from choreo.scenario.written.fields import text_of, wrong
from choreo.scenario.written.matrix import MatrixWritten
from choreo.words.quantities import quoted

# More repeats of one variant were meant otherwise.
MOST_REPEATS = 1000


def _count(value: object) -> int:
    text = text_of(value)
    if text.isascii() and text.isdigit() and 0 < int(text[:9]) <= MOST_REPEATS:
        return int(text)
    raise wrong(
        f"`{quoted(text)}` doesn't say how often",
        f"Write a whole number from 1 to {MOST_REPEATS}, like `repeats: 3`.",
    )


Repeats = Annotated[
    int,
    BeforeValidator(_count),
    WithJsonSchema({"type": "integer", "minimum": 1, "maximum": MOST_REPEATS}),
]


class RunWritten(MatrixWritten):
    scenario: str
    repeats: Repeats | None = None


class CampaignWritten(Written):
    """The whole campaign file."""

    _blocks = frozenset({"runs", "day"})

    choreo_campaign: Literal["1"] = Field(alias="choreo campaign")
    title: str
    about: str = ""
    runs: dict[Name, RunWritten]
    day: DayWritten | None = None
