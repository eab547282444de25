"""A closed path: one lap, driven round so often as stations go on."""

from __future__ import annotations

import math
from collections.abc import Iterable
from functools import cached_property

import numpy as np

from choreo.geometry.banks import banks_of
from choreo.geometry.curve import CurvePath
from choreo.geometry.nearest import NearestSearch
from choreo.geometry.parallel import ParallelPath
from choreo.geometry.poses import Array, Path, PosedInArrays, Poses, Stretch
from choreo.geometry.surveyed import SurveyedPath

# Laps that a mover may drive beyond those that are written. A meeting is at one place in each lap, and a start lies
# anywhere in the first: with one lap more the way to a meeting may be short of a lap, or the way out from it, for some
# places of the lap's beginning and not for others. Stretches reach another lap farther, for stops.
MORE_LAPS = 2


def lap_of(path: Path) -> float | None:
    """Give the length of a lap in m, or None of a path that has ends."""
    # Asked for again and again: isinstance of a protocol takes fifty times as long.
    lap_m: float | None = getattr(path, "lap_m", None)
    return lap_m


def laps_by_name(lap_m: float, names: Iterable[str]) -> dict[str, tuple[float, float]]:
    """Give the laps of a closed path without pieces as marks: start and end station in m."""
    return {name: (lap_m * number, lap_m * (number + 1)) for number, name in enumerate(names)}


class LoopPath(PosedInArrays):
    """A path that goes on round itself; satisfies Path.

    Its length is that of the laps as written and two more; poses go on round beyond both its ends.
    """

    def __init__(
        self,
        lap: CurvePath | ParallelPath | SurveyedPath,
        unrolled: CurvePath | ParallelPath | SurveyedPath,
        laps: int,
        marks: dict[str, tuple[float, float]],
    ) -> None:
        """lap: its end meets its beginning. laps: as written; unrolled, marks: of all of these, stations in m."""
        self.lap = lap
        self.unrolled = unrolled
        self.laps = laps
        self._marks = marks
        first = tuple(one for one in banks_of(unrolled) if one[0] < lap.length_m)
        beyond = [(laps + number) * lap.length_m for number in range(MORE_LAPS)]
        more = ((a + at, b + at, c) for at in beyond for a, b, c in first)
        self.banks = (*banks_of(unrolled), *more)
        ends = lap.pose(np.array([0.0, lap.length_m])).heading_rad
        # By whole turns: what the end is off the beginning must not add up.
        self._turn_rad = 2.0 * math.pi * round(float(ends[1] - ends[0]) / (2.0 * math.pi))

    @property
    def lap_m(self) -> float:
        """Length of one lap in m."""
        return self.lap.length_m

    @property
    def length_m(self) -> float:
        """How far a mover can go, in m: the laps as written and two more."""
        return (self.laps + MORE_LAPS) * self.lap_m

    @property
    def marks(self) -> dict[str, tuple[float, float]]:
        """Start and end station in m of every named piece, in the laps as written."""
        return self._marks

    def pose(self, s_m: Array) -> Poses:
        """Give the poses at stations s_m, shape (n,), in m; round and round."""
        s = np.atleast_1d(np.asarray(s_m, dtype=float))
        round_ = np.floor(s / self.lap_m)
        at = self.lap.pose(np.clip(s - round_ * self.lap_m, 0.0, self.lap_m))
        return Poses(at.x_m, at.y_m, at.heading_rad + round_ * self._turn_rad, at.curvature_per_m)

    def stretches(self) -> tuple[Stretch, ...]:
        """Give the stretches of all laps and of one beyond, for stops from the last place of a plan."""
        return self._stretches

    @cached_property
    def _stretches(self) -> tuple[Stretch, ...]:
        lap = self.lap_m
        return tuple(
            (start + number * lap, end + number * lap, k0, k1)
            for number in range(self.laps + MORE_LAPS + 1)
            for start, end, k0, k1 in self.lap.stretches()
        )

    @cached_property
    def _nearest(self) -> NearestSearch:
        return NearestSearch(self, self.lap_m)

    def nearest(self, x_m: float, y_m: float, near_m: float | None = None) -> float:
        """Give the station in m nearest to a point in the site frame (m), in the first lap.

        near_m: of several places in a lap, and of all laps, the one whose station is closest to this.
        """
        found = self._nearest.station(x_m, y_m, near_m)
        return found if near_m is not None else found % self.lap_m
