"""The exact parallel curve beside a path, whole or a window of it, in either direction."""

from __future__ import annotations

from functools import cached_property

import numpy as np

from choreo.geometry.curve import CurvePath
from choreo.geometry.nearest import NearestSearch
from choreo.geometry.poses import Array, PosedInArrays, Poses, Stretch
from choreo.geometry.safe import enclosing_stretches
from choreo.geometry.surveyed import SurveyedPath

# A clothoid's parallel has a curvature that is not linear: it is enclosed in so many linear stretches. Enough to lie
# within CURVATURE_MARGIN_RATIO of it, unless the offset takes most of the radius.
CELLS = 12


class ParallelPath(PosedInArrays):
    """A path at a constant distance beside a base path; satisfies Path.

    Its arc length over the base's station s is s - offset * (heading(s) - heading(0)).
    """

    def __init__(
        self,
        base: CurvePath | SurveyedPath,
        offset_m: float,
        window_m: tuple[float, float],
        *,
        is_reversed: bool = False,
    ) -> None:
        """offset_m: left of the base's own direction. window_m: stations of the base, in m."""
        self.base = base
        self.offset_m = offset_m
        self.window_m = window_m
        self.is_reversed = is_reversed
        self._heading_0 = float(base.heading_at(np.array([0.0]))[0])
        low, high = self._along(np.array(window_m))
        self._low, self._high = float(low), float(high)

    def _along(self, base_m: Array) -> Array:
        turned = self.base.heading_at(base_m) - self._heading_0
        return np.asarray(base_m - self.offset_m * turned)

    def _own(self, base_m: Array) -> Array:
        along = self._along(base_m)
        return self._high - along if self.is_reversed else along - self._low

    def own_station(self, base_m: float) -> float:
        """Give the own station in m beside a station of the base in m."""
        return float(self._own(np.array([base_m]))[0])

    def base_station(self, s_m: Array) -> Array:
        """Give the stations of the base in m beside the own stations s_m, shape (n,)."""
        along = self._high - s_m if self.is_reversed else self._low + s_m
        return self.base.station_of_parallel(self.offset_m, along)

    @property
    def length_m(self) -> float:
        """Arc length in m."""
        return self._high - self._low

    @cached_property
    def marks(self) -> dict[str, tuple[float, float]]:
        """The base's marks in own stations in m: below zero or beyond the length where the window leaves them out."""
        carried = {}
        for name, (start, end) in self.base.marks.items():
            ends = (self.own_station(start), self.own_station(end))
            carried[name] = (min(ends), max(ends))
        return carried

    def pose(self, s_m: Array) -> Poses:
        """Give the poses at stations s_m, shape (n,), in m; straight beyond the ends."""
        s = np.atleast_1d(np.asarray(s_m, dtype=float))
        inside = np.clip(s, 0.0, self.length_m)
        beyond = s - inside
        at = self.base.pose(np.clip(self.base_station(inside), *self.window_m))
        sin, cos = np.sin(at.heading_rad), np.cos(at.heading_rad)
        x, y = at.x_m - self.offset_m * sin, at.y_m + self.offset_m * cos
        curvature = at.curvature_per_m / (1.0 - self.offset_m * at.curvature_per_m)
        curvature = np.where(beyond == 0.0, curvature, 0.0)
        sign = -1.0 if self.is_reversed else 1.0
        turned = np.pi if self.is_reversed else 0.0
        ahead = sign * beyond
        return Poses(
            x + ahead * cos, y + ahead * sin, at.heading_rad + turned, np.asarray(sign * curvature)
        )

    def stretches(self) -> tuple[Stretch, ...]:
        """Give linear stretches of curvature in 1/m over own stations in m, never below the true one."""
        return self._stretches

    @cached_property
    def _stretches(self) -> tuple[Stretch, ...]:
        """Arcs and lines of the base are arcs and lines again; all else is enclosed, between knots."""
        low, high = self.window_m
        exact: dict[float, float] = {}
        knots: list[float] = []
        for start, end, k0, k1 in self.base.stretches():
            a, b = max(start, low), min(end, high)
            if b <= a:
                continue
            if isinstance(self.base, SurveyedPath):
                knots += [a, b]
            elif k0 == k1:
                knots += [a, b]
                exact[a] = k0 / (1.0 - self.offset_m * k0)
            else:
                knots += np.linspace(a, b, CELLS + 1).tolist()
                if k0 * k1 < 0.0:
                    knots.append(min(max(start + (end - start) * k0 / (k0 - k1), a), b))
        base = np.unique(knots)
        enclosed = enclosing_stretches(self._curvature, np.sort(self._own(base)))
        begins = base[:-1].tolist()
        if self.is_reversed:
            begins.reverse()
        sign = -1.0 if self.is_reversed else 1.0
        return tuple(
            (part[0], part[1], sign * exact[begin], sign * exact[begin]) if begin in exact else part
            for begin, part in zip(begins, enclosed, strict=True)
        )

    def _curvature(self, s_m: Array) -> Array:
        return self.pose(s_m).curvature_per_m

    @cached_property
    def _nearest(self) -> NearestSearch:
        return NearestSearch(self)

    def nearest(self, x_m: float, y_m: float, near_m: float | None = None) -> float:
        """Give the station in m nearest to a point in the site frame (m); near_m chooses among several."""
        return self._nearest.station(x_m, y_m, near_m)
