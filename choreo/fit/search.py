"""The pose with the largest margin, and proof that no other has more: branch and bound over boxes of poses."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable

import numpy as np
from numpy.typing import NDArray

from choreo.fit.boxes import Boxes, joined
from choreo.fit.polish import polished
from choreo.fit.rigid import Rigid
from choreo.fit.task import Task
from choreo.words.records import dataclass

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

# Boxes at a time: their arrays stay in a core's cache.
CHUNK = 8192
# A proof that there is none may take longer.
PROOF_SHARE = 2.0
# How close incumbents are polished on the way.
POLISH_M = 0.05
# What a box itself takes, in looks.
BOX_LOOKS = 4.0
# What polishing takes, in looks.
POLISH_LOOKS = 50_000.0
# Below this share of the tolerance the slack at the middle no longer tells where to split.
SETTLED_SHARE = 0.2


@dataclass(frozen=True, slots=True)
class BestPose:
    """A pose of a group and its margin."""

    group: int
    pose: Rigid
    margin_m: float


@dataclass(frozen=True, slots=True)
class SearchResult:
    """The best pose of every group that has one, best first.

    bound_m: no pose has a larger margin; below the least margin that counts it is proof that there is none.
    box_m, box_rad: sides of the smallest box looked at. open_m, open_rad: sides of the largest box that was
    left undecided, 0 without one. ended_early: the search had spent its looks. gap_m: in no group a pose has a
    margin that is larger by more than that than the best that was found there, or than the least that counts
    where none was.
    """

    found: tuple[BestPose, ...]
    bound_m: float
    box_m: float
    box_rad: float
    open_m: float
    open_rad: float
    boxes: int
    ended_early: bool
    gap_m: float


class Search:
    """One run: the incumbents, and the largest bound of all that was put aside."""

    def __init__(self, task: Task, margin_m: Callable[[Rigid], float]) -> None:
        self.task = task
        self.margin_m = margin_m
        self.best_m = np.full(task.group_count, -math.inf)
        # What polishing has come to, though it may not have fitted.
        self.polished_m = np.full(task.group_count, -math.inf)
        self.poses: dict[int, Rigid] = {}
        self.bound_m = -math.inf
        # Of each group, of what was put aside.
        self.bounds_m = np.full(task.group_count, -math.inf)
        self.open_m = self.open_rad = 0.0
        self.box_m = self.box_rad = math.inf
        self.boxes = 0
        self.looks = 0.0

    def run(self, seeds: Iterable[tuple[int, Rigid]] = ()) -> SearchResult:
        """Search; seeds: poses to begin with, each with its group."""
        for group, pose in seeds:
            self._offer(group, pose)
        boxes = self.task.first_boxes()
        ended_early = False
        while len(boxes):
            before = self.looks
            looked_at = [
                self._looked_at(boxes.only(slice(at, at + CHUNK)))
                for at in range(0, len(boxes), CHUNK)
            ]
            kept = joined([one for one, _, _ in looked_at])
            bounds, slack_m = (np.concatenate([one[i] for one in looked_at]) for i in (1, 2))
            # Later chunks may have found better poses.
            alive = self._worthwhile(kept, bounds)
            kept, bounds, slack_m = kept.only(alive), bounds[alive], slack_m[alive]
            most_looks = self.task.most_looks * (1.0 if self.poses else PROOF_SHARE)
            # Halves of those that are left will take about so much; half of that may be beyond.
            ahead = 2 * len(kept) * (self.looks - before) / len(boxes)
            ended_early = self.looks + ahead / 2 > most_looks and len(kept) > 0
            small = kept.reach_m(self.task.fit.radius_m) < self.task.finest_m
            aside = np.full(len(kept), True) if ended_early else small
            self._put_aside(kept.only(aside), bounds[aside])
            boxes = self._split(kept.only(~aside), slack_m[~aside])
        return self._outcome(ended_early)

    def _outcome(self, ended_early: bool) -> SearchResult:
        found = [
            BestPose(group, pose, float(self.best_m[group])) for group, pose in self.poses.items()
        ]
        found.sort(key=lambda one: -one.margin_m)
        gaps_m = self.bounds_m - np.maximum(self.best_m, self.task.least_margin_m)
        return SearchResult(
            tuple(found),
            max([self.bound_m, *(one.margin_m for one in found)]),
            self.box_m,
            self.box_rad,
            self.open_m,
            self.open_rad,
            self.boxes,
            ended_early,
            max(float(gaps_m.max()), 0.0),
        )

    def _looked_at(self, boxes: Boxes) -> tuple[Boxes, Array, Array]:
        """The boxes that are left of some, their bounds and slacks; better poses are kept on the way."""
        self.boxes += len(boxes)
        self.looks += BOX_LOOKS * len(boxes)
        self.box_m = min(self.box_m, 2 * float(min(boxes.half_x_m.min(), boxes.half_y_m.min())))
        self.box_rad = min(self.box_rad, 2 * float(boxes.half_rad.min()))
        boxes = boxes.only(self.task.room_m(boxes) >= 0)
        bounds = self.task.fit.bounds(boxes, self._alive)
        self.looks += bounds.looks
        inside = self.task.inside(boxes)
        # What a middle in another area looks like says nothing.
        self._improve(boxes, np.where(inside, bounds.guess_m, -math.inf))
        alive = self._worthwhile(boxes, bounds.most_m)
        # A middle that looks better than what is known and yet wasn't: something lies between the sample
        # points, and what presses them is beside the point. So it is where the middle is in another area.
        astray = bounds.guess_m > self.best_m[boxes.group] + self.task.tolerance_m
        astray |= ~inside
        slack_m = np.where(astray[:, None], 0.0, bounds.slack_m)
        return boxes.only(alive), bounds.most_m[alive], slack_m[alive]

    def _worthwhile(self, boxes: Boxes, bounds_m: Array) -> Mask:
        """Which boxes stay; the largest bound of the others is kept."""
        alive = self._alive(bounds_m, boxes)
        self._bounded(boxes.group[~alive], bounds_m[~alive])
        return alive

    def _bounded(self, groups: NDArray[np.int32], bounds_m: Array) -> None:
        """Keep the largest bound of boxes that are no longer looked at."""
        if len(bounds_m):
            self.bound_m = max(self.bound_m, float(bounds_m.max()))
            np.maximum.at(self.bounds_m, groups, bounds_m)

    def _alive(self, bounds: Array, boxes: Boxes) -> Mask:
        """Which boxes may hold a pose that matters: better than the best, or than the best of its group."""
        task = self.task
        alive = bounds > float(self.best_m.max()) + task.tolerance_m
        if task.alternative_m is not None and self.looks < task.alternative_looks:
            coarse = boxes.reach_m(task.fit.radius_m) > task.alternative_m / 2
            alive |= coarse & (bounds > self.best_m[boxes.group] + task.alternative_m)
        return np.asarray(alive & (bounds >= task.least_margin_m))

    def _improve(self, boxes: Boxes, guesses: Array) -> None:
        """Follow up the most promising box of each group."""
        if not len(boxes):
            return
        reaches = boxes.reach_m(self.task.fit.radius_m)
        task = self.task
        known = np.maximum(self.best_m, self.polished_m)
        better = guesses > float(known.max()) + task.tolerance_m / 4
        if task.alternative_m is not None:
            better |= guesses > known[boxes.group] + task.alternative_m / 2
        for group in np.unique(boxes.group[better]):
            here = np.flatnonzero(better & (boxes.group == group))
            at = int(here[np.argmax(guesses[here])])
            pose = Rigid(float(boxes.x_m[at]), float(boxes.y_m[at]), float(boxes.angle_rad[at]))
            self._offer(int(group), pose)
            near, depth_m = polished(
                self.task, int(group), pose, float(reaches[at]), until_m=POLISH_M
            )
            self.looks += POLISH_LOOKS
            self.polished_m[group] = max(self.polished_m[group], depth_m)
            self._offer(int(group), near)

    def _offer(self, group: int, pose: Rigid) -> None:
        margin_m = self.margin_m(pose)
        better = margin_m > self.best_m[group] and margin_m >= self.task.least_margin_m
        if better and self.task.allows(group, pose):
            self.best_m[group] = margin_m
            self.poses[group] = pose

    def _put_aside(self, boxes: Boxes, bounds: Array) -> None:
        if len(boxes):
            self._bounded(boxes.group, bounds)
            sides = max(float(boxes.half_x_m.max()), float(boxes.half_y_m.max()))
            self.open_m = max(self.open_m, 2 * sides)
            self.open_rad = max(self.open_rad, 2 * float(boxes.half_rad.max()))

    def _split(self, boxes: Boxes, slack_m: Array) -> Boxes:
        """Split each box along what moves its most pressed point towards more depth, or the farthest."""
        radius_m = self.task.fit.radius_m
        reach = np.stack((boxes.half_x_m, boxes.half_y_m, boxes.turn_m(radius_m)), axis=1)
        settled = slack_m.sum(axis=1) < SETTLED_SHARE * self.task.tolerance_m
        return boxes.halves(np.argmax(np.where(settled[:, None], reach, slack_m), axis=1))
