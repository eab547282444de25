"""Movers whose ways cross and that should not meet: one leaves the zone where they could before the other enters it.

That is asked for only where a found plan makes them touch. Two bodies can be in one zone and yet be apart, so these
rows find a plan, but prove nothing.
"""

from __future__ import annotations

from choreo.linear.affine import unknown
from choreo.linear.model import Model
from choreo.linear.records import Choice, Look
from choreo.linear.rows import Row, at_least
from choreo.problem.records import PassAt
from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class Crossing:
    """Two movers by name, and the stations in m at which each enters and leaves what the other sweeps."""

    a: str
    b: str
    entry_a_m: float
    exit_a_m: float
    entry_b_m: float
    exit_b_m: float


def keep_clear(model: Model, crossing: Crossing) -> None:
    """Ask for a time at which one has left the zone and the other has not entered it, or that one never comes there."""
    a, b = crossing.a, crossing.b
    label = f"{a} and {b}, one after the other"
    time = unknown(f"{label}: time")
    model.rows.append(at_least(time, 0.0, "", "s"))
    at_a, at_b = model.look(a, time, label), model.look(b, time, label)
    ways: list[tuple[Row, ...]] = [
        (_left(at_a, crossing.exit_a_m), _ahead(at_b, crossing.entry_b_m)),
        (_left(at_b, crossing.exit_b_m), _ahead(at_a, crossing.entry_a_m)),
    ]
    for name, entry_m in ((a, crossing.entry_a_m), (b, crossing.entry_b_m)):
        ends = model.courses[name].end_station.times(-1.0).plus(entry_m)
        ways.append((at_least(ends, 0.0, f"{name} stops before the way of the other", "m"),))
    model.choices.append(Choice(label, tuple(ways)))


def drive_on(model: Model, room_m: float) -> bool:
    """Ask for what nobody says who stages it: that those of a pass drive on, and that marks are passed on the way.

    room_m: by which starts and ends keep off. Says whether there is anything of the kind.
    """
    marks = list(model.marked())
    for course, station_m in marks if room_m > 0.0 else ():
        what, origin = f"{course.mover.name} passes a mark on the way", course.mover.origin
        behind, beyond = course.start.minus(station_m), course.end_station.minus(station_m)
        if not course.mover.rolls:
            model.rows.append(at_least(behind.times(-1.0), room_m, what, "m", origin))
        model.rows.append(at_least(beyond, room_m, what, "m", origin))
    return _pass_on(model, room_m) or bool(marks)


def _pass_on(model: Model, room_m: float) -> bool:
    """Both of a pass drive on: the first out of the other's way, the second into that of the first.

    room_m: that both come to rest beyond. Says whether there is a pass.
    """
    passes = [one for one in model.problem.encounters if isinstance(one, PassAt)]
    for one in passes if room_m > 0.0 else ():
        for name, other, from_m in (
            (one.first, one.second, one.exit_first_m),
            (one.second, one.first, one.entry_second_m),
        ):
            if model.courses[name].steps:
                beyond = model.courses[name].end_station.minus(from_m)
                what = f"{name} drives on over the way of {other}"
                model.rows.append(at_least(beyond, room_m, what, "m", one.origin))
    return bool(passes)


def _left(look: Look, exit_m: float) -> Row:
    return at_least(look.station, exit_m, f"{look.mover} passes first", "m")


def _ahead(look: Look, entry_m: float) -> Row:
    return at_least(look.station.times(-1.0).plus(entry_m), 0.0, f"{look.mover} passes second", "m")
