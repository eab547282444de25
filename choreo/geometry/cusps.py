"""A path with changes of direction: at each the mover rests, and goes on with its other end leading.

The body can't turn where it rests, so it is the heading that is continuous here, and the motion that turns round. A
pose's heading is that of the last leg's motion: on the last leg, where encounters are, all is as on any other path; on
a leg that is driven the other way round a mover goes against its poses' heading.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from choreo.geometry.curve import CurvePath
from choreo.geometry.nearest import NearestSearch
from choreo.geometry.poses import Array, Path, PosedInArrays, Poses, Stretch


class CuspPath(PosedInArrays):
    """Legs one after the other, each begins where the last one ends and goes the other way; satisfies Path."""

    def __init__(self, legs: Sequence[CurvePath], marks: dict[str, tuple[float, float]]) -> None:
        """legs: two or more, each from the place of the end of the one before, its heading turned by half a turn."""
        self._legs = tuple(legs)
        self._marks = marks
        ends = np.cumsum([leg.length_m for leg in legs])
        self._begins = np.concatenate(([0.0], ends[:-1]))
        self._length_m = float(ends[-1])
        # +1 where a leg is driven along its poses' heading, -1 where against it.
        self._ways = np.array([(-1.0) ** (len(legs) - 1 - index) for index in range(len(legs))])
        self._turns_rad = self._headings()

    def _headings(self) -> Array:
        """What is added to each leg's own heading so that it is continuous: half turns, shape (legs,)."""
        added = [0.0]
        for before, after in zip(self._legs[-2::-1], self._legs[:0:-1], strict=True):
            here = float(after.heading_at(np.zeros(1))[0]) + added[0]
            there = float(before.heading_at(np.array([before.length_m]))[0])
            added.insert(0, math.pi * round((here - there) / math.pi))
        return np.array(added)

    @property
    def length_m(self) -> float:
        """Length of all legs in m."""
        return self._length_m

    @property
    def marks(self) -> dict[str, tuple[float, float]]:
        """Start and end station in m of every named piece."""
        return self._marks

    @property
    def cusps_m(self) -> tuple[float, ...]:
        """Stations in m at which the motion changes its direction."""
        return tuple(float(one) for one in self._begins[1:])

    def _leg_at(self, s_m: Array) -> NDArray[np.int64]:
        """Which leg a station is on; a cusp belongs to the one that begins there."""
        return np.searchsorted(self._begins[1:], s_m, side="right")

    def ways(self, s_m: Array) -> Array:
        """Give +1 where the motion goes along the heading, -1 where against it, at stations s_m, shape (n,)."""
        return np.asarray(self._ways[self._leg_at(s_m)])

    def pose(self, s_m: Array) -> Poses:
        """Give the poses at stations s_m, shape (n,), in m; straight beyond both ends."""
        s = np.atleast_1d(np.asarray(s_m, dtype=float))
        which = self._leg_at(s)
        found = np.zeros((4, len(s)))
        for index, leg in enumerate(self._legs):
            here = which == index
            if here.any():
                at = leg.pose(s[here] - self._begins[index])
                heading = at.heading_rad + self._turns_rad[index]
                found[:, here] = at.x_m, at.y_m, heading, at.curvature_per_m
        return Poses(*found)

    def stretches(self) -> tuple[Stretch, ...]:
        """Give (start_m, end_m, start curvature, end curvature) of all legs, exact, linear in between, in 1/m."""
        return tuple(
            (start + begin, end + begin, k0, k1)
            for begin, leg in zip(self._begins.tolist(), self._legs, strict=True)
            for start, end, k0, k1 in leg.stretches()
        )

    @cached_property
    def _nearest(self) -> NearestSearch:
        return NearestSearch(self._legs[-1])

    def nearest(self, x_m: float, y_m: float, near_m: float | None = None) -> float:
        """Give the station in m nearest to a point in the site frame (m): on the last leg, where others are met."""
        begin = float(self._begins[-1])
        close = None if near_m is None else near_m - begin
        return begin + self._nearest.station(x_m, y_m, close)


def cusps_of(path: Path) -> tuple[float, ...]:
    """Give the stations in m at which the motion along a path changes its direction; none of most."""
    return path.cusps_m if isinstance(path, CuspPath) else ()


def last_leg_m(path: Path) -> float:
    """Give the station in m from which on others are met: of a path without changes of direction its beginning."""
    return max(cusps_of(path), default=0.0)


def motion_headings(path: Path, s_m: Array) -> Array:
    """Give the headings in rad of the motion along a path, not of the body, at stations s_m, shape (n,)."""
    against = ways_along(path, s_m) < 0.0
    return path.pose(s_m).heading_rad + np.where(against, math.pi, 0.0)


def ways_along(path: Path, s_m: Array) -> Array:
    """Give +1 where the motion along a path goes along its poses' heading, -1 where against it, shape (n,)."""
    return path.ways(s_m) if isinstance(path, CuspPath) else np.ones(np.shape(s_m))
