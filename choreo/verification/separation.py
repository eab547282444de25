"""How far two convex bodies are apart, by separating axes, and when they first touch.

Each body is placed by its path's pose at a station. The largest gap along any face's normal is
never more than the true distance, and is zero or less exactly where the bodies overlap.
"""

from __future__ import annotations

from dataclasses import field

import numpy as np
from numpy.typing import NDArray

from choreo.geometry import Path
from choreo.verification.integration import Motion, evenly, first_reached
from choreo.verification.tolerances import GRAZE_M, TOUCH_CLOCK_S, TOUCH_M
from choreo.words.records import dataclass

Array = NDArray[np.float64]

# A doubtful interval is cut in so many at once: arrays cost little more than single times.
SPLIT = 8
# Before a touch it is looked so much of the way from where they were clear.
NEARER = np.array([0.5**step for step in range(22)])


@dataclass(frozen=True, slots=True, eq=False)
class Placed:
    """Reference points and directions of one body, each of shape (n,); (1,) of one that stands, at any time."""

    x_m: Array
    y_m: Array
    cos: Array
    sin: Array

    def take(self, index: NDArray[np.int64]) -> Placed:
        """Choose placements by their indices, shape (m,); of one that stands its only one."""
        if len(self.x_m) == 1:
            return self
        return Placed(self.x_m[index], self.y_m[index], self.cos[index], self.sin[index])


@dataclass(frozen=True, eq=False)
class Figure:
    """A convex body that follows a path; corners in the body frame, counter-clockwise, shape (k,
    2). normals of its faces, and those turned, shape (k, 2).

    radius_m: farthest corner from the reference point. travel_ratio: no point of the body moves
    farther than this many times the station's change.
    """

    path: Path
    corners_m: Array
    normals: Array = field(init=False)
    turned: Array = field(init=False)
    offsets_m: Array = field(init=False)
    radius_m: float = field(init=False)
    travel_ratio: float = field(init=False)

    def __post_init__(self) -> None:
        edges = np.roll(self.corners_m, -1, axis=0) - self.corners_m
        lengths = np.hypot(edges[:, 0], edges[:, 1])
        normals = np.stack((edges[:, 1], -edges[:, 0]), axis=1) / lengths[:, None]
        radius = float(np.hypot(self.corners_m[:, 0], self.corners_m[:, 1]).max())
        bends = [max(abs(s[2]), abs(s[3])) for s in self.path.stretches()]
        object.__setattr__(self, "normals", normals)
        # A corner (x, y) that is turned by a right angle is (-y, x).
        object.__setattr__(self, "turned", np.stack((normals[:, 1], -normals[:, 0]), axis=1))
        object.__setattr__(self, "offsets_m", np.sum(normals * self.corners_m, axis=1))
        object.__setattr__(self, "radius_m", radius)
        object.__setattr__(self, "travel_ratio", 1.0 + radius * max(bends, default=0.0))

    def place(self, stations_m: Array) -> Placed:
        """Place the body at stations in m, shape (n,)."""
        poses = self.path.pose(stations_m)
        return Placed(poses.x_m, poses.y_m, np.cos(poses.heading_rad), np.sin(poses.heading_rad))


def separation_m(a: Figure, at_a: Placed, b: Figure, at_b: Placed) -> Array:
    """Give the gap between two bodies along the best separating axis in m, shape (n,); <= 0 overlaps."""
    dx, dy = at_b.x_m - at_a.x_m, at_b.y_m - at_a.y_m
    cos = at_a.cos * at_b.cos + at_a.sin * at_b.sin
    sin = at_a.cos * at_b.sin - at_a.sin * at_b.cos
    gap_a = _gap_on_faces(a, b, seen_from(at_a, dx, dy), cos, sin)
    return np.maximum(gap_a, _gap_on_faces(b, a, seen_from(at_b, -dx, -dy), cos, -sin))


def seen_from(at: Placed, dx_m: Array, dy_m: Array) -> tuple[Array, Array]:
    """Give how far ahead and aside of a body a point is that is so far from it in the site frame, in m, shape (n,)."""
    return at.cos * dx_m + at.sin * dy_m, at.cos * dy_m - at.sin * dx_m


def into_frame(at_a: Placed, at_b: Placed, points_m: Array) -> Array:
    """Give points of b's body frame, shape (k, 2), in a's body frame, shape (n, k, 2)."""
    dx, dy = at_b.x_m - at_a.x_m, at_b.y_m - at_a.y_m
    cos = (at_a.cos * at_b.cos + at_a.sin * at_b.sin)[:, None]
    sin = (at_a.cos * at_b.sin - at_a.sin * at_b.cos)[:, None]
    ahead, aside = points_m.T
    found = np.empty((len(cos), len(points_m), 2))
    found[:, :, 0] = (at_a.cos * dx + at_a.sin * dy)[:, None] + cos * ahead - sin * aside
    found[:, :, 1] = (at_a.cos * dy - at_a.sin * dx)[:, None] + sin * ahead + cos * aside
    return found


def _gap_on_faces(
    a: Figure, b: Figure, place_m: tuple[Array, Array], cos: Array, sin: Array
) -> Array:
    """The gap along the best of a's normals, shape (n,).

    place_m: of b in a's frame, ahead and aside, shape (n,) each; cos, sin: of b's heading there.
    """
    ahead, aside = place_m
    away = ahead[:, None] * a.normals[:, 0] + aside[:, None] * a.normals[:, 1]
    gaps: Array = (rooms_by_face(a, b, cos, sin) + away).max(axis=1)
    return gaps


def rooms_by_face(a: Figure, b: Figure, cos: Array, sin: Array) -> Array:
    """Give the gap along each of a's normals with b's reference point at that of a, shape (n, normals).

    cos, sin: of b's heading in a's frame, shape (n,). Of b's corners, turned by that, the one nearest along a normal
    counts.
    """
    along = b.corners_m @ a.normals.T
    across = b.corners_m @ a.turned.T
    turned = cos[:, None, None] * along + sin[:, None, None] * across
    return np.asarray(turned.min(axis=1) - a.offsets_m)


@dataclass(frozen=True, eq=False)
class Pair:
    """Two bodies in motion; separation and possible approach at and between instants."""

    a: Figure
    motion_a: Motion
    b: Figure
    motion_b: Motion

    def stations(self, t_s: Array) -> tuple[Array, Array]:
        """Give both stations in m at times t_s, shape (n,)."""
        return self.motion_a.stations(t_s), self.motion_b.stations(t_s)

    def separation(self, t_s: Array) -> Array:
        """Give the separation in m at times t_s, shape (n,)."""
        s_a, s_b = self.stations(t_s)
        at_a, at_b = self._placed(s_a, s_b)
        return separation_m(self.a, at_a, self.b, at_b)

    def _placed(self, s_a: Array, s_b: Array) -> tuple[Placed, Placed]:
        """Both bodies at stations in m, shape (n,) each; one that stands while the other moves is placed once."""
        if not self.motion_a.moves and self.motion_b.moves:
            s_a = s_a[:1]
        elif not self.motion_b.moves and self.motion_a.moves:
            s_b = s_b[:1]
        return self.a.place(s_a), self.b.place(s_b)

    def approach(self, s_a: Array, s_b: Array) -> Array:
        """Bound in m by how much the bodies can approach between neighbouring stations in m.

        s_a, s_b: of both at the same times, shape (n,). Returns shape (n - 1,).
        """
        return (
            np.abs(np.diff(s_a)) * self.a.travel_ratio + np.abs(np.diff(s_b)) * self.b.travel_ratio
        )

    def first_touch(self, from_s: float, until_s: float) -> float:
        """Give the first time in s at which the bodies touch, inf when they never do.

        Between two instants the distance can't fall below half of (the sum of both separations
        less the possible approach): an interval is left only when that proves it clear, else it
        is split, so nothing thin or fast slips through.
        """
        count = max(2, int(np.ceil((until_s - from_s) / TOUCH_CLOCK_S)) + 1)
        times = evenly(from_s, until_s, count - 1)
        gaps, approach = self._gaps_where_near(times)
        lows, highs, bracket = _suspects(times[None, :], gaps[None, :], approach[None, :])
        first = np.inf
        while bracket[1] < first or len(lows):
            clear, touch = bracket
            if touch < first:
                first = self._touches(clear, touch)
                before = highs <= clear
                # Ever nearer to the touch, as the bodies get ever nearer to each other.
                more, ends, bracket = self._looked_at((first - (first - clear) * NEARER)[None, :])
                lows = np.concatenate((lows[before], more))
                highs = np.concatenate((highs[before], ends))
                continue
            times = np.arange(SPLIT + 1) * ((highs - lows) / SPLIT)[:, None] + lows[:, None]
            times[:, -1] = highs
            lows, highs, bracket = self._looked_at(times)
        return float(first)

    def _touches(self, clear: float, touch: float) -> float:
        """The time of a touch between one where the bodies are clear and one where they touch; both alike at the very
        beginning.
        """
        if touch == clear:
            return touch
        return first_reached(lambda t: TOUCH_M - self.separation(t), clear, touch)

    def _looked_at(self, times: Array) -> tuple[Array, Array, tuple[float, float]]:
        """Intervals not proven clear, and the first touch, at times of shape (rows, n): see _suspects."""
        s_a, s_b = self.stations(times.reshape(-1))
        at_a, at_b = self._placed(s_a, s_b)
        gaps = separation_m(self.a, at_a, self.b, at_b).reshape(times.shape)
        approach = np.append(self.approach(s_a, s_b), 0.0).reshape(times.shape)[:, :-1]
        return _suspects(times, gaps, approach)

    def touching(self, t_s: Array) -> NDArray[np.bool_]:
        """Say at which times, shape (n,), the bodies touch."""
        return np.asarray(self.separation(t_s) <= TOUCH_M)

    def _gaps_where_near(self, times: Array) -> tuple[Array, Array]:
        """Separations, shape (n,), and possible approaches in between, shape (n - 1,), at times, shape (n,).

        Far from each other the gap between bounding circles stands for the separation.
        """
        s_a, s_b = self.stations(times)
        at_a, at_b = self._placed(s_a, s_b)
        radii = self.a.radius_m + self.b.radius_m
        gaps = np.hypot(at_a.x_m - at_b.x_m, at_a.y_m - at_b.y_m) - radii
        approach = self.approach(s_a, s_b)
        doubtful = gaps[:-1] + gaps[1:] <= approach
        nodes = np.zeros(len(times), dtype=bool)
        nodes[:-1] |= doubtful
        nodes[1:] |= doubtful
        near = np.flatnonzero(nodes)
        if len(near):
            gaps[near] = separation_m(self.a, at_a.take(near), self.b, at_b.take(near))
        return gaps, approach


def _suspects(
    times: Array, gaps: Array, approach: Array
) -> tuple[Array, Array, tuple[float, float]]:
    """Intervals not proven clear, up to the first touch, and that touch between (clear,
    touching) times.

    times, gaps: shape (rows, n); approach: shape (rows, n - 1). Intervals so short that only a
    graze could hide in them are let go. Without a touch the bracket is (inf, inf); a touch at
    the very first time has no clear instant before it and is given twice.
    """
    bracket = (np.inf, np.inf)
    touching = np.where(gaps <= TOUCH_M, times, np.inf)
    row, column = divmod(int(touching.argmin()), touching.shape[1])
    if np.isfinite(touching[row, column]):
        bracket = (float(times[row, max(column - 1, 0)]), float(times[row, column]))
    doubtful = (gaps[:, :-1] + gaps[:, 1:] <= approach) & (approach > GRAZE_M)
    doubtful &= times[:, 1:] <= bracket[1]
    return times[:, :-1][doubtful], times[:, 1:][doubtful], bracket
