"""Expressions that every motion is made of, as functions that are written once a process.

Putting arguments into one takes casadi no longer than writing two operations, whatever stands in it: a new structure is
mostly made of these.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cache
from typing import Any

import casadi as ca

from choreo.motion.cubic import gained, travelled
from choreo.solve.formulation import Expression
from choreo.solve.tolerances import LEAST_PIECE_S

# Durations below this (s) count as it where a jerk divides by them: far below any piece that is not skipped.
NO_TIME_S = LEAST_PIECE_S / 1000
# Keeps the guessed peak of a ramp that changes nothing away from 0, by which its duration is divided: (0.1 m/s2)^2.
LEAST_PEAK_SQUARED = 1 / 100


def block(write: Callable[..., Sequence[Expression]]) -> Callable[..., list[Expression]]:
    """Make a function of expressions one that is written at its first call and filled in at every other.

    write: gives expressions of its arguments, which are scalars, and asks nothing of their values.
    """
    count = write.__code__.co_argcount

    @cache
    def written() -> Any:
        symbols = [ca.SX.sym(name) for name in write.__code__.co_varnames[:count]]
        return ca.Function(write.__name__, symbols, list(write(*symbols)))

    def filled(*arguments: Expression) -> list[Expression]:
        given = list(arguments)
        if not any(isinstance(argument, ca.SX) for argument in given):
            given[0] = ca.SX(given[0])  # of numbers alone it would give numbers of casadi's
        answers: list[Expression] = written().call(given)
        return answers

    return filled


@block
def after_piece(
    time_s: Expression,
    station_m: Expression,
    speed_mps: Expression,
    duration_s: Expression,
    accel_mps2: Expression,
    jerk_mps3: Expression,
) -> Sequence[Expression]:
    """Time, station and speed at the end of a piece, of those at its start."""
    return (
        time_s + duration_s,
        station_m + travelled(duration_s, speed_mps, accel_mps2, jerk_mps3),
        speed_mps + gained(duration_s, accel_mps2, jerk_mps3),
    )


@block
def jerk_of(
    duration_s: Expression, start_mps2: Expression, end_mps2: Expression
) -> Sequence[Expression]:
    """Jerk of a piece between two accelerations."""
    return ((end_mps2 - start_mps2) / ca.fmax(duration_s, NO_TIME_S),)


@block
def gained_by(
    duration_s: Expression, start_mps2: Expression, end_mps2: Expression
) -> Sequence[Expression]:
    """Change of speed over a piece between two accelerations."""
    return (duration_s * (start_mps2 + end_mps2) / 2,)


@block
def quickest(
    rate_mps2: Expression, slow_in: Expression, slow_out: Expression, change_mps: Expression
) -> Sequence[Expression]:
    """Peak and durations of build-up, constant part and release of the quickest ramp, as motion.ramp.rated_ramp.

    slow_in, slow_out: one over the jerk of build-up and release, in s3/m; one of them isn't 0.
    """
    slowness, change = slow_in + slow_out, ca.fmax(change_mps, 0)
    # The tiny addend keeps the square root's slope finite where a speed change vanishes.
    peak = ca.fmin(rate_mps2, ca.sqrt(2 * change / slowness + LEAST_PIECE_S**4))
    constant = ca.fmax((change - peak * peak * slowness / 2) / peak, 0)
    return peak, peak * slow_in, constant, peak * slow_out


@block
def likely(
    limit_mps2: Expression, jerk_mps3: Expression, change_mps: Expression
) -> Sequence[Expression]:
    """Peak and durations of constant part and build-up that a ramp of constant limits likely has."""
    change = ca.fmax(change_mps, 0)
    peak = ca.fmin(limit_mps2, ca.sqrt(change * jerk_mps3 + LEAST_PEAK_SQUARED))
    return peak, ca.fmax(change / peak - peak / jerk_mps3, 0), peak / jerk_mps3


@block
def with_part_of_piece(
    time_s: Expression,
    station_m: Expression,
    reached_mps: Expression,
    start_s: Expression,
    duration_s: Expression,
    speed_mps: Expression,
    accel_mps2: Expression,
    jerk_mps3: Expression,
) -> Sequence[Expression]:
    """Station and reached speed, and what is added to both by the part of a piece that has passed at a time.

    From start_s on: of the piece, as its speed, acceleration and jerk.
    """
    u = ca.fmin(ca.fmax(time_s - start_s, 0), duration_s)
    return (
        station_m + travelled(u, speed_mps, accel_mps2, jerk_mps3),
        reached_mps + gained(u, accel_mps2, jerk_mps3),
    )
