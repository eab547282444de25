"""What stands before an eye: movers by their poses, site obstacles as they lie, all as edges that hide."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from choreo.geometry import body_corners
from choreo.geometry.poses import Array, Poses
from choreo.scenario import Mover, Scenario, Sight
from choreo.scenario.records.edits import with_mover
from choreo.sight.times import View, ViewAt
from choreo.sight.visibility import edges_of

# Poses of a mover's reference point by its name, at times in s after go, shape (n,).
PoseOf = Callable[[str, Array], Poses]


def view_of(
    scenario: Scenario,
    sight: Sight,
    pose_of: PoseOf,
    site_obstacles: Sequence[Array] = (),
    without: str | None = None,
) -> ViewAt:
    """Give what a sight's eye has before it as a function of time.

    Movers with a `stand` are where the scenario says, whatever pose_of thinks. site_obstacles:
    polygons, each of shape (k, 2), in m. without: a mover that is left out. The body that looks hides nothing.
    """
    lying = [edges_of(np.asarray(one, dtype=float)) for one in site_obstacles]
    hiding = [name for name in scenario.movers if name not in (sight.from_, sight.to, without)]
    body = scenario.movers[sight.from_].body
    x_m, y_m = sight.sensor_m or (body.nose_m, 0.0)
    sensor = np.array([(body.own(x_m), body.own(y_m))])

    def corners(name: str, times_s: Array) -> Array:
        poses = poses_of(scenario, name, pose_of, times_s)
        placed: Array = body_corners(scenario.movers[name].body.corners_m, poses)
        return placed

    def view(times_s: Array) -> View:
        count = len(times_s)
        eyes = body_corners(sensor, poses_of(scenario, sight.from_, pose_of, times_s))[:, 0]
        edges = [edges_of(corners(name, times_s)) for name in hiding]
        edges += [np.broadcast_to(one, (count, *one.shape)) for one in lying]
        nothing = np.zeros((count, 0, 2, 2))
        return View(eyes, corners(sight.to, times_s), np.concatenate([nothing, *edges], axis=1))

    return view


def standing_corners(scenario: Scenario, name: str) -> Array:
    """Give the corners of a mover that has a `stand`, in the site frame, shape (k, 2), m."""
    mover = scenario.movers[name]
    corners: Array = body_corners(mover.body.corners_m, _standing(mover, 1))[0]
    return corners


def poses_of(scenario: Scenario, name: str, pose_of: PoseOf, times_s: Array) -> Poses:
    """Give a mover's poses at times in s after go, shape (n,); of one with a `stand`, where the scenario says."""
    mover = scenario.movers[name]
    return pose_of(name, times_s) if mover.stand is None else _standing(mover, len(times_s))


def with_moved(scenario: Scenario, name: str, move_m: float) -> Scenario:
    """Give the scenario with a standing mover moved along its own heading, + forward, m."""
    mover = scenario.movers[name]
    if mover.stand is None:
        raise AssertionError("only a mover with a stand is moved")
    x, y, heading = mover.stand
    there = (x + move_m * float(np.cos(heading)), y + move_m * float(np.sin(heading)), heading)
    return with_mover(scenario, name, replace(mover, stand=there))


def _standing(mover: Mover, count: int) -> Poses:
    if mover.stand is None:
        raise AssertionError("this mover stands nowhere")
    x, y, heading = (np.full(count, value) for value in mover.stand)
    return Poses(x, y, heading, np.zeros(count))
