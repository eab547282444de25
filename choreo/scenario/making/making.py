"""File models -> records: defaults, derived bodies, programmes; faults are gathered, not raised."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from choreo.scenario.records.safety import Safety
from choreo.scenario.records.scenario import (
    Body,
    Contact,
    Event,
    Failsafe,
    Gap,
    Instant,
    Limits,
    Mover,
    Pass,
    Span,
    Start,
    Trigger,
)
from choreo.scenario.text.document import MOST_FAULTS, Document, Keys
from choreo.scenario.written import scenario as w
from choreo.words import Finding
from choreo.words.nearest import suggestion
from choreo.words.quantities import QuantityError, parse, quoted
from choreo.words.tolerances import GAP_TOLERANCE_M, GAP_TOLERANCE_S


@dataclass(frozen=True)
class Landmarks:
    """The names inside one mover that events can refer to; whole: False when a faulty part may hide some."""

    phases: Sequence[str] = ()
    marks: Sequence[str] = ()
    whole: bool = True


@dataclass
class Making:
    """What one file is turned into, with the faults found on the way.

    names: of encounters, triggers and instants, with their kind. paths, movers: every name that is written,
    faulty ones too, so that a reference to a faulty entry is not told as unknown. files: read for it.
    """

    document: Document
    names: dict[str, str] = field(default_factory=dict)
    movers: dict[str, Landmarks] = field(default_factory=dict)
    paths: list[str] = field(default_factory=list)
    paths_known: bool = True
    files: list[str] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)

    def fault(
        self,
        code: str,
        keys: Keys,
        /,
        severity: str = "error",
        related: Iterable[Keys] = (),
        **values: Any,
    ) -> None:
        """Add a finding at the place of a key path."""
        places = tuple(self.document.origin(other) for other in related)
        self.findings.append(Finding(code, severity, self.document.origin(keys), values, places))

    def unknown(self, keys: Keys, what: str, name: str, known: Iterable[str]) -> None:
        """Add a finding for a name that refers to nothing, with the nearest that does."""
        # Beyond what is shown anyway, the search for the nearest name would only cost time.
        advice = suggestion(name, known) if len(self.findings) < MOST_FAULTS else ""
        self.fault("scenario.unknown-name", keys, what=what, name=quoted(name), suggestion=advice)

    def one_of(self, keys: Keys, where: str, choices: Mapping[str, Any]) -> str | None:
        """Give the one choice that is set; fault when none or several are."""
        chosen = [name for name, value in choices.items() if value is not None]
        if len(chosen) == 1:
            return chosen[0]
        words = ", ".join(f"`{name}`" for name in choices)
        count = "none" if not chosen else f"{len(chosen)}"
        self.fault("scenario.one-of", keys, where=where, count=count, choices=words)
        return None


def body_of(making: Making, keys: Keys, name: str, body: w.BodyWritten | None) -> Body | None:
    """Make a body from length and width, or from corners."""
    if body is None:
        making.fault("scenario.missing-body", keys, mover=name)
        return None
    if body.corners is not None:
        return _polygon(making, keys, name, body.corners)
    if body.length is None or body.width is None:
        making.fault("scenario.missing-body", keys, mover=name)
        return None
    front = body.length / 2 if body.front_overhang is None else body.front_overhang
    if not 0 <= front <= body.length:
        making.fault(
            "scenario.bad-body",
            keys,
            mover=name,
            why="its front overhang is longer than its body",
            instead="`front overhang` runs from the reference point to the front: 0 m up to the length.",
        )
        return None
    half, rear = body.width / 2, body.length - front
    corners = ((front, half), (-rear, half), (-rear, -half), (front, -half))
    return Body(corners, body.length, body.width, front, rear)


def _polygon(
    making: Making, keys: Keys, name: str, corners: tuple[tuple[float, float], ...]
) -> Body | None:
    turns = [_cross(corners[i - 2], corners[i - 1], corners[i]) for i in range(len(corners))]
    if len(corners) < 3 or not (all(t > 0 for t in turns) or all(t < 0 for t in turns)):
        making.fault(
            "scenario.bad-body",
            keys,
            mover=name,
            why="its corners are not a convex polygon",
            instead="List at least three corners in one sense of rotation, without dents.",
        )
        return None
    ordered = corners if turns[0] > 0 else tuple(reversed(corners))
    xs, ys = [x for x, _ in corners], [y for _, y in corners]
    return Body(ordered, max(xs) - min(xs), max(ys) - min(ys), max(xs), -min(xs))


def _cross(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> float:
    return (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0])


def limits_of(
    making: Making, keys: Keys, name: str, limits: w.LimitsWritten | None, *, moves: bool
) -> Limits | None:
    """Make limits; a mover that only stands needs none."""
    given = limits or w.LimitsWritten()
    complete = True
    if moves:
        for limit, value, example in (
            ("speed", given.speed, "130 km/h"),
            ("accelerate", given.accelerate, "3 m/s2"),
            ("brake", given.brake, "6 m/s2"),
        ):
            if value is None:
                making.fault(
                    "scenario.missing-limit", keys, mover=name, limit=limit, example=example
                )
                complete = False
    if not complete:
        return None
    failsafe = None
    if given.failsafe is not None:
        failsafe = Failsafe(given.failsafe.brake, given.failsafe.reaction)
    return Limits(
        speed_mps=given.speed or 0.0,
        accelerate=given.accelerate or ((0.0, 1.0),),
        brake_mps2=given.brake or 1.0,
        jerk_mps3=given.jerk or math.inf,
        lateral_mps2=given.lateral or math.inf,
        stroke_m=given.stroke or math.inf,
        failsafe=failsafe,
    )


def trigger_of(making: Making, name: str, written: w.TriggerWritten) -> Trigger | None:
    """Make a trigger; who waits for it is filled in later."""
    keys: Keys = ("triggers", name, "when")
    conditions = {
        "station": written.when.station,
        "distance": written.when.distance,
        "time to collision": written.when.time_to_collision,
        "speed": written.when.speed,
        "time": written.when.time,
    }
    condition = making.one_of(keys, f"trigger `{name}`", conditions)
    setting = None if condition is None else conditions[condition]
    if condition is None or setting is None:
        return None
    if condition == "speed" and not setting.fixed:
        setting = Span(max(setting.lo, 0.0), setting.hi)
    return Trigger(
        written.watch,
        condition,
        setting,
        written.to,
        written.latency,
        written.sampling,
        written.during,
    )


def encounter_of(
    making: Making, name: str, written: Any, bodies: Mapping[str, Body]
) -> Contact | Gap | Pass | None:
    """Make an encounter of its kind."""
    if isinstance(written, w.ContactWritten):
        return _contact(making, name, written, bodies)
    if isinstance(written, w.GapWritten):
        measures = {
            "distance": written.distance,
            "time gap": written.time_gap,
            "time to collision": written.time_to_collision,
        }
    else:
        measures = {"distance": written.distance, "time": written.time}
    keys: Keys = ("encounters", name)
    measure = making.one_of(keys, f"encounter `{name}`", measures)
    wanted = None if measure is None else measures[measure]
    if measure is None or wanted is None:
        return None
    tolerance = _tolerance(making, (*keys, "tolerance"), written.tolerance, measure)
    if isinstance(written, w.GapWritten):
        at = resolved(making, (*keys, "at"), written.at)
        if at is None:
            return None
        return Gap(written.of, written.with_, measure, wanted, at, tolerance)
    return Pass(
        written.of, written.with_, measure, wanted, written.first, written.between, tolerance
    )


def _tolerance(making: Making, keys: Keys, text: str | None, measure: str) -> float:
    kind = "length" if measure == "distance" else "time"
    if text is None:
        return GAP_TOLERANCE_M if kind == "length" else GAP_TOLERANCE_S
    try:
        value = parse(text, kind)
    except QuantityError as error:
        making.fault(
            "scenario.bad-value", keys, where="tolerance", what=error.wrong, instead=error.instead
        )
        return 1.0
    if value <= 0:
        making.fault(
            "scenario.bad-value",
            keys,
            where="tolerance",
            what="a tolerance must be more than zero",
            instead="Write a positive tolerance.",
        )
    return value


def _contact(
    making: Making, name: str, written: w.ContactWritten, bodies: Mapping[str, Body]
) -> Contact | None:
    keys: Keys = ("encounters", name)
    ways = {"overlap": written.overlap, "offset": written.offset, "side": written.side}
    way = making.one_of(keys, f"encounter `{name}`", ways)
    body = bodies.get(written.of)
    if way is None or body is None:
        return None
    face, overlap = "front", written.overlap
    if written.overlap is not None:
        # EN-FC v1.1 (October 2025) 1.2.5: 0 % is the outer right edge, 100 % the outer left edge.
        impact = (written.overlap - 0.5) * body.width_m
    elif written.side is not None:
        # Same clause: for side impacts 0 % is the rear, 100 % the front of the vehicle.
        face, impact = "side", written.side * body.length_m
    else:
        impact = written.offset or 0.0
    share = written.overlap if written.overlap is not None else written.side
    if share is not None and not -1 <= share <= 2:
        making.fault(
            "scenario.bad-value",
            (*keys, way),
            where=f"encounter `{name}`",
            what=f"{share * 100:g} % is far outside the body",
            instead="Write a share between -100 % and 200 %.",
        )
    return Contact(
        written.of, written.with_, face, impact, overlap, written.point, written.tolerance
    )


def instant_of(making: Making, name: str, written: w.InstantWritten) -> Instant | None:
    """Make a named instant."""
    before = resolved(making, ("instants", name, "before"), written.before)
    return None if before is None else Instant(before, written.by)


def safety_of(written: w.SafetyWritten | None) -> Safety:
    """Make the margins: what isn't written keeps its default."""
    given = {} if written is None else written.model_dump(exclude_none=True)
    return Safety(**{f"{name}_m": value for name, value in given.items()})


def start_of(written: w.StartWritten | None) -> Start:
    """Make a start; free and standing unless told."""
    if written is None:
        return Start()
    span = Span(-math.inf, math.inf) if written.station is None else written.station
    return Start(span, written.speed)


def mover_of(
    written: w.MoverWritten, name: str, body: Body, limits: Limits, programme: tuple[Any, ...]
) -> Mover:
    """Put a mover together from its made parts."""
    kind = written.kind or ("subject" if name == "subject" else "vehicle")
    stand = None if written.stand is None else (*written.stand.at, written.stand.heading)
    start = start_of(written.start) if stand is None else Start(Span(0.0, 0.0))
    return Mover(kind, written.path, stand, body, limits, start, programme)


def resolved(making: Making, keys: Keys, event: Event | None) -> Event | None:
    """Find out what an event expression names: encounter, trigger, instant, phase, or path piece."""
    if event is None:
        return None
    if event.kind == "name":
        return _resolved_name(making, keys, event.name or "")
    if event.mover not in making.movers:
        making.unknown(keys, "mover", event.mover or "", making.movers)
        return None
    if event.kind == "launch":
        return event
    known = making.movers[event.mover]
    if event.name in known.phases:
        return Event(f"phase {event.kind}", event.name, event.mover)
    if event.name in known.marks:
        return Event(f"mark {event.kind}", event.name, event.mover)
    if known.whole:
        what = f"phase or named path piece of {event.mover}"
        making.unknown(keys, what, event.name or "", [*known.phases, *known.marks])
    return None


def _resolved_name(making: Making, keys: Keys, name: str) -> Event | None:
    kind = making.names.get(name)
    if kind is None:
        making.unknown(keys, "encounter, trigger or instant", name, making.names)
        return None
    return Event(kind, name)
