"""How far one body is ahead of another's face, measured across that face."""

from __future__ import annotations

from typing import Literal, NamedTuple, assert_never

import numpy as np

from choreo.geometry.bodies import Outline, point_ahead_m
from choreo.geometry.poses import Array, Path, Poses
from choreo.geometry.tolerances import NOTHING
from choreo.words.kinds import ContactPointName

# The front, or one of the two flanks that a file calls `side`.
TouchedFace = Literal["front", "left", "right"]


class Measure(NamedTuple):
    """Per pair of poses: room between face and other body, lateral overlap, misfit of the impact, in m.

    Without overlap the room is that to the other's nearest corner, so that it stays continuous.
    """

    room_m: Array
    overlap_m: Array
    misfit_m: Array


class Touching:
    """Body b before one face of body a, on their paths.

    In the face's own axes u points outwards and w along it: front (u, w) = (x, y), left flank (y, x),
    right flank (-y, x) of a's body frame. Across the face the room is the least of b's near side minus
    a's own outline, over the w that both cover; both outlines are convex, so the least is at a corner.
    """

    def __init__(
        self,
        face: TouchedFace,
        body_a: Outline,
        body_b: Outline,
        path_a: Path,
        path_b: Path,
        point: ContactPointName,
        impact_m: float,
    ) -> None:
        """impact_m: w of b's point, for flanks from a's rear end, in m."""
        self.path_a, self.path_b = path_a, path_b
        self.face = face
        corners_a = np.asarray(body_a.corners_m, dtype=float)
        u, w = self._axes(corners_a[:, 0], corners_a[:, 1])
        self._outline_w, self._outline_u = _outer_chain(u, w)
        self._flat = bool(np.ptp(self._outline_u) == 0.0)
        self._corners_b = np.asarray(body_b.corners_m, dtype=float)
        self._next = np.roll(np.arange(len(self._corners_b)), -1)
        self._ahead = point_ahead_m(body_b, point)
        self._wanted = self._along_face(impact_m, body_a)
        self.reach_m = float(
            np.hypot(*corners_a.T).max() + np.hypot(*self._corners_b.T).max() + abs(self._ahead)
        )

    def _along_face(self, impact_m: float, body_a: Outline) -> float:
        """The wanted w of b's point: on a flank the impact counts from the rear end, w from the reference point."""
        match self.face:
            case "front":
                return impact_m
            case "left" | "right":
                return impact_m - body_a.rear_m
        assert_never(self.face)

    def _axes(self, x: Array, y: Array) -> tuple[Array, Array]:
        match self.face:
            case "front":
                return x, y
            case "left":
                return y, x
            case "right":
                return -y, x
        assert_never(self.face)

    def at(self, s_a: Array, s_b: Array) -> Measure:
        """Measure at stations of both, shape (n,) each, in m."""
        return self.measure(self.path_a.pose(s_a), self.path_b.pose(s_b))

    def measure(self, a: Poses, b: Poses) -> Measure:
        """Measure at poses of both, n of each, in the site frame."""
        cos_a, sin_a = np.cos(a.heading_rad), np.sin(a.heading_rad)
        dx, dy = b.x_m - a.x_m, b.y_m - a.y_m
        x, y = cos_a * dx + sin_a * dy, cos_a * dy - sin_a * dx
        turned = b.heading_rad - a.heading_rad
        cos, sin = np.cos(turned), np.sin(turned)
        cx, cy = self._corners_b[:, 0, None], self._corners_b[:, 1, None]
        # Corners first, so that each row is one long vector.
        u, w = self._axes(x + (cos * cx - sin * cy), y + (sin * cx + cos * cy))
        _, along = self._axes(x + cos * self._ahead, y + sin * self._ahead)
        low, high = self._outline_w[0], self._outline_w[-1]
        overlap = np.minimum(w.max(axis=0), high) - np.maximum(w.min(axis=0), low)
        room = self._room(u, w)
        missed = np.flatnonzero(~np.isfinite(room) | (overlap < 0.0))
        if len(missed):
            room[missed] = self._room_beside(u[:, missed], w[:, missed])
        return Measure(room, overlap, along - self._wanted)

    def _room(self, u: Array, w: Array) -> Array:
        low, high = self._outline_w[0], self._outline_w[-1]
        face = self._outline_u[0] if self._flat else np.interp(w, self._outline_w, self._outline_u)
        room = np.where((w >= low) & (w <= high), u - face, np.inf).min(axis=0)
        next_u, next_w = u[self._next], w[self._next]
        run = next_w - w
        slope = (next_u - u) / np.where(run == 0.0, np.inf, run)
        for corner_w, corner_u in zip(self._outline_w, self._outline_u, strict=True):
            crossed = (w < corner_w) != (next_w < corner_w)
            over = np.where(crossed, u + (corner_w - w) * slope - corner_u, np.inf)
            room = np.minimum(room, over.min(axis=0))
        return np.asarray(room)

    def _room_beside(self, u: Array, w: Array) -> Array:
        """Room to the corner of b that is nearest to the strip ahead of the face (the nearer if tied)."""
        low, high = self._outline_w[0], self._outline_w[-1]
        aside = np.maximum(np.maximum(low - w, w - high), 0.0)
        nearest = aside <= aside.min(axis=0) + NOTHING
        face = np.interp(w, self._outline_w, self._outline_u)
        return np.asarray(np.where(nearest, u - face, np.inf).min(axis=0))


def _outer_chain(u: Array, w: Array) -> tuple[Array, Array]:
    """Corners of the outline seen from far out along u, by rising w."""
    chain: list[tuple[float, float]] = []
    for here_w, here_u in sorted(zip(w.tolist(), u.tolist(), strict=True)):
        if chain and here_w - chain[-1][0] <= NOTHING:
            chain[-1] = (chain[-1][0], max(chain[-1][1], here_u))
            continue
        while len(chain) >= 2 and _rises(chain[-2], chain[-1], (here_w, here_u)):
            chain.pop()
        chain.append((here_w, here_u))
    while len(chain) >= 3 and _rises(chain[-3], chain[-2], chain[-1]):
        chain.pop(-2)
    return np.array([one[0] for one in chain]), np.array([one[1] for one in chain])


def _rises(p: tuple[float, float], q: tuple[float, float], r: tuple[float, float]) -> bool:
    """Whether q lies on or below the line from p to r."""
    return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0]) >= 0.0
