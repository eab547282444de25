"""Event expressions as written: a name alone, a launch, or an edge of something that a mover has."""

from __future__ import annotations

import re
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, WithJsonSchema

from choreo.scenario.text.repeats import counted
from choreo.scenario.written.fields import LATERAL, Lateral, goal_of, text_of, wrong
from choreo.words.quantities import QuantityError, parse, quoted
from choreo.words.records import dataclass

Edge = Literal["start", "end"]
ORDINAL = re.compile(r"([1-9][0-9]{0,5})(st|nd|rd|th)")


@dataclass(frozen=True, slots=True)
class Named:
    """`NAME`: of an encounter, a trigger or an instant."""

    name: str


@dataclass(frozen=True, slots=True)
class LaunchOf:
    """`launch of MOVER`."""

    mover: str


@dataclass(frozen=True, slots=True)
class EdgeOf:
    """`start of MOVER.NAME`, `3rd end of MOVER.NAME`: of a phase or a named path piece; name: with its number."""

    edge: Edge
    mover: str
    name: str


EventWritten = Named | LaunchOf | EdgeOf


@dataclass(frozen=True, slots=True)
class PartOf:
    """`MOVER.NAME`: a phase or a named path piece, from its start to its end."""

    mover: str
    name: str

    @property
    def edges(self) -> tuple[EdgeOf, EdgeOf]:
        """Its start and its end."""
        return EdgeOf("start", self.mover, self.name), EdgeOf("end", self.mover, self.name)


def _part(value: Any) -> PartOf:
    """A part of a mover's run; whether it exists is checked later."""
    mover, dot, name = text_of(value).strip().partition(".")
    if dot and mover and name and " of " not in mover:
        return PartOf(mover, name)
    raise wrong(
        f"`{quoted(value)}` is not a phase of a mover",
        "Write MOVER.PHASE, like `subject.hold`.",
    )


def event_written(value: Any) -> EventWritten:
    """Read an event expression; whether what it names exists is checked later.

    Raises a fault of our own words.
    """
    words = text_of(value).split()
    number = 1
    ordinal = ORDINAL.fullmatch(words[0]) if words[1:2] in (["start"], ["end"]) else None
    if ordinal is not None:
        number, words = int(ordinal.group(1)), words[1:]
    match words:
        case [name] if "." not in name:
            return Named(name)
        case ["launch", "of", mover]:
            return LaunchOf(mover)
        case ["start" | "end" as edge, "of", *rest]:
            mover, dot, name = " ".join(rest).partition(".")
            if dot and name:
                name = counted(name, number)
                return EdgeOf("start" if edge == "start" else "end", mover, name)
    raise wrong(
        f"`{quoted(value)}` is not an event",
        "Write an encounter's, trigger's or instant's name, `launch of MOVER`, `start of MOVER.PHASE` or "
        "`end of MOVER.PHASE`.",
    )


EventText = Annotated[
    EventWritten,
    BeforeValidator(event_written),
    WithJsonSchema(
        {
            "type": "string",
            "description": "an event",
            "examples": ["contact", "start of lead.brake"],
        }
    ),
]


def _hold_end(value: Any) -> EventWritten | Lateral:
    """An event, or the lateral acceleration that a curve has come to."""
    if isinstance(value, str) and value.endswith(LATERAL):
        return goal_of(value)
    return event_written(value)


HoldEnd = Annotated[
    EventWritten | Lateral,
    BeforeValidator(_hold_end),
    WithJsonSchema(
        {
            "type": "string",
            "description": "an event, or a lateral acceleration",
            "examples": ["contact", "4 m/s2 lateral"],
        }
    ),
]

PartText = Annotated[
    PartOf,
    BeforeValidator(_part),
    WithJsonSchema({"type": "string", "description": "MOVER.PHASE", "examples": ["subject.hold"]}),
]


def _place(value: Any) -> float | EventWritten:
    """A station, or an end of a named path piece."""
    text = text_of(value)
    if text.startswith(("start of ", "end of ")):
        return event_written(text)
    try:
        station = parse(text, "length")
    except QuantityError:
        station = -1.0
    if station < 0:
        raise wrong(
            f"`{quoted(text)}` is no place on a path",
            "Write a station, like `120 m`, or `start of MOVER.PIECE` or `end of MOVER.PIECE` with a named piece of "
            "its path.",
        )
    return station


PlaceText = Annotated[
    float | EventWritten,
    BeforeValidator(_place),
    WithJsonSchema(
        {
            "type": "string",
            "description": "a station, or an end of a named path piece",
            "examples": ["120 m", "end of subject.last"],
        }
    ),
]
