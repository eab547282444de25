"""Ramps as chains of constant-jerk pieces whose durations and accelerations are unknown.

Constant limits need three pieces (build-up, constant, release), a table over speed takes more. A rated
ramp is the closed form itself: nothing in it is unknown.
"""

from __future__ import annotations

import math
from dataclasses import replace

import casadi as ca

from choreo.solve.blocks import likely, quickest
from choreo.solve.formulation import Expression
from choreo.solve.ramp_rows import Link, RampModel, RampRows, is_infinite
from choreo.solve.ramp_tables import flat_limit, table_ramp
from choreo.solve.tolerances import LEAST_PIECE_S

# A pause on a ramp may last this long (s), as in the linear stage: what stays at a speed for longer is a hold.
LONGEST_PAUSE_S = 15
# A table that is one value whatever the speed, as a shape (its number is an expression).
FLAT = ((0.0, 1.0),)


def ramp_model(
    rows: RampRows,
    start_mps: Expression,
    end_mps: Expression,
    margin_mps2: Expression,
    *,
    may_pause: bool = False,
) -> RampModel:
    """Model one ramp between two speeds.

    margin_mps2: by how much a table is tightened. may_pause: on its way.
    """
    shape, ramp, form = rows.shape, rows.ramp, rows.formulation.form
    change = shape.direction * (end_mps - start_mps)
    level = len(shape.table) == 1
    if shape.rated or (form.at_limits and shape.unstated and level):
        if ramp.build_up_s is not None and rows.jerky:
            built_up = ramp.table[0][1] / ramp.build_up_s
            rows.at_least("jerk, build-up", ramp.jerk_mps3, built_up, "m/s3")
        return RampModel(_rated_links(rows, change), None)
    if form.flat and len(shape.table) > 1:
        least = flat_limit(ramp.table, start_mps, end_mps)
        even = replace(ramp, table=((0.0, least),))
        model = _constant_limit(replace(rows, shape=replace(shape, table=FLAT), ramp=even), change)
    elif level and may_pause and shape.build_up_s is None:
        return _with_pause(rows, change, form.pause_share or 0.0)
    elif level:
        model = _constant_limit(rows, change)
    else:
        model = table_ramp(rows, start_mps, change, margin_mps2)
    _reaches(rows, model, change)
    if shape.least_mps2 is not None:
        lasts = sum(link.duration_s for link in model.links)
        rows.at_least("least rate", _longest_s(rows, change), lasts, "s")
    return model


def _longest_s(rows: RampRows, change: Expression) -> Expression:
    """How long the ramp lasts at its least rate."""
    least = rows.ramp.least_mps2
    if least is None:
        raise AssertionError(rows.label)
    ramp = replace(rows.ramp, table=((0.0, least),))
    level = replace(rows, shape=replace(rows.shape, table=FLAT), ramp=ramp)
    return sum(link.duration_s for link in _rated_links(level, change))


def _reaches(rows: RampRows, model: RampModel, change: Expression) -> None:
    gained = sum(link.gained_mps for link in model.links)
    rows.equal("reaches its speed", rows.shape.direction * gained, change, "m/s")


def _with_pause(rows: RampRows, change: Expression, share: float) -> RampModel:
    """A ramp that pauses after a share of its change; the smaller step is as quick as it can be."""
    small, large = (share, 1 - share) if share < 0.5 else (1 - share, share)
    quick = _rated_links(rows, small * change)
    model = _constant_limit(rows, large * change)
    _reaches(rows, model, large * change)
    pause = Link(rows.unknown("pause", 0, LONGEST_PAUSE_S, 1), 0, 0)
    before, after = (quick, model.links) if share < 0.5 else (model.links, quick)
    return RampModel((*before, pause, *after), model.use)


def _rated_links(rows: RampRows, change: Expression) -> tuple[Link, ...]:
    """The quickest ramp at the table's rate; as motion.ramp.rated_ramp, in expressions."""
    ramp = rows.ramp
    rate = ramp.table[0][1]
    build_up = ramp.jerk_mps3
    if ramp.build_up_s is not None:
        build_up = rate / ramp.build_up_s
    slow_in = 0.0 if is_infinite(build_up) else 1 / build_up
    slow_out = 0.0 if is_infinite(ramp.jerk_mps3) else 1 / ramp.jerk_mps3
    if is_infinite(build_up) and is_infinite(ramp.jerk_mps3):
        signed = rows.shape.direction * rate
        return (Link(ca.fmax(change, 0) / rate, signed, signed),)
    peak, into, constant, out = quickest(rate, slow_in, slow_out, change)
    signed = rows.shape.direction * peak
    links = [Link(constant, signed, signed)]
    if not is_infinite(build_up):
        links.insert(0, Link(into, 0, signed))
    if not is_infinite(ramp.jerk_mps3):
        links.append(Link(out, signed, 0))
    return tuple(links)


def _constant_limit(rows: RampRows, change: Expression) -> RampModel:
    """Build-up, constant rate, release.

    Build-up and release are mirror images, as people drive, unless both length and duration are prescribed: a start
    that creeps costs no runway, only time, and nobody would drive it.
    """
    shape, ramp, jerky = rows.shape, rows.ramp, rows.jerky
    limit, jerk = ramp.table[0][1], ramp.jerk_mps3
    given = shape.build_up_s is not None
    peak_guess = limit
    constant_guess, edge_guess = ca.fmax(change, 0) / limit, 0
    if jerky:
        peak_guess, constant_guess, edge_guess = likely(limit, jerk, change)
    # Between open speeds the least value of a table hangs on unknowns: a bound can't, a row can.
    is_open = rows.formulation.depends_on(limit)
    peak = rows.unknown("peak", 0, math.inf if is_open else limit, peak_guess)
    if is_open:
        rows.at_least("least of the table", limit, peak, "m/s2")
    constant = rows.unknown("constant", 0, math.inf, constant_guess)
    signed = shape.direction * peak
    links = [Link(constant, signed, signed)]
    start: Expression = ramp.build_up_s
    if jerky and not given:
        start = _edge(rows, "build-up", edge_guess)
    if jerky or given:
        links.insert(0, Link(start, 0, signed))
    if jerky:
        both = shape.over_m is not None and shape.lasting_s is not None
        mirrored = not given and not both
        end = start if mirrored else _edge(rows, "release", edge_guess)
        links.append(Link(end, signed, 0))
        edges = [("build-up", start)] if mirrored else [("build-up", start), ("release", end)]
        for word, edge in edges:
            rows.at_least(f"jerk, {word}", jerk * edge, peak, "m/s2")
    return RampModel(tuple(links), peak / limit)


def _edge(rows: RampRows, what: str, guess_s: Expression) -> Expression:
    return rows.unknown(what, LEAST_PIECE_S, math.inf, guess_s)
