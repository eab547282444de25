"""The pose with the largest margin, and proof that no other has more: branch and bound over boxes of poses."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from choreo.place.fit import Boxes, Look
from choreo.place.polish import polished
from choreo.place.rigid import Rigid
from choreo.place.task import Task

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

CHUNK = 8192
# Looks at a point of a pose before the search ends by itself: about two seconds.
MOST_LOOKS = 80_000_000
# The rest of the looks goes to the best pose alone.
SHARE_FOR_ALTERNATIVES = 0.5
# Tiles along the long side of a site at first.
MOST_TILES = 64


@dataclass(frozen=True, slots=True)
class Found:
    """A pose of a group and its margin."""

    group: int
    pose: Rigid
    margin_m: float


@dataclass(frozen=True, slots=True)
class Outcome:
    """The best pose of every group that has one, best first.

    bound_m: no pose has a larger margin; below the least margin that counts it is proof that there is none.
    box_m, box_rad: sides of the smallest box looked at. open_m, open_rad: sides of the largest box that was
    left undecided, 0 without one. ended_early: the search had spent its looks.
    """

    found: tuple[Found, ...]
    bound_m: float
    box_m: float
    box_rad: float
    open_m: float
    open_rad: float
    boxes: int
    ended_early: bool


class Search:
    """One run: the incumbents, and the largest bound of all that was put aside."""

    def __init__(self, task: Task, margin_m: Callable[[Rigid], float]) -> None:
        self.task = task
        self.margin_m = margin_m
        self.best_m = np.full(task.group_count, -math.inf)
        self.poses: dict[int, Rigid] = {}
        self.bound_m = -math.inf
        self.open_m = self.open_rad = 0.0
        self.box_m = self.box_rad = math.inf
        self.boxes = 0
        self.looks = 0.0

    def run(self, seeds: Iterable[tuple[int, Rigid]] = ()) -> Outcome:
        """Search; seeds: poses to begin with, each with its group."""
        for group, pose in seeds:
            self._offer(group, pose)
        boxes = first_boxes(self.task)
        ended_early = False
        while len(boxes):
            looked_at = [
                self._looked_at(boxes.only(slice(at, at + CHUNK)))
                for at in range(0, len(boxes), CHUNK)
            ]
            kept = _joined([one for one, _ in looked_at])
            bounds = np.concatenate([one for _, one in looked_at])
            # Later chunks may have found better poses.
            kept, bounds = self._worthwhile(kept, bounds)
            ended_early = self.looks > MOST_LOOKS and len(kept) > 0
            small = kept.reach_m(self.task.fit.radius_m) < self.task.finest_m
            aside = np.full(len(kept), True) if ended_early else small
            self._put_aside(kept.only(aside), bounds[aside])
            boxes = self._halves(kept.only(~aside))
        return self._outcome(ended_early)

    def _outcome(self, ended_early: bool) -> Outcome:
        found = [Found(group, pose, float(self.best_m[group])) for group, pose in self.poses.items()]
        found.sort(key=lambda one: -one.margin_m)
        return Outcome(
            tuple(found),
            max([self.bound_m, *(one.margin_m for one in found)]),
            self.box_m,
            self.box_rad,
            self.open_m,
            self.open_rad,
            self.boxes,
            ended_early,
        )

    def _looked_at(self, boxes: Boxes) -> tuple[Boxes, Array]:
        """The boxes that are left of some, and their bounds; better poses are kept on the way."""
        self.boxes += len(boxes)
        if len(boxes):
            self.box_m = min(self.box_m, 2 * float(boxes.half_m.min()))
            self.box_rad = min(self.box_rad, 2 * float(boxes.half_rad.min()))
        boxes = boxes.only(self.task.room_m(boxes) >= 0)
        bounds, guesses, looks = self.task.fit.bound_m(boxes, self._alive)
        self.looks += looks
        self._improve(boxes, guesses)
        return self._worthwhile(boxes, bounds)

    def _worthwhile(self, boxes: Boxes, bounds: Array) -> tuple[Boxes, Array]:
        alive = self._alive(bounds, boxes)
        if not alive.all():
            self.bound_m = max(self.bound_m, float(bounds[~alive].max()))
        return boxes.only(alive), bounds[alive]

    def _alive(self, bounds: Array, boxes: Boxes) -> Mask:
        """Which boxes may hold a pose that matters: better than the best, or than the best of its group."""
        task = self.task
        alive = bounds > float(self.best_m.max()) + task.tolerance_m
        if self.looks < SHARE_FOR_ALTERNATIVES * MOST_LOOKS:
            coarse = boxes.reach_m(task.fit.radius_m) > task.alternative_m / 4
            alive |= coarse & (bounds > self.best_m[boxes.group] + task.alternative_m)
        return np.asarray(alive & (bounds >= task.least_margin_m))

    def _improve(self, boxes: Boxes, guesses: Array) -> None:
        """Follow up the most promising box of each group."""
        if not len(boxes):
            return
        reaches = boxes.reach_m(self.task.fit.radius_m)
        step = np.where(boxes.half_m > 0, self.task.tolerance_m / 4, 0.0)
        better = guesses > self.best_m[boxes.group] + step
        for group in np.unique(boxes.group[better]):
            here = np.flatnonzero(better & (boxes.group == group))
            at = int(here[np.argmax(guesses[here])])
            pose = Rigid(float(boxes.x_m[at]), float(boxes.y_m[at]), float(boxes.angle_rad[at]))
            self._offer(int(group), pose)
            near, _ = polished(
                self.task, int(group), pose, float(reaches[at]), until_m=0.1, look=Look.CLOSE
            )
            self._offer(int(group), near)

    def _offer(self, group: int, pose: Rigid) -> None:
        margin_m = self.margin_m(pose)
        better = margin_m > self.best_m[group] and margin_m >= self.task.least_margin_m
        if better and self.task.allows(group, pose):
            self.best_m[group] = margin_m
            self.poses[group] = pose

    def _put_aside(self, boxes: Boxes, bounds: Array) -> None:
        if len(boxes):
            self.bound_m = max(self.bound_m, float(bounds.max()))
            self.open_m = max(self.open_m, 2 * float(boxes.half_m.max()))
            self.open_rad = max(self.open_rad, 2 * float(boxes.half_rad.max()))

    def _halves(self, boxes: Boxes) -> Boxes:
        """Split each box along what moves points farther: its place in four, or its angle in two."""
        turn_m = 2 * self.task.fit.radius_m * np.sin(np.minimum(boxes.half_rad, math.pi) / 2)
        by_angle = turn_m > math.sqrt(2) * boxes.half_m
        turned, moved = boxes.only(by_angle), boxes.only(~by_angle)
        parts = [
            Boxes(
                turned.x_m,
                turned.y_m,
                turned.angle_rad + side * turned.half_rad / 2,
                turned.half_m,
                turned.half_rad / 2,
                turned.group,
            )
            for side in (-1, 1)
        ]
        parts += [
            Boxes(
                moved.x_m + east * moved.half_m / 2,
                moved.y_m + north * moved.half_m / 2,
                moved.angle_rad,
                moved.half_m / 2,
                moved.half_rad,
                moved.group,
            )
            for east in (-1, 1)
            for north in (-1, 1)
        ]
        return _joined(parts)


def first_boxes(task: Task) -> Boxes:
    """Tile all poses that could fit: the footprint's middle lies within the site's bounds."""
    left, low, right, high = task.fit.site.geometry.bounds
    long, short = max(right - left, high - low), min(right - left, high - low)
    side = max(short, long / MOST_TILES)
    x_m = left + side * (np.arange(math.ceil((right - left) / side)) + 0.5)
    y_m = low + side * (np.arange(math.ceil((high - low) / side)) + 0.5)
    most_rad = max(math.sqrt(2) * side / max(task.fit.radius_m, side), 0.01)
    columns: list[list[Array]] = []
    for group in range(task.group_count):
        heading = task.heading(group)
        width = heading.high_rad - heading.low_rad
        count = math.ceil(width / most_rad)
        angles = heading.low_rad + width / count * (np.arange(count) + 0.5)
        places = [one.ravel() for one in np.meshgrid(x_m, y_m, angles)]
        size = places[0].size
        halves = [np.full(size, side / 2), np.full(size, width / count / 2)]
        columns.append([*places, *halves, np.full(size, group, dtype=np.int32)])
    return Boxes(*(np.concatenate(one) for one in zip(*columns, strict=True)))


def _joined(parts: list[Boxes]) -> Boxes:
    return Boxes(
        *(np.concatenate([getattr(one, field.name) for one in parts]) for field in fields(Boxes))
    )
