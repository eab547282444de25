"""When two bodies of a run first touch: stretches of time in which they can't are ruled out before anything is sampled.

Between two instants of a common clock a body is taken to go straight on as it is in the middle of that stretch; what
its path bends meanwhile is room that it needs beside. So its place is linear in its station, and that is a cubic of
time, which its Bernstein coefficients enclose: an axis along which all of those are apart separates two bodies all the
while. Where neither path bends the gaps along all faces' normals are such cubics, and the bodies touch when the last
of them has closed; elsewhere the search on samples decides.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from choreo.geometry import cusps_of, lap_of
from choreo.verification.bends import bends_of
from choreo.verification.closing import Cubic, all_closed
from choreo.verification.integration import Motion
from choreo.verification.separation import Figure, Pair, Placed, rooms_by_face, seen_from
from choreo.verification.tolerances import CLEAR_CLOCK_S, CLEAR_M
from choreo.words.records import dataclass

Array = NDArray[np.float64]

# No body is so small that a curvature of so much (1/m) wouldn't ask for more room than it moves.
HOPELESS_PER_M = 1e9


@dataclass(frozen=True, slots=True, eq=False)
class Legs:
    """A body between the instants of a clock, as if it went straight on; one that stands has one stretch for all.

    middle: in the middle of each stretch, shape (n,). x_m, y_m: coefficients of its reference point, shape (4, n).
    bend_m: no point of the body is farther than this from where these have it, shape (n,).
    """

    middle: Placed
    x_m: Array
    y_m: Array
    bend_m: Array

    def take(self, index: NDArray[np.int64]) -> Legs:
        """Choose stretches by their indices, shape (m,); of one that stands its only one."""
        if len(self.bend_m) == 1:
            return self
        x_m, y_m, bend_m = self.x_m[:, index], self.y_m[:, index], self.bend_m[index]
        return Legs(self.middle.take(index), x_m, y_m, bend_m)


@dataclass(frozen=True, eq=False)
class Course:
    """All bodies of a run from go until a time in s."""

    figures: Mapping[str, Figure]
    motions: Mapping[str, Motion]
    until_s: float
    _legs: dict[str, Legs] = field(default_factory=dict)

    @cached_property
    def _clock_s(self) -> Array:
        """Every node of the motions, and every CLEAR_CLOCK_S."""
        nodes = [time_s for one in self.motions.values() for time_s in one.times_s.tolist()]
        steps = np.arange(0.0, self.until_s, CLEAR_CLOCK_S).tolist()
        inside = {time_s for time_s in nodes if 0.0 < time_s < self.until_s}
        return np.array(sorted({*steps, *inside, self.until_s}))

    def legs(self, name: str) -> Legs:
        """Give the legs of one mover."""
        if name not in self._legs:
            self._legs[name] = _legs(self.figures[name], self.motions[name], self._clock_s)
        return self._legs[name]

    def touch_s(self, a: str, b: str) -> float:
        """Give the first time in s at which two bodies touch; inf when they never do."""
        figures, legs = (self.figures[a], self.figures[b]), (self.legs(a), self.legs(b))
        index = np.flatnonzero(~_far(*figures, *legs))
        if not len(index):
            return math.inf
        near = legs[0].take(index), legs[1].take(index)
        gaps, bend_m = _gaps(*figures, *near), near[0].bend_m + near[1].bend_m
        doubtful = np.flatnonzero(~(gaps.min(axis=0).max(axis=1) > CLEAR_M + bend_m))
        pair = Pair(figures[0], self.motions[a], figures[1], self.motions[b])
        bent: list[tuple[float, float]] = []
        for which in doubtful.tolist():
            begin_s, end_s = self._clock_s[index[which] : index[which] + 2].tolist()
            if bend_m[which]:
                if bent and bent[-1][1] == begin_s:
                    begin_s = bent.pop()[0]
                bent.append((begin_s, end_s))
                continue
            touch_s = self._sampled(pair, bent)
            if math.isinf(touch_s):
                cubics = [Cubic(end_s - begin_s, *one) for one in gaps[:, which].T.tolist()]
                touch_s = begin_s + all_closed(cubics)
            if math.isfinite(touch_s):
                return touch_s
            bent = []
        return self._sampled(pair, bent)

    def _sampled(self, pair: Pair, stretches: Iterable[tuple[float, float]]) -> float:
        """The first touch that a search on samples finds in stretches of time, in s."""
        touches = (pair.first_touch(*one) for one in stretches)
        return next(filter(math.isfinite, touches), math.inf)


def _legs(figure: Figure, motion: Motion, clock_s: Array) -> Legs:
    if not motion.moves:
        at = figure.place(np.array([motion.last[1]]))
        return Legs(at, np.tile(at.x_m, (4, 1)), np.tile(at.y_m, (4, 1)), np.zeros(1))
    stations, speeds = motion.states(clock_s)
    thirds = np.diff(clock_s) / 3.0
    along = np.empty((4, len(thirds)))
    along[0], along[3] = stations[:-1], stations[1:]
    along[1] = along[0] + speeds[:-1] * thirds
    along[2] = along[3] - speeds[1:] * thirds
    low, high = along.min(axis=0), along.max(axis=0)
    half = (high - low) / 2.0
    middle = low + half
    at = figure.place(middle)
    along -= middle
    bend = _curvature(figure, low, high) * half * (half / 2.0 + figure.radius_m)
    return Legs(at, at.x_m + at.cos * along, at.y_m + at.sin * along, bend)


def _curvature(figure: Figure, low_m: Array, high_m: Array) -> Array:
    """Bounds of a path's curvature in 1/m between stations, shape (n,): the greatest of all where it is bent at all.

    Where a path changes its direction there is none: so great a one that nothing that moves there is proven.
    """
    bends = bends_of(figure.path)
    if cusps_of(figure.path):
        return np.full(len(low_m), HOPELESS_PER_M)
    if bends is None:
        return np.zeros(len(low_m))
    if lap_of(figure.path) is not None:
        return np.full(len(low_m), bends.tightest_per_m)
    return np.where((high_m < bends.from_m) | (low_m > bends.until_m), 0.0, bends.tightest_per_m)


def _far(a: Figure, b: Figure, legs_a: Legs, legs_b: Legs) -> NDArray[np.bool_]:
    """Where bounding circles are apart along the line between the middles, shape (n,)."""
    ahead, aside = legs_b.middle.x_m - legs_a.middle.x_m, legs_b.middle.y_m - legs_a.middle.y_m
    way = (legs_b.x_m - legs_a.x_m) * ahead + (legs_b.y_m - legs_a.y_m) * aside
    needed = a.radius_m + b.radius_m + CLEAR_M + legs_a.bend_m + legs_b.bend_m
    return np.asarray(way.min(axis=0) > needed * np.hypot(ahead, aside))


def _gaps(a: Figure, b: Figure, legs_a: Legs, legs_b: Legs) -> Array:
    """Coefficients of the gaps along the normals of all faces of two bodies, shape (4, n, faces)."""
    dx, dy = legs_b.x_m - legs_a.x_m, legs_b.y_m - legs_a.y_m
    at_a, at_b = legs_a.middle, legs_b.middle
    cos = at_a.cos * at_b.cos + at_a.sin * at_b.sin
    sin = at_a.cos * at_b.sin - at_a.sin * at_b.cos
    found = np.empty((*dx.shape, len(a.normals) + len(b.normals)))
    parts = found[:, :, : len(a.normals)], found[:, :, len(a.normals) :]
    sides = (a, b, at_a, sin, 1.0), (b, a, at_b, -sin, -1.0)
    for part, (one, other, at, turned, way) in zip(parts, sides, strict=True):
        ahead, aside = seen_from(at, way * dx, way * dy)
        part[:] = ahead[:, :, None] * one.normals[:, 0] + aside[:, :, None] * one.normals[:, 1]
        part += rooms_by_face(one, other, cos, turned)
    return found
