"""Where a footprint fits into a drivable area, in the frames that both are written in."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from choreo.fit.depths import RIM_M, Fit, exact_margin_m, fit_of
from choreo.fit.directions import Arc, Heading, allowed_headings, sector_of, sector_offset_rad
from choreo.fit.field import MOST_WORK, region_of
from choreo.fit.polish import polished
from choreo.fit.rigid import Rigid, own_frame
from choreo.fit.search import BestPose, Search, SearchResult
from choreo.fit.settle import settled
from choreo.fit.task import Task
from choreo.words.records import dataclass

# Poses are told in mm and in 0.0001 deg, 1 mm at 600 m; margins are those of the rounded pose.
POSE_DIGITS = 3
DEGREE_DIGITS = 4
# So many areas have a best place of their own.
MOST_APART = 8
# Steps (m) from which poses are polished, down to these for the best and for the others.
POLISH_FROM_M = 0.3
POLISH_BEST_M = 0.0005
POLISH_OTHERS_M = 0.01
# A best pose on a border is looked for this far (m) inside of it too.
INWARD_M = 4.0
# Poses nearer to each other than this (m, rad) are one place.
ALIKE_M = 1.0
ALIKE_RAD = 0.01
# What differs by less than this (m) is rounding.
HAIR_M = 1e-6
# The area of a pose that lies in none.
NOWHERE = "outside the named areas"


@dataclass(frozen=True, slots=True)
class Request:
    """A footprint (scenario's frame), a site's drivable area and its parts by name (site's frame).

    reference_m: the point that tells in which area a pose is; heading_rad: the subject's direction there,
    both in the scenario's frame. x_bearing_rad: compass bearing of the site's x axis, None without an anchor.
    excluded: site headings of the subject that are not allowed.
    """

    footprint: BaseGeometry
    drivable: BaseGeometry
    areas: tuple[tuple[str, BaseGeometry], ...]
    reference_m: tuple[float, float] = (0.0, 0.0)
    heading_rad: float = 0.0
    x_bearing_rad: float | None = None
    excluded: tuple[Arc, ...] = ()
    least_margin_m: float = 0.0
    tolerance_m: float = 0.1
    alternative_m: float = 1.0


@dataclass(frozen=True, slots=True)
class Spot:
    """A pose from the scenario's to the site's frame, its exact margin, area and sector."""

    pose: Rigid
    margin_m: float
    area: str
    sector: int


@dataclass(frozen=True, slots=True)
class Located:
    """Spots, best first, one for each area and sector that has one; and what the search went through."""

    spots: tuple[Spot, ...]
    outcome: SearchResult

    @property
    def alternatives_m(self) -> float | None:
        """By how much a pose of some area and direction may be better than its spot; None: not known."""
        return self.outcome.gap_m if math.isfinite(self.outcome.gap_m) else None

    @property
    def verdict(self) -> str:
        """'found', 'none' (proven) or 'undecided'."""
        if self.spots:
            return "found"
        return "undecided" if self.outcome.open_m > 0 or self.outcome.ended_early else "none"


@dataclass(frozen=True, slots=True)
class Frames:
    """The site's and the footprint's own frames."""

    site: Rigid
    shape: Rigid

    def outward(self, pose: Rigid) -> Rigid:
        """Give a pose between the own frames as one from the scenario's to the site's frame."""
        return self.site.after(pose).after(self.shape.inverse())

    def inward(self, pose: Rigid, heading: Heading) -> Rigid:
        """Give back the pose between the own frames, its angle within half a turn of a heading's middle."""
        own = self.site.inverse().after(pose).after(self.shape)
        middle = (heading.low_rad + heading.high_rad) / 2
        angle = middle + math.remainder(own.angle_rad - middle, 2 * math.pi)
        return Rigid(own.x_m, own.y_m, angle)

    @property
    def turn_rad(self) -> float:
        """Angle of such a pose without its own."""
        return self.site.angle_rad - self.shape.angle_rad


def frames_of(request: Request) -> Frames:
    """Give the own frames of a request's two geometries."""
    return Frames(own_frame(request.drivable), own_frame(request.footprint))


def task_of(request: Request, frames: Frames, fit: Fit) -> Task:
    """Give a request in the own frames; areas don't matter in it."""
    offset = sector_offset_rad(request.x_bearing_rad)
    shift = frames.turn_rad + request.heading_rad
    headings = tuple(
        Heading(one.sector, one.low_rad - shift, one.high_rad - shift)
        for one in allowed_headings(request.excluded, offset)
    )
    return Task(
        fit,
        headings,
        (),
        frames.shape.inverse().point(*request.reference_m),
        request.least_margin_m,
        request.tolerance_m,
        request.alternative_m,
    )


def fit_in(
    request: Request, frames: Frames, beyond_m: float = RIM_M, most_work: int = MOST_WORK
) -> Fit:
    """Give the request's fit in the own frames."""
    shape = frames.shape.inverse().geometry(request.footprint)
    site = frames.site.inverse().geometry(request.drivable)
    return fit_of(shape, site, beyond_m=beyond_m, most_work=most_work)


def locate(request: Request) -> Located:
    """Search the poses with the largest margin, one for each area and direction.

    Needs at least one allowed direction.
    """
    frames = frames_of(request)
    task = task_of(request, frames, fit_in(request, frames))
    if len(request.areas) > 1:
        task, outcome = _by_area(request, task, frames)
    else:
        outcome = Search(task, task.fit.margin_m).run()
    spots: dict[tuple[str, int], Spot] = {}
    for index, found in enumerate(outcome.found):
        until_m = POLISH_BEST_M if index == 0 else POLISH_OTHERS_M
        near, _ = polished(task, found.group, found.pose, POLISH_FROM_M, until_m=until_m)
        spot = _tidied(request, task, frames, found.group, (near, found.pose))
        if any(_alike(spot.pose, one.pose) for one in spots.values()):
            spot = _farther_in(request, task, frames, found)
            if any(_alike(spot.pose, one.pose) for one in spots.values()):
                continue
        if spot.margin_m < max(request.least_margin_m, found.margin_m - request.alternative_m):
            continue
        key = (spot.area, spot.sector)
        if key not in spots or spots[key].margin_m < spot.margin_m:
            spots[key] = spot
    ordered = tuple(sorted(spots.values(), key=lambda one: -one.margin_m))
    bound_m = max([outcome.bound_m, *(one.margin_m for one in ordered)])
    return Located(ordered, replace(outcome, bound_m=bound_m))


def _by_area(request: Request, task: Task, frames: Frames) -> tuple[Task, SearchResult]:
    """The best of all poses, whatever the area; where there is one, the best of each area and direction too."""
    anywhere = replace(task, alternative_m=None)
    whole = Search(anywhere, task.fit.margin_m).run()
    if not whole.found:
        return anywhere, whole
    inward = frames.site.inverse()
    areas, complete = _kept_apart([area for _, area in request.areas])
    task = replace(
        task,
        areas=tuple(region_of(inward.geometry(one)) for one in areas),
        tolerance_m=request.alternative_m,
        most_looks=task.alternative_looks,
    )
    seeds = [
        (area * len(task.headings) + one.group, one.pose)
        for one in whole.found
        for area in range(len(areas))
    ]
    search = Search(task, task.fit.margin_m)
    each = search.run(seeds)
    if not each.found or each.found[0].margin_m < whole.found[0].margin_m:
        # On the border between areas by a rounding.
        return anywhere, replace(whole, gap_m=math.inf)
    boxes, gap_m = whole.boxes + each.boxes, each.gap_m if complete else math.inf
    return task, replace(whole, found=each.found, boxes=boxes, gap_m=gap_m)


def _kept_apart(areas: list[BaseGeometry]) -> tuple[list[BaseGeometry], bool]:
    """The largest areas, and all others as one; whether each is by itself."""
    if len(areas) <= MOST_APART:
        return areas, True
    largest = sorted(areas, key=lambda area: -float(area.area))
    return [*largest[:MOST_APART], shapely.union_all(largest[MOST_APART:])], False


def _farther_in(request: Request, task: Task, frames: Frames, found: BestPose) -> Spot:
    """A pose near one on the border of its sector, farther inside: what lies on the border was told already."""
    whole = task.heading(found.group)
    width = whole.high_rad - whole.low_rad
    inside = replace(whole, low_rad=whole.low_rad + width / 4, high_rad=whole.high_rad - width / 4)
    headings = tuple(inside if one is whole else one for one in task.headings)
    inner = replace(task, headings=headings)
    start = replace(found.pose, angle_rad=(inside.low_rad + inside.high_rad) / 2)
    near, _ = polished(inner, found.group, start, INWARD_M, until_m=POLISH_OTHERS_M)
    return _tidied(request, inner, frames, found.group, (near,))


def _tidied(
    request: Request, task: Task, frames: Frames, group: int, poses: tuple[Rigid, ...]
) -> Spot:
    """The better of some poses of a group, settled and rounded where that leaves what is asked for."""

    def margin_m(pose: Rigid) -> float:
        allowed = task.allows(group, frames.inward(pose, task.heading(group)))
        return (
            exact_margin_m(request.drivable, pose.geometry(request.footprint))
            if allowed
            else (-math.inf)
        )

    sector = task.heading(group).sector
    outward = [frames.outward(pose) for pose in poses]
    best = max(outward, key=lambda pose: spot_at(request, pose).margin_m)
    tidy = settled(best, request.footprint, request.drivable, margin_m)
    for pose in (rounded(tidy), tidy):
        if margin_m(pose) >= request.least_margin_m:
            return spot_at(request, pose, sector)
    return spot_at(request, best, sector)


def _alike(one: Rigid, other: Rigid) -> bool:
    """Whether two poses are all but the same, on two sides of a border between sectors or areas."""
    back = other.inverse().after(one)
    turned = math.remainder(back.angle_rad, 2 * math.pi)
    return math.hypot(back.x_m, back.y_m) < ALIKE_M and abs(turned) < ALIKE_RAD


def rounded(pose: Rigid) -> Rigid:
    """Give a pose as it is told."""
    degrees = math.degrees(math.remainder(pose.angle_rad, 2 * math.pi))
    return Rigid(
        round(pose.x_m, POSE_DIGITS) + 0.0,
        round(pose.y_m, POSE_DIGITS) + 0.0,
        math.radians(round(degrees, DEGREE_DIGITS) + 0.0),
    )


def spot_at(request: Request, pose: Rigid, sector: int | None = None) -> Spot:
    """Give the margin and the area of a pose, exactly; margin -inf where it does not fit.

    sector: the one that it was looked for in, where it may lie on the border to another.
    """
    margin_m = exact_margin_m(request.drivable, pose.geometry(request.footprint))
    x_m, y_m = pose.point(*request.reference_m)
    heading = pose.angle_rad + request.heading_rad
    if sector is None:
        sector = sector_of(heading, sector_offset_rad(request.x_bearing_rad))
    return Spot(pose, margin_m, area_at(request, x_m, y_m), sector)


def area_at(request: Request, x_m: float, y_m: float) -> str:
    """Give the name of the first area that holds a place, or the nearest within a hair."""
    if not request.areas:
        return NOWHERE
    away = shapely.distance([area for _, area in request.areas], shapely.Point(x_m, y_m))
    # The first one of those that hold it.
    at = int(np.argmin(away))
    return request.areas[at][0] if away[at] < HAIR_M else NOWHERE
