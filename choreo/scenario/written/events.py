"""Event expressions as written: a name alone, a launch, or an edge of something that a mover has."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, WithJsonSchema

from choreo.scenario.text.repeats import counted
from choreo.scenario.written.fields import text_of, wrong
from choreo.words.quantities import quoted

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


def _event(value: Any) -> EventWritten:
    """An event expression; whether what it names exists is checked later."""
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
    BeforeValidator(_event),
    WithJsonSchema(
        {
            "type": "string",
            "description": "an event",
            "examples": ["contact", "start of lead.brake"],
        }
    ),
]
