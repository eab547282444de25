"""Bumper to bumper: the end of one mover that faces another, projected on that one's path.

On a closed path that end is met once a lap: the projection goes on round with the other mover, and a gap may count any
number of laps more or less.
"""

from __future__ import annotations

import math
from functools import cached_property

from choreo.geometry.bodies import Outline
from choreo.geometry.bounds import ONE, Bounds
from choreo.geometry.curvature import curvature_range, turned_rad
from choreo.geometry.loop import lap_of
from choreo.geometry.poses import Path
from choreo.words.records import dataclass

# No slope of a gap's relation is assumed to be as steep as this.
MOST_SLOPE = 2.0
# So often bounds of the slope are put in again to narrow them.
NARROWINGS = 3
# So many values, and so many bounds, are kept.
MOST_KEPT = 20_000
# The headings of both paths are at least so far (cosine) from being at right angles ...
LEAST_COSINE = 0.3
# ... the facing end as far from the centre of the curve of a's path ...
LEAST_STRETCH = 0.2
# ... and that path turns no more than this, left and right added up, so that it can't come back to the same place.
MOST_TURNED_RAD = math.pi
# As shares of the tightest radius: how far beside the path, and how long a body's end on one path for both.
REACH, SHORT = 0.45, 0.25


@dataclass(frozen=True, slots=True)
class _Facing:
    """The facing end of b at one of its stations: its station on a's path, how far left of it, and how it got there.

    turned_rad: heading of b over that of a's path. ahead_m: of b's reference point, negative behind it.
    """

    station_m: float
    left_m: float
    turned_rad: float
    ahead_m: float
    curvature_b_per_m: float
    curvature_a_per_m: float


@dataclass(frozen=True)
class GapTrack:
    """The facing end of b on the path of a; gap = that station - (station of a + front of a).

    laps: that many laps of a closed path of a are added.
    """

    path_a: Path
    path_b: Path
    front_b_m: float
    rear_b_m: float
    laps: int = 0

    @cached_property
    def _near_m(self) -> tuple[float, float] | None:
        """On a closed path of a, near which station b is: as a line over b's station, (at 0 m, slope)."""
        lap = lap_of(self.path_a)
        if self.path_a is self.path_b:
            return 0.0, 1.0
        if lap is None:
            return None
        middle = self.path_b.length_m / 2
        other = lap_of(self.path_b)
        x, y, heading, _ = self.path_b.pose_at(0.0 if other is not None else middle)
        beside = self.path_a.nearest(x, y)
        if other is None:
            return beside, 0.0
        same_way = math.cos(heading - self.path_a.pose_at(beside)[2]) >= 0.0
        return beside, lap / other if same_way else -lap / other

    def at(self, station_b_m: float) -> tuple[float, float]:
        """Give the station in m on a's path of b's facing end, and its slope over b's station.

        station_b_m: of b's reference point. b's rear faces a where both go the same way, its front
        where they come towards each other. The end is projected on the nearest point of a's path; on one path for both,
        which may pass a place several times, on that of b's own pass.
        """
        if len(self._stations) > MOST_KEPT:
            self._stations.clear()
        if station_b_m not in self._stations:
            self._stations[station_b_m] = self._at(station_b_m)
        return self._stations[station_b_m]

    def _at(self, station_b_m: float) -> tuple[float, float]:
        facing = self._facing(station_b_m)
        # Velocity of a rigid body's point: forward, and sideways by its turning.
        turning = facing.curvature_b_per_m * facing.ahead_m
        forward = math.cos(facing.turned_rad) - turning * math.sin(facing.turned_rad)
        station = facing.station_m + self.laps * (lap_of(self.path_a) or 0.0)
        return station, forward / (1.0 - facing.left_m * facing.curvature_a_per_m)

    def _facing(self, station_b_m: float) -> _Facing:
        x, y, heading, curvature_b = self.path_b.pose_at(station_b_m)
        beside = self._beside(x, y, station_b_m)
        along = self.path_a.pose_at(beside)[2]
        ahead = -self.rear_b_m if math.cos(heading - along) >= 0.0 else self.front_b_m
        x, y = x + ahead * math.cos(heading), y + ahead * math.sin(heading)
        station = self.path_a.nearest(x, y, beside)
        foot_x, foot_y, along, curvature_a = self.path_a.pose_at(station)
        left = (y - foot_y) * math.cos(along) - (x - foot_x) * math.sin(along)
        return _Facing(station, left, heading - along, ahead, curvature_b, curvature_a)

    @cached_property
    def _stations(self) -> dict[float, tuple[float, float]]:
        """What was asked for at stations of b."""
        return {}

    @cached_property
    def _slopes(self) -> dict[tuple[float, float], tuple[float, float] | None]:
        """Bounds that were asked for: neighbours of a scenario, which have the same track, ask for many alike."""
        return {}

    def slopes(self, low_m: float, high_m: float) -> tuple[float, float] | None:
        """Give the least and the greatest slope between two stations of b: bounds that hold, not samples.

        None where nothing can be told for sure: curvature that is known by samples only, a path of a that turns so far
        that its nearest point may jump, an interval so long that the bounds say nothing.

        From the middle on, station, heading and offset of the facing end can't leave it faster than curvatures and
        slope allow; what follows for the slope, put in again, only narrows it. What is assumed of the slope at first
        holds as long as what follows from it is narrower, since all three change without jumps.
        """
        if len(self._slopes) > MOST_KEPT:
            self._slopes.clear()
        if (low_m, high_m) not in self._slopes:
            self._slopes[low_m, high_m] = self._slopes_over(low_m, high_m)
        return self._slopes[low_m, high_m]

    def _slopes_over(self, low_m: float, high_m: float) -> tuple[float, float] | None:
        half = (high_m - low_m) / 2.0
        curve_b = curvature_range(self.path_b, low_m, high_m)
        if curve_b is None or self._reach_m is None:
            return None
        middle = self._facing(low_m + half)
        slope = Bounds(-MOST_SLOPE, MOST_SLOPE)
        for _ in range(NARROWINGS):
            far = half * slope.size
            curve_a = curvature_range(self.path_a, middle.station_m - far, middle.station_m + far)
            if curve_a is None:
                return None
            bend_a, bend_b = Bounds(*curve_a), Bounds(*curve_b)
            turned = Bounds.round(
                middle.turned_rad, half * bend_b.plus(bend_a.times(slope).negative).size
            )
            cos, sin = turned.cos, turned.sin
            sideways = sin.plus(bend_b.times(cos).scaled(middle.ahead_m))
            left = Bounds.round(middle.left_m, half * sideways.size)
            stretch = ONE.plus(left.times(bend_a).negative)
            forward = cos.plus(bend_b.times(sin).scaled(middle.ahead_m).negative)
            # Beyond this the end that faces a may be the other one, or another point of a's path be the nearest.
            if min(abs(cos.low), abs(cos.high)) < LEAST_COSINE or cos.low * cos.high < 0.0:
                return None
            if stretch.low < LEAST_STRETCH or left.size > self._reach_m:
                return None
            found = forward.times(Bounds(1.0 / stretch.high, 1.0 / stretch.low))
            if found.low < slope.low or found.high > slope.high:
                return None
            slope = found
        return slope.low, slope.high

    @cached_property
    def _reach_m(self) -> float | None:
        """How far beside a's path its nearest point surely is the only one; None where that isn't known.

        Let k be the path's greatest curvature, and let a point have two nearest ones on it, both within r = 0.45 / k.
        Between them the distance is greatest somewhere, where it is at least 1 / k, or it would still be bending away:
        so they are 2 (1 / k - r) = 1.1 / k or more apart along the path. Where the path turns by no more than pi in
        all, its chord is no shorter than that of an arc of radius 1 / k of that length, of which half a circle is
        enough (Schur's theorem): 2 / k sin(0.55) = 1.04 / k or more. But the two are within 2 r = 0.9 / k.

        On one path for both it is the nearest of b's own pass, however far the path turns: of a body's end that is c
        away along the tangent at station s, c being no more than SHORT / k. On the path within 2 c of s that end is
        within 3 c < 1 / k, so that the way to its foot falls strictly there: from sin(2 c k) / k - c > 0 or more at
        one end to the opposite at the other. One foot lies in between. Source: from memory.
        """
        tightest = max((abs(k) for _, _, *ends in self.path_a.stretches() for k in ends), default=0)
        if tightest == 0.0:
            return math.inf
        longest = max(abs(self.front_b_m), abs(self.rear_b_m))
        if self.path_a is self.path_b:
            return REACH / tightest if longest <= SHORT / tightest else None
        return REACH / tightest if turned_rad(self.path_a) <= MOST_TURNED_RAD else None

    def _beside(self, x_m: float, y_m: float, station_b_m: float) -> float:
        """The station of a's path beside b, which goes on round with b where the path is closed."""
        near = self._near_m
        if near is None:
            return self.path_a.nearest(x_m, y_m)
        close_m = near[0] + near[1] * station_b_m
        if self.path_a is self.path_b:
            return self.path_a.nearest(x_m, y_m, close_m)
        lap = lap_of(self.path_a) or math.inf
        beside = self.path_a.nearest(x_m, y_m)
        return beside + lap * round((close_m - beside) / lap)


def gap_track(path_a: Path, body_a: Outline, path_b: Path, body_b: Outline) -> GapTrack:
    """Give where b's end that faces a lies along a's path, as a function of b's station.

    path_a, body_a: of the mover who measures; path_b, body_b: of the one ahead or coming towards.
    Holds in one lane, in parallel lanes, in a change of lanes and head-on.
    """
    return GapTrack(path_a, path_b, body_b.front_m, body_b.rear_m)
