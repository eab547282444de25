"""How well a footprint fits at a pose: exactly, as a quick guess, and at most anywhere in a box of poses.

Poses move the footprint's own frame in the site's own frame. The margin of a pose is the least depth in the
drivable region over all points of the footprint; any few of them bound it from above. So do points of the
region's boundary by their distance from the footprint.

Over a box of poses a point at a lever from the footprint's middle moves by at most half the diagonal of the
box plus 2 lever sin(half angle / 2), and its depth changes by no more than that. No depth is more than the
distance to any one edge, which over a box is often much less: it does not change along the edge. Where the
whole region lies on one side of the edge's line, that distance counts with its sign.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from choreo.fit.boxes import Boxes, chord, points_as_boxes
from choreo.fit.field import MOST_WORK, ON_LINE_M, DepthField, Field, field_of, region_of
from choreo.fit.rigid import Rigid
from choreo.fit.samples import outline_points, reflex_points
from choreo.words.records import dataclass

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

# Points are looked at in stages: most boxes fall at the first few.
STAGES = (8, 24, 72, 10_000)
# Where boxes are this small, in errors of the raster, and pairs of points and edges are few, depths are
# exact.
EXACT_BELOW = 12.0
# Pairs of points and edges at once: 8 MB.
MOST_PAIRS = 1_000_000
# How long an exact look takes for each edge, in other looks.
PAIR_LOOKS = 0.08
# A first guess of a depth takes so many points.
GUESS_POINTS = 32
# Footprints of more corners are simplified inwards, by about so much, in m.
SIMPLE_ENOUGH = 60
INNER_M = 0.025
# Simplified by a hair less than it was shrunk before, so that it never leaves the footprint.
JUST_INSIDE = 0.99
# Depths beyond the edge are known this far out (m) at least, and at most.
RIM_M = 5.0
MOST_RIM_M = 60.0


@dataclass(frozen=True, slots=True)
class Bounds:
    """Of boxes: what the margin is at most over each, and the guess at its middle, in m, shape (n,).

    slack_m: by how much x, y and angle may change the least depth at the middle, shape (n, 3). A guess is
    -inf where looking was given up. looks: the effort.
    """

    most_m: Array
    guess_m: Array
    slack_m: Array
    looks: float


@dataclass(frozen=True, slots=True)
class Fit:
    """A footprint and a drivable region, each in its own frame, with what makes looking quick."""

    footprint: BaseGeometry
    site: DepthField
    site_field: Field
    points_m: Array
    shape: DepthField
    shape_field: Field
    corners_m: Array
    radius_m: float
    stages: tuple[tuple[bool, Array], ...]

    def margin_m(self, pose: Rigid) -> float:
        """Give the margin of a pose, exactly, in m; -inf where the footprint is not wholly inside."""
        return exact_margin_m(self.site.geometry, pose.geometry(self.footprint))

    def depth_m(self, pose: Rigid) -> float:
        """Give the least depth of the sample points at a pose, exactly, in m."""
        poses = points_as_boxes(np.array([[pose.x_m, pose.y_m, pose.angle_rad]]), 0)
        whole = Pressed(self.points_m, self.site, self.corners_m, self.shape)
        return float(whole.depths_m(poses)[0])

    def pressed(self, pose: Boxes, within_m: float) -> Pressed:
        """Give what decides the least depth near one pose: what is less than within_m deeper."""
        depths, places = [], []
        for corners, source in ((False, self.points_m), (True, self.corners_m)):
            x_m, y_m, *_ = _placed(pose, source, corners)
            depths.append(self._against(corners)[0].depth_m(x_m, y_m)[0])
            places.append((x_m[0], y_m[0]))
        limit = min(float(one.min(initial=math.inf)) for one in depths) + within_m
        few = [one < limit for one in depths]
        # Edges may come nearer and points go deeper by as much again.
        reach = abs(limit) + within_m
        regions = [
            region.near(x_m[some], y_m[some], reach)
            for region, some, (x_m, y_m) in zip((self.site, self.shape), few, places, strict=True)
        ]
        return Pressed(self.points_m[few[0]], regions[0], self.corners_m[few[1]], regions[1])

    def guess_m(self, poses: Boxes) -> Array:
        """Give about the least depth of a few sample points at the middles of boxes, in m, shape (n,)."""
        least = np.full(len(poses), np.inf)
        some = slice(0, GUESS_POINTS)
        for corners, source in ((False, self.points_m[some]), (True, self.corners_m[some])):
            if len(source):
                least = np.minimum(least, self._look(poses, source, corners).middle.min(axis=1))
        return least

    def bounds(self, boxes: Boxes, alive: Callable[[Array, Boxes], Mask]) -> Bounds:
        """Bound the margin over boxes; alive: tells by the bounds which are worth looking at more of."""
        looks = 0.0
        most, guess = np.full(len(boxes), np.inf), np.full(len(boxes), np.inf)
        slack = np.zeros((len(boxes), 3))
        left = np.arange(len(boxes))
        for corners, source in self.stages:
            if len(left) == 0:
                break
            some = boxes.only(left)
            look = self._look(some, source, corners)
            middle, over = look.middle, look.over
            looks += middle.size
            exact = self._exact(some, source, corners)
            if exact is not None:
                looks += middle.size * PAIR_LOOKS * self._against(corners)[0].edge_count
                middle, over = np.minimum(middle, exact[0]), np.minimum(over, exact[1])
            low = np.argmin(middle, axis=1)
            lowest = np.take_along_axis(middle, low[:, None], 1)[:, 0]
            lower = lowest < guess[left]
            guess[left[lower]] = lowest[lower]
            points = source[low[lower]][:, None, :]
            slack[left[lower]] = self._look(some.only(lower), points, corners).slack_m()
            most[left] = np.minimum(most[left], over.min(axis=1))
            still = alive(most[left], some)
            guess[left[~still]] = -np.inf
            left = left[still]
        return Bounds(most, guess, slack, looks)

    def _against(self, corners: bool) -> tuple[DepthField, Field]:
        return (self.shape, self.shape_field) if corners else (self.site, self.site_field)

    def _look(self, boxes: Boxes, source: Array, corners: bool) -> _Look:
        """Look at points over boxes; source: of shape (k, 2), or of (n, 1, 2): one for each box."""
        region, field = self._against(corners)
        x_m, y_m, arm_x, arm_y, cos, sin = _placed(boxes, source, corners)
        depth, edge = field.most_m(x_m, y_m)
        e = region.edges
        t_x, t_y = e.along_x.take(edge), e.along_y.take(edge)
        from_x, from_y = x_m - e.x_m.take(edge), y_m - e.y_m.take(edge)
        off = t_x * from_y - t_y * from_x
        half_length = e.length_m.take(edge) / 2
        past = np.abs(t_x * from_x + t_y * from_y - half_length) - half_length
        arm_off, arm_along = np.abs(t_x * arm_y - t_y * arm_x), np.abs(t_x * arm_x + t_y * arm_y)
        half_x, half_y = boxes.half_x_m[:, None], boxes.half_y_m[:, None]
        turn = np.minimum(boxes.half_rad, math.pi / 2)[:, None]
        turn_sin, turn_rest = np.sin(turn), 1 - np.cos(turn)
        share_x, share_y = np.abs(t_x), np.abs(t_y)
        if corners:
            # The edge belongs to the footprint, which turns with the pose; half widths are the site's.
            turned_x, turned_y = np.abs(cos * t_x - sin * t_y), np.abs(sin * t_x + cos * t_y)
            share_x, share_y = turned_x + turned_y * turn_sin, turned_y + turned_x * turn_sin
        by_x, by_y = share_y * half_x, share_x * half_y
        by_turn = arm_along * turn_sin + arm_off * turn_rest
        past_most = past + share_x * half_x + share_y * half_y
        past_most += arm_off * turn_sin + arm_along * turn_rest
        outer = e.outer.take(edge)
        off_all = by_x + by_y + by_turn
        far = _length(np.abs(off) + off_all, np.maximum(past_most, 0))
        over_edge = np.where(outer, off + off_all + ON_LINE_M, far)
        middle = np.where(outer, off, _length(off, np.maximum(past, 0)))
        # A turn by more than 90 deg is not what the sines above are for.
        over_edge[boxes.half_rad > math.pi / 2] = np.inf
        levers_m = _length(arm_x, arm_y)
        reach = boxes.half_m[:, None] + levers_m * chord(boxes.half_rad)[:, None]
        beyond = ~outer & (past_most > 0)
        return _Look(
            boxes,
            np.minimum(middle, depth),
            np.minimum(over_edge, depth + reach),
            over_edge < depth + reach,
            beyond,
            (by_x, by_y, by_turn),
            levers_m,
        )

    def _exact(self, boxes: Boxes, source: Array, corners: bool) -> tuple[Array, Array] | None:
        """Exact depths at the middles, and what they are at most over the boxes, where that is worth it."""
        region, field = self._against(corners)
        if len(boxes) * len(source) * region.edge_count > MOST_PAIRS:
            return None
        if float(boxes.half_m.max()) > EXACT_BELOW * field.error_m:
            return None
        x_m, y_m, arm_x, arm_y, _, _ = _placed(boxes, source, corners)
        depth = region.depth_m(x_m, y_m)
        reach = boxes.half_m[:, None] + np.hypot(arm_x, arm_y) * chord(boxes.half_rad)[:, None]
        return depth, depth + reach


@dataclass(frozen=True, slots=True)
class Pressed:
    """Some sample points, and regions with the edges that matter to them."""

    points_m: Array
    site: DepthField
    corners_m: Array
    shape: DepthField

    def depths_m(self, poses: Boxes) -> Array:
        """Give the least depth at the middles of boxes, exactly, in m, shape (n,)."""
        least = np.full(len(poses), np.inf)
        for corners, source, region in (
            (False, self.points_m, self.site),
            (True, self.corners_m, self.shape),
        ):
            if len(source):
                x_m, y_m, *_ = _placed(poses, source, corners)
                least = np.minimum(least, region.depth_m(x_m, y_m).min(axis=1))
        return least


@dataclass(frozen=True, slots=True)
class _Look:
    """Depths of points at the middles of boxes and over them, at most; shape (n boxes, k points).

    by_edge: where the distance to an edge is the bound; beyond: where that counts past the edge's end too;
    by_axis: slack off the edge by x, y and angle.
    """

    boxes: Boxes
    middle: Array
    over: Array
    by_edge: Mask
    beyond: Mask
    by_axis: tuple[Array, Array, Array]
    levers_m: Array

    def slack_m(self) -> Array:
        """Give the slack of each box's only point by x, y and angle, shape (n, 3)."""
        all_ways = (
            self.boxes.half_x_m,
            self.boxes.half_y_m,
            self.levers_m[:, 0] * chord(self.boxes.half_rad),
        )
        of_edge = (self.by_edge & ~self.beyond)[:, 0, None]
        off_edge = np.concatenate(self.by_axis, axis=1)
        return np.asarray(np.where(of_edge, off_edge, np.stack(all_ways, axis=1)))


def _length(along: Array, across: Array) -> Array:
    """As np.hypot, which guards against overflow at several times the cost."""
    return np.asarray(np.sqrt(along * along + across * across))


def _placed(boxes: Boxes, source: Array, corners: bool) -> tuple[Array, ...]:
    """Where points are at the middles of boxes, their arms from what they turn about, cosine and sine."""
    cos, sin = np.cos(boxes.angle_rad)[:, None], np.sin(boxes.angle_rad)[:, None]
    x_m, y_m = boxes.x_m[:, None], boxes.y_m[:, None]
    if corners:
        away_x, away_y = source[..., 0] - x_m, source[..., 1] - y_m
        at_x, at_y = cos * away_x + sin * away_y, cos * away_y - sin * away_x
        return at_x, at_y, at_x, at_y, cos, sin
    arm_x = cos * source[..., 0] - sin * source[..., 1]
    arm_y = sin * source[..., 0] + cos * source[..., 1]
    return arm_x + x_m, arm_y + y_m, arm_x, arm_y, cos, sin


def fit_of(
    footprint: BaseGeometry,
    drivable: BaseGeometry,
    *,
    beyond_m: float = RIM_M,
    most_work: int = MOST_WORK,
) -> Fit:
    """Make a footprint and a drivable region, each in its own frame, ready for search.

    beyond_m: how far beyond the region depths are to be told from each other; most_work: of making each raster.
    """
    site, shape = region_of(drivable), region_of(inner(footprint), -1)
    site_field = field_of(site, beyond_m, most_work)
    points = outline_points(footprint)
    corners = reflex_points(drivable)
    rim_m = min(max(float(site_field.cells_m.max()), RIM_M), MOST_RIM_M)
    radius_m = float(np.hypot(points[:, 0], points[:, 1]).max())
    shape_field = field_of(shape, rim_m, most_work)
    stages = (*_stages(points, False), *_stages(corners, True))
    return Fit(footprint, site, site_field, points, shape, shape_field, corners, radius_m, stages)


def inner(footprint: BaseGeometry) -> BaseGeometry:
    """Give a simpler geometry inside a footprint of many corners, at most 2 INNER_M less of it on any side.

    No place is nearer to it than to the footprint, so that bounds from it hold for the footprint.
    """
    if shapely.get_num_coordinates(footprint) <= SIMPLE_ENOUGH:
        return footprint
    less = shapely.buffer(footprint, -INNER_M, join_style="mitre")
    simple = shapely.simplify(less, JUST_INSIDE * INNER_M, preserve_topology=True)
    whole = simple.is_valid and not simple.is_empty and shapely.covers(footprint, simple)
    return simple if whole else footprint


def _stages(points_m: Array, corners: bool) -> list[tuple[bool, Array]]:
    """Points in stages, the most spread ones first."""
    return [
        (corners, points_m[low:high]) for low, high in pairwise((0, *STAGES)) if low < len(points_m)
    ]


def exact_margin_m(drivable: BaseGeometry, placed: BaseGeometry) -> float:
    """Give the distance from a placed footprint to the region's edge, in m; -inf where it isn't inside."""
    if not shapely.covers(drivable, placed):
        return -math.inf
    return float(shapely.distance(shapely.boundary(drivable), placed))
