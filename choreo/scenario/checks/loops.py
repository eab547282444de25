"""Moments that are defined by each other in a circle: none of them could come first."""

from __future__ import annotations

from collections.abc import Mapping
from typing import assert_never

from choreo.scenario.making.draft import Draft
from choreo.scenario.records.scenario import (
    Contact,
    Encounter,
    Event,
    Gap,
    Instant,
    Mover,
    Pass,
)
from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class _Moments:
    """Each moment is defined by at most one other, so a walk from it either ends or goes round."""

    encounters: Mapping[str, Encounter]
    instants: Mapping[str, Instant]
    movers: Mapping[str, Mover]

    def loop_from(self, start: Event) -> list[Event]:
        """Give the moments from start round to itself; empty when it is in no circle."""
        chain = [start]
        following = self._defined_by(start)
        while following is not None and following not in chain:
            chain.append(following)
            following = self._defined_by(following)
        return chain if following == start else []

    def _defined_by(self, event: Event) -> Event | None:
        name = event.name or ""
        match event.kind:
            case "encounter":
                return _judged_at(self.encounters.get(name))
            case "instant":
                instant = self.instants.get(name)
                return None if instant is None else instant.before
            case "phase end":
                return self._end_of_hold(event)
            case "phase start":
                # A gap judged at the start of the phase after the hold it ends is not circular: it decides when the
                # phase starts.
                return None
            case "trigger" | "launch" | "mark start" | "mark end":
                # Circles through triggers are found in the graph of events, marks stand on the path.
                return None
        assert_never(event.kind)

    def _end_of_hold(self, event: Event) -> Event | None:
        mover = self.movers.get(event.mover or "")
        phases = () if mover is None else mover.programme
        return next((phase.until for phase in phases if phase.name == event.name), None)


def _at_event(encounter: Encounter) -> bool:
    return not isinstance(encounter, Gap) or encounter.held_until is None


def _judged_at(encounter: Encounter | None) -> Event | None:
    match encounter:
        case Gap():
            return encounter.at
        case Contact() | Pass() | None:
            return None  # where the movers are decides when
    assert_never(encounter)


def check_loops(
    draft: Draft,
    encounters: Mapping[str, Encounter],
    instants: Mapping[str, Instant],
    movers: Mapping[str, Mover],
) -> None:
    """No gap is judged at a moment that it decides itself, no instant stands before itself."""
    moments = _Moments(encounters, instants, movers)
    reported: set[Event] = set()
    for name in encounters:
        start = Event("encounter", name)
        loop = moments.loop_from(start)
        if loop and start not in reported:
            reported.update(loop)
            others = [("encounters", str(e.name)) for e in loop[1:] if e.kind == "encounter"]
            draft.fault(
                "scenario.encounter-loop",
                ("encounters", name, "at" if _at_event(encounters[name]) else "during"),
                related=others,
                encounter=name,
                loop=_in_words(loop),
            )
    for name in instants:
        start = Event("instant", name)
        loop = moments.loop_from(start)
        if loop and start not in reported:
            keys = ("instants", name)
            draft.fault("scenario.instant-loop", keys, instant=name, loop=_in_words(loop))


def _in_words(loop: list[Event]) -> str:
    return " -> ".join(_event_in_words(event) for event in [*loop, loop[0]])


def _event_in_words(event: Event) -> str:
    if event.kind == "phase end":
        return f"end of {event.mover}.{event.name}"
    return str(event.name)
