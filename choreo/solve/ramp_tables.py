"""Ramps whose acceleration is limited by a table over speed: chains of pieces with their nodes on one share of it."""

from __future__ import annotations

import math
from itertools import pairwise

import casadi as ca

from choreo.problem.records import Problem, Ramp
from choreo.solve.formulation import Expression
from choreo.solve.ramp_rows import Link, RampModel, RampRows
from choreo.solve.tolerances import LEAST_PIECE_S

Table = tuple[tuple[Expression, Expression], ...]


def has_tables(problem: Problem) -> bool:
    """Say whether any ramp is limited by a table over speed."""
    return any(
        isinstance(phase, Ramp) and len(phase.table) > 1
        for mover in problem.movers
        for phase in mover.phases
    )


def table_ramp(
    rows: RampRows, start_mps: Expression, change: Expression, margin_mps2: Expression
) -> RampModel:
    """Model a ramp that uses one share of what the table allows at each speed, held from node to node.

    change: of speed, positive; margin_mps2: by how much the table is tightened. Leaving the nodes free below the table
    would admit creeping starts that cost no runway, only time.
    """
    shape, ramp, jerky = rows.shape, rows.ramp, rows.jerky
    pieces = rows.formulation.form.table_pieces
    full = rows.formulation.form.at_limits and shape.unstated
    use = 1 if full else rows.unknown("use of the table", 0, 1, 1, "use")
    mean = sum(value for _, value in ramp.table) / len(ramp.table)
    durations = _durations(rows, change, mean)
    links: list[Link] = []
    speed, last = start_mps, _node(rows, 0, mean)
    for index, duration in enumerate(durations, start=1):
        first, last = last, _node(rows, index, mean)
        links.append(Link(duration, shape.direction * first, shape.direction * last))
        if jerky and index in (1, pieces):
            rise = last if index == 1 else first
            word = "build-up" if index == 1 else "release"
            rows.at_least(f"jerk, {word}", ramp.jerk_mps3 * duration, rise, "m/s2")
        elif jerky:
            # A steep table may ask for more jerk than there is: then it can't be followed.
            for change_of in (last - first, first - last):
                rows.at_least("jerk along the table", ramp.jerk_mps3 * duration, change_of, "m/s2")
        if index == 1 and not jerky:
            _on_table(rows, use, speed, first, margin_mps2)
        speed = speed + shape.direction * duration * (first + last) / 2
        if index < pieces or not jerky:
            _on_table(rows, use, speed, last, margin_mps2)
    return RampModel(tuple(links), None if full else use)


def _on_table(
    rows: RampRows, use: Expression, speed: Expression, accel: Expression, margin_mps2: Expression
) -> None:
    allowed = table_expression(rows.ramp.table, speed) - margin_mps2
    rows.equal("acceleration table", accel, use * allowed, "m/s2")


def _durations(rows: RampRows, change: Expression, mean: Expression) -> list[Expression]:
    """First and last piece have their own duration, those between share one: no piece can idle."""
    whole = ca.fmax(change, 0) / mean
    pieces = rows.formulation.form.table_pieces
    if not rows.jerky:
        same = rows.unknown("pieces", LEAST_PIECE_S, math.inf, whole / pieces)
        return [same] * pieces
    edge = mean / rows.ramp.jerk_mps3
    first = rows.unknown("first piece", LEAST_PIECE_S, math.inf, edge)
    last = rows.unknown("last piece", LEAST_PIECE_S, math.inf, edge)
    inner = rows.unknown("inner pieces", LEAST_PIECE_S, math.inf, whole / pieces)
    return [first, *([inner] * (pieces - 2)), last]


def _node(rows: RampRows, index: int, mean: Expression) -> Expression:
    """The magnitude of acceleration at a node; with a jerk limit it is 0 at both ends."""
    if rows.jerky and index in (0, rows.formulation.form.table_pieces):
        return 0
    return rows.unknown(f"acceleration {index}", 0, math.inf, mean)


def flat_limit(table: Table, start: Expression, end: Expression) -> Expression:
    """Give the least value of a table between two speeds."""
    least = ca.fmin(table_expression(table, start), table_expression(table, end))
    low, high = ca.fmin(start, end), ca.fmax(start, end)
    for speed, value in table:
        inside = ca.logic_and(speed > low, speed < high)
        least = ca.fmin(least, ca.if_else(inside, value, least))
    return least


def table_expression(table: Table, speed: Expression) -> Expression:
    """Give the table's value at a speed: linear between entries, flat beyond."""
    value = table[0][1]
    for (low, a_low), (high, a_high) in pairwise(table):
        share = (ca.fmin(ca.fmax(speed, low), high) - low) / (high - low)
        value = value + share * (a_high - a_low)
    return value
