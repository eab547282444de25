"""When two bodies first touch in many runs, and where on the one that is hit."""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from choreo.errors.actors import Actor
from choreo.errors.motions import NEVER_S, Rows, RunMotion
from choreo.errors.shapes import Placed, Shape, seen_from
from choreo.words.records import dataclass

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

# They touch where they are this near (m): far below what decides anything, and above rounding.
TOUCH_M = 1e-11
# A step in time is never shorter than that in which they could near each other by this (m): grazes less deep than that
# may be overlooked.
GRAZE_M = 2e-3
STEPS = 4000
# Bodies near each other at least this fast (m/s): what stands is looked at again after a while.
SLOW_MPS = 1e-3
# What follows one after the other in a bracket closes it to this (s) in so many steps.
CLOSED_S = 1e-13
CLOSINGS = 80
# The closing speed is taken over this long (s) before they touch.
CLOSING_S = 1e-4
# A point belongs to a face that it is this near to (m); one turned up to this far (cosine) from ahead is the front.
FACE_M = 1e-5
FRONT_COSINE = 0.5


@dataclass(frozen=True, eq=False)
class Couple:
    """Two bodies in motion in many runs."""

    a: Actor
    motion_a: RunMotion
    b: Actor
    motion_b: RunMotion

    def placed(self, time_s: Floats, rows: Rows) -> tuple[Placed, Placed]:
        """Place both in these runs at times in s, shape (n,)."""
        return self._look(time_s, rows)[0]

    def apart_m(self, time_s: Floats, rows: Rows) -> Floats:
        """Give their separation in these runs at times in s, all of shape (n,)."""
        at_a, at_b = self.placed(time_s, rows)
        return self.a.shape.separation_m(at_a, self.b.shape, at_b)

    def first_touch_s(self, from_s: Floats, until_s: Floats, rows: Rows | None = None) -> Floats:
        """Give when they first touch between times in s, NEVER_S where they don't; all of shape (n,).

        rows: of these runs; of all, left out. A step is as long as nothing can touch for sure at the speeds and
        accelerations there are, or leads to where the last two separations point if that isn't half a body farther.
        """
        rows = self.motion_a.every if rows is None else rows
        most_mps = self._most(rows)
        bold_s = self._half_m / np.maximum(most_mps[0], SLOW_MPS)
        found = np.full(len(rows), NEVER_S)
        left = np.arange(len(rows))
        time = from_s.copy()
        apart, nearing = self._apart(time, rows)
        slope = np.zeros(len(rows))
        for _ in range(STEPS):
            hit = apart <= TOUCH_M
            found[left[hit]] = time[hit]
            going = ~hit & (time < until_s[left])
            if not going.any():
                break
            if not going.all():
                left = left[going]
                time, apart, slope, nearing = (one[going] for one in (time, apart, slope, nearing))
            falling = slope < 0.0
            depth = np.where(falling, apart, np.maximum(apart, GRAZE_M))
            surely = _surely_s(depth, nearing, most_mps[1][left])
            pointed = np.where(falling, apart / np.where(falling, -slope, 1.0), 0.0)
            step = np.maximum(surely, np.minimum(pointed, surely + bold_s[left]))
            after = np.minimum(time + step, until_s[left])
            then, nearing = self._apart(after, rows[left])
            over = then < -TOUCH_M
            if over.any():
                bracket = (time[over], after[over]), (apart[over], then[over])
                after[over] = _closed(self.apart_m, bracket, rows[left[over]])
                then[over] = 0.0
            lasting = after - time
            slope = np.where(
                lasting > 0.0, (then - apart) / np.where(lasting > 0.0, lasting, 1.0), 0.0
            )
            time, apart = after, then
        return found

    @cached_property
    def _half_m(self) -> float:
        """Half of what the two are across together."""
        return (self.a.shape.across_m + self.b.shape.across_m) / 2.0

    def _most(self, rows: Rows) -> tuple[Floats, Floats]:
        """Bounds of how fast points of the two near each other (m/s), and of how fast that grows (m/s2)."""
        speed, rate = np.zeros(len(rows)), np.zeros(len(rows))
        for actor, motion in ((self.a, self.motion_a), (self.b, self.motion_b)):
            most = motion.most_mps[rows]
            speed += most * actor.shape.ratio
            rate += motion.most_mps2[rows] * actor.shape.ratio + most**2 * actor.shape.bend_per_m
        return speed, rate

    def _apart(self, time_s: Floats, rows: Rows) -> tuple[Floats, Floats]:
        """Their separation, and a bound of how fast any of their points near each other then."""
        (at_a, at_b), (speed_a, speed_b) = self._look(time_s, rows)
        nearing = np.hypot(
            speed_a * at_a.cos - speed_b * at_b.cos, speed_a * at_a.sin - speed_b * at_b.sin
        )
        turning = speed_a * (self.a.shape.ratio - 1.0) + speed_b * (self.b.shape.ratio - 1.0)
        return self.a.shape.separation_m(at_a, self.b.shape, at_b), nearing + turning

    def _look(
        self, time_s: Floats, rows: Rows
    ) -> tuple[tuple[Placed, Placed], tuple[Floats, Floats]]:
        station_a, speed_a = self.motion_a.states(time_s, rows)
        station_b, speed_b = self.motion_b.states(time_s, rows)
        placed = (
            self.a.shape.place(station_a, self.motion_a.sideways.at(station_a, rows)),
            self.b.shape.place(station_b, self.motion_b.sideways.at(station_b, rows)),
        )
        return placed, (speed_a, speed_b)


def _surely_s(apart_m: Floats, nearing_mps: Floats, rate_mps2: Floats) -> Floats:
    """How long two that are so far apart can't touch, shape (n,): until apart = nearing t + rate t^2/2."""
    nearing = np.maximum(nearing_mps, SLOW_MPS)
    root = np.sqrt(nearing**2 + 2.0 * rate_mps2 * apart_m)
    return np.asarray(2.0 * apart_m / (nearing + root))


def _closed(
    apart_m: Callable[[Floats, Rows], Floats],
    bracket: tuple[tuple[Floats, Floats], tuple[Floats, Floats]],
    rows: Rows,
) -> Floats:
    """Where separations fall through zero between two times, shape (n,): false position that can't get stuck."""
    (low, high), (at_low, at_high) = bracket
    low, high, at_low, at_high = low.copy(), high.copy(), at_low.copy(), at_high.copy()
    for _ in range(CLOSINGS):
        middle = low + (high - low) * at_low / (at_low - at_high)
        value = apart_m(middle, rows)
        clear = value > 0.0
        # The end that stays counts half the next time (the Illinois rule).
        at_high = np.where(clear, at_high / 2.0, value)
        at_low = np.where(clear, value, at_low / 2.0)
        low, high = np.where(clear, middle, low), np.where(clear, high, middle)
        exact = np.abs(value) <= TOUCH_M
        low, high = np.where(exact, middle, low), np.where(exact, middle, high)
        at_low, at_high = np.where(exact, TOUCH_M, at_low), np.where(exact, -TOUCH_M, at_high)
        if (exact | (high - low <= CLOSED_S)).all():
            break
    return high


class Impact(NamedTuple):
    """A contact as the one that is hit sees it, each of shape (n,).

    left_m, from_rear_m: of the meant point. front, side: whether it is on that face (on a corner on both).
    """

    left_m: Floats
    from_rear_m: Floats
    closing_mps: Floats
    front: Flags
    side: Flags


def impact_of(couple: Couple, touch_s: Floats, point_m: float) -> Impact:
    """Measure contacts at the times (s, shape (runs,)) at which bodies touch.

    point_m: how far ahead of the other's reference point the meant point is. Where they don't touch it says nothing.
    """
    rows = couple.motion_a.every
    at_a, at_b = couple.placed(touch_s, rows)
    seen = seen_from(at_a, at_b)
    (ahead,), (left,) = seen.points_m(np.array([[point_m, 0.0]]))
    now = couple.a.shape.separation_m(at_a, couple.b.shape, at_b)
    before, earlier = (couple.apart_m(touch_s - k * CLOSING_S, rows) for k in (1.0, 2.0))
    front, side = _faces(couple.a.shape, at_a, couple.b.shape, at_b)
    return Impact(
        left,
        ahead + couple.a.mover.body.rear_m,
        # Three points: one that brakes as it touches is slower at the end than it was on the way.
        (4.0 * before - earlier - 3.0 * now) / (2.0 * CLOSING_S),
        front,
        side,
    )


def _faces(a: Shape, at_a: Placed, b: Shape, at_b: Placed) -> tuple[Flags, Flags]:
    """On which faces of a all touching points lie, else (round a corner) on which any does; shape (n,) each."""
    of_b = np.stack(seen_from(at_a, at_b).points_m(b.corners_m), axis=-1)  # (corners, n, 2)
    of_a = np.stack(seen_from(at_b, at_a).points_m(a.corners_m), axis=-1)
    on_a = _out(of_b, a).max(axis=2)
    touching = np.concatenate((on_a <= FACE_M, _out(of_a, b).max(axis=2) <= FACE_M))
    corners_a = np.broadcast_to(a.corners_m[:, None, :], of_a.shape)
    near = np.abs(_out(np.concatenate((of_b, corners_a)), a)) <= 2 * FACE_M
    every = (near | ~touching[:, :, None]).all(axis=0)
    some = (near & touching[:, :, None]).any(axis=0)
    faces = np.where(every.any(axis=1)[:, None], every, some)
    ahead = a.normals[:, 0]
    front, side = ahead > FRONT_COSINE, np.abs(ahead) <= FRONT_COSINE
    return faces[:, front].any(axis=1), faces[:, side].any(axis=1)


def _out(points: Floats, shape: Shape) -> Floats:
    """How far points (corners, n, 2) are beyond each edge, shape (corners, n, edges)."""
    return np.asarray(points @ shape.normals.T - shape.offsets_m)
