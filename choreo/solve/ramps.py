"""Ramps as chains of constant-jerk pieces whose durations and accelerations are unknown.

Constant limits need three pieces (build-up, constant, release), a table over speed takes more. A rated
ramp is the closed form itself: nothing in it is unknown.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise

import casadi as ca

from choreo.problem.records import Problem, Ramp
from choreo.solve.tolerances import LEAST_PIECE_S
from choreo.solve.unknowns import Expression, Programme

LONGEST_PAUSE_S = 600
FLAT = ((0.0, 1.0),)


@dataclass(frozen=True, slots=True)
class Link:
    """A piece of a ramp: duration, acceleration at its start and its end, signed."""

    duration_s: Expression
    start_mps2: Expression
    end_mps2: Expression


@dataclass(frozen=True, slots=True)
class RampModel:
    """The links of a ramp and how much of its limit it uses (None where that is not free)."""

    links: tuple[Link, ...]
    use: Expression | None


def ramp_model(
    programme: Programme,
    label: str,
    shape: Ramp,
    ramp: Ramp,
    start_mps: Expression,
    end_mps: Expression,
    margin_mps2: Expression,
    *,
    may_pause: bool = False,
) -> RampModel:
    """Model one ramp.

    shape: the record with plain numbers (for structure); ramp: the same with symbols.
    start_mps, end_mps: speeds. margin_mps2: by how much the table is tightened. may_pause: on its way.
    """
    change = shape.direction * (end_mps - start_mps)
    if shape.rated:
        if ramp.build_up_s is not None and not _infinite(ramp.jerk_mps3):
            built_up = ramp.table[0][1] / ramp.build_up_s
            programme.at_least(
                f"{label}: jerk, build-up", ramp.jerk_mps3, built_up, "m/s3", shape.origin
            )
        return RampModel(_rated_links(shape, ramp, change), None)
    if programme.form.flat and len(shape.table) > 1:
        least = flat_limit(ramp.table, start_mps, end_mps)
        model = _constant_limit(
            programme,
            label,
            replace(shape, table=FLAT),
            replace(ramp, table=((0.0, least),)),
            change,
        )
    elif len(shape.table) == 1 and may_pause and shape.build_up_s is None:
        share = programme.form.pause_share or 0.0
        return _with_pause(programme, label, shape, ramp, change, share)
    elif len(shape.table) == 1:
        model = _constant_limit(programme, label, shape, ramp, change)
    else:
        model = _table_limit(programme, label, shape, ramp, start_mps, change, margin_mps2)
    gained = sum(link.duration_s * (link.start_mps2 + link.end_mps2) / 2 for link in model.links)
    programme.equal(
        f"{label}: reaches its speed", shape.direction * gained, change, "m/s", shape.origin
    )
    return model


def _with_pause(
    programme: Programme, label: str, shape: Ramp, ramp: Ramp, change: Expression, share: float
) -> RampModel:
    """A ramp that pauses after a share of its change; the smaller step is as quick as it can be."""
    small, large = (share, 1 - share) if share < 0.5 else (1 - share, share)
    quick = list(_rated_links(shape, ramp, small * change))
    model = _constant_limit(programme, label, shape, ramp, large * change)
    gained = sum(k.duration_s * (k.start_mps2 + k.end_mps2) / 2 for k in model.links)
    programme.equal(
        f"{label}: reaches its speed", shape.direction * gained, large * change, "m/s", shape.origin
    )
    pause = [Link(programme.unknown(f"{label}: pause", 0, LONGEST_PAUSE_S, 1), 0, 0)]
    steps = quick + pause + list(model.links) if share < 0.5 else list(model.links) + pause + quick
    return RampModel(tuple(steps), model.use)


def _rated_links(shape: Ramp, ramp: Ramp, change: Expression) -> tuple[Link, ...]:
    rate = ramp.table[0][1]
    build_up = ramp.jerk_mps3
    if ramp.build_up_s is not None:
        build_up = rate / ramp.build_up_s
    slow_in = 0.0 if _infinite(build_up) else 1 / build_up
    slow_out = 0.0 if _infinite(ramp.jerk_mps3) else 1 / ramp.jerk_mps3
    slowness = slow_in + slow_out
    change = ca.fmax(change, 0)
    peak = rate
    if not (isinstance(slowness, float) and slowness == 0):
        # The tiny addend keeps the square root's slope finite where a speed change vanishes.
        peak = ca.fmin(rate, ca.sqrt(2 * change / slowness + LEAST_PIECE_S**4))
    constant = ca.fmax((change - peak * peak * slowness / 2) / peak, 0)
    signed = shape.direction * peak
    links = [Link(constant, signed, signed)]
    if not _infinite(build_up):
        links.insert(0, Link(peak * slow_in, 0, signed))
    if not _infinite(ramp.jerk_mps3):
        links.append(Link(peak * slow_out, signed, 0))
    return tuple(links)


def _infinite(value: Expression) -> bool:
    return isinstance(value, float) and math.isinf(value)


def _constant_limit(
    programme: Programme, label: str, shape: Ramp, ramp: Ramp, change: Expression
) -> RampModel:
    """Build-up, constant rate, release.

    Build-up and release are mirror images unless both length and duration are prescribed: a start that creeps
    costs no runway, only time, and nobody would drive it.
    """
    limit, jerk = ramp.table[0][1], ramp.jerk_mps3
    jerky = not _infinite(jerk)
    given = shape.build_up_s is not None
    peak_guess = ca.fmin(limit, ca.sqrt(ca.fmax(change, 0) * jerk + 1 / 100)) if jerky else limit
    peak = programme.unknown(f"{label}: peak", 0, limit, peak_guess)
    rest = ca.fmax(change, 0) / peak_guess - (peak_guess / jerk if jerky else 0)
    constant = programme.unknown(f"{label}: constant", 0, math.inf, ca.fmax(rest, 0))
    signed = shape.direction * peak
    links = [Link(constant, signed, signed)]
    start: Expression = ramp.build_up_s
    if jerky and not given:
        start = _edge(programme, f"{label}: build-up", peak_guess / jerk)
    if jerky or given:
        links.insert(0, Link(start, 0, signed))
    if jerky:
        both = shape.over_m is not None and shape.lasting_s is not None
        mirrored = not given and not both
        end = start if mirrored else _edge(programme, f"{label}: release", peak_guess / jerk)
        links.append(Link(end, signed, 0))
        edges = [("build-up", start)] if mirrored else [("build-up", start), ("release", end)]
        for word, edge in edges:
            programme.at_least(f"{label}: jerk, {word}", jerk * edge, peak, "m/s2", shape.origin)
    return RampModel(tuple(links), peak / limit)


def _edge(programme: Programme, label: str, guess_s: Expression) -> Expression:
    return programme.unknown(label, LEAST_PIECE_S, math.inf, guess_s)


def _table_limit(
    programme: Programme,
    label: str,
    shape: Ramp,
    ramp: Ramp,
    start_mps: Expression,
    change: Expression,
    margin_mps2: Expression,
) -> RampModel:
    """One share of what the table allows at each speed, held from node to node.

    Leaving the nodes free below the table would admit creeping starts that cost no runway, only time.
    """
    jerky = not _infinite(ramp.jerk_mps3)
    pieces = programme.form.table_pieces
    use = programme.unknown(f"{label}: use of the table", 0, 1, 1)
    mean = sum(value for _, value in ramp.table) / len(ramp.table)
    durations = _table_durations(programme, label, ramp, change, mean, jerky)
    links: list[Link] = []
    speed, last = start_mps, _table_node(programme, label, 0, mean, jerky)
    for index, duration in enumerate(durations, start=1):
        first, last = last, _table_node(programme, label, index, mean, jerky)
        links.append(Link(duration, shape.direction * first, shape.direction * last))
        if jerky and index in (1, pieces):
            rise = last if index == 1 else first
            word = "build-up" if index == 1 else "release"
            programme.at_least(
                f"{label}: jerk, {word}", ramp.jerk_mps3 * duration, rise, "m/s2", shape.origin
            )
        elif jerky:
            # A steep table may ask for more jerk than there is: then it can't be followed.
            for change_of in (last - first, first - last):
                programme.at_least(
                    f"{label}: jerk along the table",
                    ramp.jerk_mps3 * duration,
                    change_of,
                    "m/s2",
                    shape.origin,
                )
        if index == 1 and not jerky:
            _on_table(programme, label, shape, ramp, use, speed, first, margin_mps2)
        speed = speed + shape.direction * duration * (first + last) / 2
        if index < pieces or not jerky:
            _on_table(programme, label, shape, ramp, use, speed, last, margin_mps2)
    return RampModel(tuple(links), use)


def _on_table(
    programme: Programme,
    label: str,
    shape: Ramp,
    ramp: Ramp,
    use: Expression,
    speed: Expression,
    accel: Expression,
    margin_mps2: Expression,
) -> None:
    allowed = table_expression(ramp.table, speed) - margin_mps2
    programme.equal(f"{label}: acceleration table", accel, use * allowed, "m/s2", shape.origin)


def _table_durations(
    programme: Programme, label: str, ramp: Ramp, change: Expression, mean: Expression, jerky: bool
) -> list[Expression]:
    """First and last piece have their own duration, those between share one: no piece can idle."""
    whole = ca.fmax(change, 0) / mean
    pieces = programme.form.table_pieces
    if not jerky:
        same = programme.unknown(f"{label}: pieces", LEAST_PIECE_S, math.inf, whole / pieces)
        return [same] * pieces
    edge = mean / ramp.jerk_mps3
    first = programme.unknown(f"{label}: first piece", LEAST_PIECE_S, math.inf, edge)
    last = programme.unknown(f"{label}: last piece", LEAST_PIECE_S, math.inf, edge)
    inner = programme.unknown(f"{label}: inner pieces", LEAST_PIECE_S, math.inf, whole / pieces)
    return [first, *([inner] * (pieces - 2)), last]


def _table_node(
    programme: Programme, label: str, index: int, mean: Expression, jerky: bool
) -> Expression:
    if jerky and index in (0, programme.form.table_pieces):
        return 0
    return programme.unknown(f"{label}: acceleration {index}", 0, math.inf, mean)


def has_tables(problem: Problem) -> bool:
    """Tell whether any ramp is limited by a table over speed."""
    return any(
        isinstance(phase, Ramp) and len(phase.table) > 1
        for mover in problem.movers
        for phase in mover.phases
    )


def flat_limit(
    table: tuple[tuple[Expression, Expression], ...], start: Expression, end: Expression
) -> Expression:
    """Give the least value of a table between two speeds."""
    least = ca.fmin(table_expression(table, start), table_expression(table, end))
    low, high = ca.fmin(start, end), ca.fmax(start, end)
    for speed, value in table:
        inside = ca.logic_and(speed > low, speed < high)
        least = ca.fmin(least, ca.if_else(inside, value, least))
    return least


def table_expression(
    table: tuple[tuple[Expression, Expression], ...], speed: Expression
) -> Expression:
    """Give the table's value at a speed: linear between entries, flat beyond."""
    value = table[0][1]
    for (low, a_low), (high, a_high) in pairwise(table):
        share = (ca.fmin(ca.fmax(speed, low), high) - low) / (high - low)
        value = value + share * (a_high - a_low)
    return value
