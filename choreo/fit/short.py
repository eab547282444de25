"""What is missing where a footprint fits nowhere."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from choreo.fit.field import region_of
from choreo.fit.location import Request, fit_in, frames_of, rounded, task_of
from choreo.fit.rigid import Rigid
from choreo.fit.samples import outline_points, reflex_points
from choreo.fit.search import Search
from choreo.words.records import dataclass

# How close to the least that is missing the search goes, in m.
TOLERANCE_M = 0.5
# Poses that move no point farther than this (m) are one.
FINEST_M = 0.1
# About half a second.
MOST_LOOKS = 3_000_000
# Rasters may be coarse for that.
MOST_WORK = 12_000_000
# Lines through pairs of so many corners are looked at.
MOST_CORNERS = 120
# What reaches into a footprint is looked at every so often (m).
CROSSING_STEP_M = 0.5
# Beyond the edge depths are told apart up to a tenth of the footprint, or so far (m): what is missing more is far off.
BEYOND_RATIO = 0.1
MOST_BEYOND_M = 50.0
# Lines along an edge or through a corner must not be cut there by rounding.
HAIR_M = 1e-6


@dataclass(frozen=True, slots=True)
class Missing:
    """The pose at which the least is missing, how much, and where.

    at_m: the worst place, on the site. away_rad: site heading in which the footprint sticks out there;
    None where a corner or obstacle of the site reaches into the footprint instead.
    """

    pose: Rigid
    short_m: float
    at_m: tuple[float, float]
    away_rad: float | None


def least_missing(request: Request) -> Missing:
    """Search the pose at which the least is missing to the margin that is asked for."""
    frames = frames_of(request)
    bounds = request.footprint.bounds
    size_m = math.hypot(bounds[2] - bounds[0], bounds[3] - bounds[1])
    beyond_m = min(BEYOND_RATIO * size_m, MOST_BEYOND_M)
    task = task_of(request, frames, fit_in(request, frames, beyond_m, MOST_WORK))
    task = replace(
        task,
        least_margin_m=-math.inf,
        tolerance_m=TOLERANCE_M,
        alternative_m=None,
        finest_m=FINEST_M,
        most_looks=MOST_LOOKS,
    )

    outcome = Search(task, task.fit.depth_m).run()
    pose = rounded(frames.outward(outcome.found[0].pose))
    return _missing_at(request, pose)


def _missing_at(request: Request, pose: Rigid) -> Missing:
    drivable, placed = region_of(request.drivable), pose.geometry(request.footprint)
    outline = pose.apply(outline_points(request.footprint))
    depths = drivable.depth_m(outline[:, 0], outline[:, 1])
    worst = int(np.argmin(depths))
    corners = reflex_points(request.drivable)
    shape = region_of(placed, -1)
    inner = shape.depth_m(corners[:, 0], corners[:, 1])
    if min(depths[worst], inner.min(initial=math.inf)) >= request.least_margin_m:
        # A gap or a post that lies between all these points.
        crossing = shapely.intersection(shapely.boundary(request.drivable), placed)
        within = shapely.get_coordinates(shapely.segmentize(crossing, CROSSING_STEP_M))
        corners = np.concatenate((corners, within))
        inner = shape.depth_m(corners[:, 0], corners[:, 1])
    if len(inner) and inner.min() < depths[worst]:
        at = corners[int(np.argmin(inner))]
        short_m = request.least_margin_m - float(inner.min())
        return Missing(pose, short_m, (float(at[0]), float(at[1])), None)
    x_m, y_m = (float(value) for value in outline[worst])
    line = shapely.shortest_line(request.drivable.boundary, shapely.Point(x_m, y_m))
    edge = shapely.get_coordinates(line)[0]
    outward = (x_m - edge[0], y_m - edge[1])
    if depths[worst] > 0:
        outward = (-outward[0], -outward[1])
    away = math.atan2(outward[1], outward[0])
    return Missing(pose, request.least_margin_m - float(depths[worst]), (x_m, y_m), away)


def longest_run_m(drivable: BaseGeometry) -> float | None:
    """Give the length in m of the longest straight line inside a region; None with too many corners.

    A longest line touches two corners: every line through two corners is looked at.
    """
    corners = np.unique(shapely.get_coordinates(drivable), axis=0)
    if len(corners) > MOST_CORNERS:
        return None
    first, then = np.triu_indices(len(corners), 1)
    along = corners[then] - corners[first]
    along /= np.hypot(along[:, 0], along[:, 1])[:, None]
    left, low, right, high = drivable.bounds
    reach = math.hypot(right - left, high - low)
    ends = np.stack((corners[first] - reach * along, corners[first] + reach * along), axis=1)
    inside = shapely.intersection(shapely.linestrings(ends), drivable.buffer(HAIR_M))
    return float(shapely.length(shapely.get_parts(inside)).max())
