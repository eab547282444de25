"""A phase `follow` as written: behind another mover at a gap, or in step with it."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BeforeValidator, Field, WithJsonSchema

from choreo.scenario.records.scenario import Span
from choreo.scenario.written.block import Written
from choreo.scenario.written.events import EventText, EventWritten, event_written
from choreo.scenario.written.fields import (
    Frequency,
    LengthRange,
    PositiveLength,
    Rate,
    Ratio,
    SpeedSpan,
    Time,
    TimeRange,
    text_of,
    wrong,
)
from choreo.words.quantities import QuantityError, parse, quoted
from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class Ahead:
    """A moment so long before an event."""

    by_s: float
    before: EventWritten


def _ahead(value: Any) -> Ahead:
    """A moment before an event: `0.5 s before contact`."""
    text = text_of(value)
    time, words, event = text.partition(" before ")
    try:
        by_s = parse(time.strip(), "time")
    except QuantityError:
        by_s = -1.0
    if by_s < 0 or not words or not event.strip():
        raise wrong(
            f"`{quoted(text)}` is no time before an event",
            "Write a time and the event that ends the phase, like `0.5 s before contact`.",
        )
    return Ahead(by_s, event_written(event))


AheadText = Annotated[
    Ahead,
    BeforeValidator(_ahead),
    WithJsonSchema(
        {
            "type": "string",
            "description": "a time before an event",
            "pattern": "^.+ before .+$",
            "examples": ["0.5 s before contact"],
        }
    ),
]


class FollowWritten(Written):
    mover: str
    # At a gap behind it.
    distance: LengthRange | None = None
    time_gap: TimeRange | None = Field(None, alias="time gap")
    tolerance: str | None = None
    during: str | None = None
    # In step with it.
    to: SpeedSpan | None = None
    accelerate: Rate | None = None
    brake: Rate | None = None
    within: PositiveLength | None = None
    frozen: AheadText | None = None
    correction: Ratio | None = None
    link: Time | None = None
    sampling: Frequency | None = None
    # Of its hold.
    settle: Time = 0.0
    settled_by: EventText | None = Field(None, alias="settled by")
    for_what: str | None = Field(None, alias="for")
    until: EventText | None = None

    @property
    def behind(self) -> dict[str, Span | str | None]:
        """What is written of a gap to it."""
        return {
            "distance": self.distance,
            "time gap": self.time_gap,
            "tolerance": self.tolerance,
            "during": self.during,
        }

    @property
    def in_step(self) -> dict[str, object]:
        """What is written of going in step with it."""
        return {
            "to": self.to,
            "accelerate": self.accelerate,
            "brake": self.brake,
            "within": self.within,
            "frozen": self.frozen,
            "correction": self.correction,
            "link": self.link,
            "sampling": self.sampling,
        }
