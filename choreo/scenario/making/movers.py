"""Movers as written -> records: bodies, limits, starts."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import TypeVar

from choreo.scenario.making.draft import Draft
from choreo.scenario.records.scenario import (
    FREE,
    Body,
    Failsafe,
    Limits,
    Mover,
    Phase,
    Span,
    Start,
    Usual,
)
from choreo.scenario.text.document import Keys
from choreo.scenario.written import scenario as w
from choreo.words.kinds import MoverKind

Block = TypeVar("Block", bound=w.Written)


# No vehicle or target is longer or wider than this (m): road trains are half as long.
MOST_BODY_M = 100.0
# Nor shorter or narrower: a cone of paper is wider.
LEAST_BODY_M = 0.01


def body_of(draft: Draft, keys: Keys, name: str, body: w.BodyWritten | None) -> Body | None:
    """Make a body from length and width, or from corners; none of a size that nothing has."""
    made = _shaped(draft, keys, name, body)
    if made is None:
        return None
    for word, size_m in (("length", made.length_m), ("width", made.width_m)):
        if size_m > MOST_BODY_M:
            unit = "mm" if size_m >= 1000.0 else "cm"
            draft.fault(
                "scenario.bad-body",
                keys,
                mover=name,
                why=f"its {word} is {size_m:g} m, and nothing that is staged is over {MOST_BODY_M:g} m",
                instead=f"Was another unit meant? `{size_m:g} {unit}` is a {word} too.",
            )
            return None
        if size_m < LEAST_BODY_M:
            draft.fault(
                "scenario.bad-body",
                keys,
                mover=name,
                why=f"its {word} is {size_m:g} m, and nothing staged is under {LEAST_BODY_M:g} m",
                instead=f"Was another unit meant? `{size_m * 1000.0:g} m` is a {word} too.",
            )
            return None
    return made


def _shaped(draft: Draft, keys: Keys, name: str, body: w.BodyWritten | None) -> Body | None:
    if body is None:
        draft.fault("scenario.missing-body", keys, mover=name)
        return None
    if body.corners is not None:
        return _polygon(draft, keys, name, body.corners)
    if body.length is None or body.width is None:
        draft.fault("scenario.missing-body", keys, mover=name)
        return None
    front = body.length / 2 if body.front_overhang is None else body.front_overhang
    if not 0 <= front <= body.length:
        draft.fault(
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


def turned_round(body: Body) -> Body:
    """Give a body that drives with its rear ahead."""
    corners = tuple((-x, -y) for x, y in body.corners_m)
    return replace(
        body, corners_m=corners, front_m=body.rear_m, rear_m=body.front_m, backwards=True
    )


def _polygon(
    draft: Draft, keys: Keys, name: str, corners: tuple[tuple[float, float], ...]
) -> Body | None:
    turns = [_cross(corners[i - 2], corners[i - 1], corners[i]) for i in range(len(corners))]
    if len(corners) < 3 or not (all(t > 0 for t in turns) or all(t < 0 for t in turns)):
        draft.fault(
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


# Speed, acceleration and braking in examples, by the kind of mover; common practice, no source.
USUAL_LIMITS = ("130 km/h", "3 m/s2", "6 m/s2")
EXAMPLE_LIMITS: Mapping[MoverKind, tuple[str, str, str]] = {
    "subject": USUAL_LIMITS,
    "vehicle": USUAL_LIMITS,
    "motorcycle": USUAL_LIMITS,
    "bicycle": ("30 km/h", "1.5 m/s2", "3 m/s2"),
    "pedestrian": ("10 km/h", "2 m/s2", "2 m/s2"),
    "obstacle": USUAL_LIMITS,
}


def limits_of(
    draft: Draft,
    keys: Keys,
    name: str,
    limits: w.LimitsWritten | None,
    *,
    moves: bool,
    kind: MoverKind | None,
) -> Limits | None:
    """Make limits; a mover that only stands needs none. kind: for examples in messages."""
    given = limits or w.LimitsWritten()
    complete = True
    if moves:
        examples = USUAL_LIMITS if kind is None else EXAMPLE_LIMITS[kind]
        for limit, value, example in zip(
            ("speed", "accelerate", "brake"),
            (given.speed, given.accelerate, given.brake),
            examples,
            strict=True,
        ):
            if value is None:
                draft.fault(
                    "scenario.missing-limit", keys, mover=name, limit=limit, example=example
                )
                complete = False
    if given.combined == "ellipse" and given.lateral is None:
        where = f"the limits of {name} (`combined: ellipse`)"
        draft.fault("scenario.missing-key", keys, key="lateral", where=where)
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
        combined=given.combined or "none",
    )


def filled_in(mover: w.MoverWritten, entry: w.FleetEntryWritten) -> w.MoverWritten:
    """Give a mover with what its fleet's entry says where it says nothing itself."""
    own = mover.brake_latency
    return mover.model_copy(
        update={
            "kind": mover.kind or entry.kind,
            "body": mover.body or entry.body,
            "limits": key_by_key(mover.limits, entry.limits),
            "usual": key_by_key(mover.usual, entry.usual),
            "launch": mover.launch or entry.launch,
            "errors": key_by_key(mover.errors, entry.errors, inside=("start_mark", "path")),
            "brake_latency": entry.brake_latency if own is None else own,
        }
    )


def key_by_key(
    own: Block | None, shared: Block | None, *, inside: tuple[str, ...] = ()
) -> Block | None:
    """Give what is shared, each key of the own block in its place; inside: blocks that are looked into."""
    if own is None or shared is None:
        return own or shared
    update = {key: getattr(own, key) for key in own.model_fields_set}
    for key in set(inside) & set(update):
        update[key] = key_by_key(update[key], getattr(shared, key))
    return shared.model_copy(update=update)


def start_of(written: w.StartWritten | None) -> Start:
    """Make a start; free and standing unless written."""
    if written is None:
        return Start()
    span = FREE if written.station is None else written.station
    return Start(span, written.speed, written.at is not None)


def mover_of(
    written: w.MoverWritten, name: str, body: Body, limits: Limits, programme: tuple[Phase, ...]
) -> Mover:
    """Put a mover together from its made parts."""
    kind = written.kind or ("subject" if name == "subject" else "vehicle")
    stand = None if written.stand is None else (*written.stand.at, written.stand.heading)
    start = start_of(written.start) if stand is None else Start(Span(0.0, 0.0))
    usual = None
    if written.usual is not None:
        usual = Usual(written.usual.accelerate, written.usual.brake)
    launch_s = 0.0 if written.launch is None else written.launch.latency
    brake_s = written.brake_latency or 0.0
    return Mover(
        kind, written.path, stand, body, limits, start, programme, usual, launch_s, brake_s
    )
