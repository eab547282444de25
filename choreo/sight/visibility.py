"""How much of a body an eye sees past others: exact, on the plane, with no rays cast.

The share seen is the share of the angle that the body spans at the eye and that nothing nearer covers. (The
share of its silhouette's width is nearly the same where that angle is small.)

Between the eye E and a convex target T lies the hull of both without T itself. Whatever part of an
occluder's edge lies there hides what is behind it, and nothing else does; each edge is cut by that region in
closed form, and the angles of what is left are joined.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from choreo.geometry.poses import Array


def visible_share(
    eye_m: ArrayLike, target_corners_m: ArrayLike, occluders: Sequence[ArrayLike] = ()
) -> float:
    """Give the share of the angle a convex target spans at the eye that no occluder covers, 0 to 1.

    eye_m: shape (2,), m. target_corners_m: convex, shape (k, 2). occluders: closed polygons of any shape, each (j, 2).
    """
    outlines = [edges_of(np.asarray(one, dtype=float)) for one in occluders]
    edges = np.concatenate(outlines) if outlines else np.zeros((0, 2, 2))
    eyes, targets = np.asarray(eye_m, dtype=float), np.asarray(target_corners_m, dtype=float)
    return float(visible_shares(eyes[None], targets[None], edges[None])[0])


def edges_of(corners_m: Array) -> Array:
    """Give the edges of closed polygons, shape (..., k, 2) in m, as pairs of ends, shape (..., k, 2, 2)."""
    return np.stack((corners_m, np.roll(corners_m, -1, axis=-2)), axis=-2)


def visible_shares(eyes_m: Array, targets_m: Array, edges_m: Array) -> Array:
    """Give the visible share of a convex target for n instants, shape (n,), 0 to 1.

    eyes_m: shape (n, 2); targets_m: corners, (n, k, 2); edges_m: edges of the occluders, (n, m, 2, 2); all in m.
    An eye inside the target (or on its edge's line, touching it) sees all of it.
    """
    targets = targets_m - eyes_m[:, None]
    edges = edges_m - eyes_m[:, None, None]
    inward = _normals(edges_of(targets)) * _turning(targets)[:, None, None]
    # How far the eye lies inside each side's line; negative where the side faces it.
    eye_inside = -np.einsum("nkc,nkc->nk", inward, targets)
    facing = eye_inside < 0.0
    ahead = targets.mean(axis=1)
    angles = _angles(targets, ahead)
    right, left = angles.argmin(axis=1), angles.argmax(axis=1)
    row = np.arange(len(targets))
    low, high = angles[row, right], angles[row, left]
    tangents = np.stack((targets[row, right], targets[row, left]), axis=1)
    ends = np.einsum("nkc,nmec->nmek", inward, edges) + eye_inside[:, None, None, :]
    rays = _beside(tangents, edges)
    far = np.where(facing[:, None, None], np.inf, ends)
    bounds = np.concatenate((far, rays), axis=3)
    # Most edges lie wholly beside or behind: only the others are cut.
    near = bounds.max(axis=2).min(axis=2) >= 0.0
    instant, edge = np.nonzero(near)
    stretches = _stretches(bounds[near], ends[near])
    angles = _angles(_points(edges[near], stretches), ahead[instant])
    limits = (low[instant, None], high[instant, None])
    nothing = stretches[..., 0] >= stretches[..., 1]
    begin = np.tile(low[:, None, None], (1, edges.shape[1], 2))
    end = begin.copy()
    begin[instant, edge] = np.where(nothing, limits[0], np.clip(angles.min(axis=2), *limits))
    end[instant, edge] = np.where(nothing, limits[0], np.clip(angles.max(axis=2), *limits))
    shape = (len(edges), -1)
    covered = _joined(begin.reshape(shape), end.reshape(shape), low)
    spans = high - low
    hidden = np.divide(covered, spans, out=np.zeros_like(spans), where=spans > 0.0)
    return np.where(facing.any(axis=1), np.clip(1.0 - hidden, 0.0, 1.0), 1.0)


def _turning(corners_m: Array) -> Array:
    """1 for corners listed counter-clockwise, -1 for clockwise ones, shape (n,)."""
    x, y = corners_m[..., 0], corners_m[..., 1]
    area = (x * np.roll(y, -1, axis=1) - np.roll(x, -1, axis=1) * y).sum(axis=1)
    return np.where(area < 0.0, -1.0, 1.0)


def _normals(sides: Array) -> Array:
    """Normals to the left of directed sides, shape (n, k, 2)."""
    along = sides[..., 1, :] - sides[..., 0, :]
    return np.stack((-along[..., 1], along[..., 0]), axis=-1)


def _angles(points_m: Array, ahead_m: Array) -> Array:
    """Angles at the eye from the direction ahead, + to the left, shape of points without the last axis."""
    shape = (len(ahead_m), *(1,) * (points_m.ndim - 2))
    x, y = ahead_m[:, 0].reshape(shape), ahead_m[:, 1].reshape(shape)
    across = x * points_m[..., 1] - y * points_m[..., 0]
    angles: Array = np.arctan2(across, x * points_m[..., 0] + y * points_m[..., 1])
    return angles


def _beside(tangents: Array, edges: Array) -> Array:
    """How far ends of edges lie inside the two rays that touch the target, shape (n, m, 2, 2)."""
    x, y = tangents[:, None, None, :, 0], tangents[:, None, None, :, 1]
    left = x * edges[..., 1, None] - y * edges[..., 0, None]
    signed: Array = left * np.array([1.0, -1.0])
    return signed


def _stretches(bounds: Array, ends: Array) -> Array:
    """Cut p edges to what lies between eye and target: two stretches each, shape (p, 2, 2), as shares of its length.

    bounds, ends: how far both ends lie inside the hull's and the target's sides, (p, 2, h) and (p, 2, k).
    """
    first, last = _cut(bounds)
    enters, leaves = _cut(np.concatenate((bounds, ends), axis=2))
    apart = enters > leaves  # never inside the target: all that is in the hull hides it
    enters, leaves = np.where(apart, last, enters), np.where(apart, last, leaves)
    return np.stack((first, enters, leaves, last), axis=1).reshape(-1, 2, 2)


def _cut(inside: Array) -> tuple[Array, Array]:
    """Cut edges by half-planes; inside: of both ends, shape (p, 2, h), inf where there is no half-plane.

    Returns shares of the edge's length where what is left begins and ends, (p,); beginning past end: nothing.
    """
    start, end = inside[:, 0], inside[:, 1]
    crosses = (start < 0.0) != (end < 0.0)
    safe = np.where(crosses, start, 0.0)
    at = np.divide(safe, safe - np.where(crosses, end, 1.0))
    first: Array = np.where(crosses & (start < 0.0), at, 0.0).max(axis=1)
    last: Array = np.where(crosses & (start >= 0.0), at, 1.0).min(axis=1)
    outside = ((start < 0.0) & (end < 0.0)).any(axis=1)
    return np.where(outside, 1.0, first), np.where(outside, 0.0, last)


def _points(edges: Array, stretches: Array) -> Array:
    """Both ends of both stretches of edges (p, 2, 2), shape (p, 2, 2, 2)."""
    along = (edges[:, 1] - edges[:, 0])[:, None, None]
    return edges[:, 0][:, None, None] + stretches[..., None] * along


def _joined(begin: Array, end: Array, low: Array) -> Array:
    """Length of the union of intervals, for each row, shape (n,); low: where the first may begin."""
    if not begin.shape[1]:
        return np.zeros(len(low))
    order = begin.argsort(axis=1)
    begin = np.take_along_axis(begin, order, axis=1)
    end = np.take_along_axis(end, order, axis=1)
    before = np.concatenate((low[:, None], np.maximum.accumulate(end, axis=1)[:, :-1]), axis=1)
    length: Array = np.maximum(end - np.maximum(begin, before), 0.0).sum(axis=1)
    return length
