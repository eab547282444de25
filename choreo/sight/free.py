"""Which places of a standing thing are free: nothing else stands there or drives through."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import shapely

from choreo.geometry import body_corners
from choreo.geometry.poses import Array
from choreo.scenario import Scenario
from choreo.sight.scene import PoseOf, poses_of, standing_corners

# How far apart the instants are (s) at which moving bodies are placed: at 40 m/s less than half a car's length.
PLACED_S = 0.05
# How long after the end of what is looked at (s) bodies are followed; by then they have come to rest.
RUN_OUT_S = 15.0


def free_at(
    scenario: Scenario,
    name: str,
    pose_of: PoseOf,
    end_s: float,
    site_obstacles: Sequence[Array] = (),
) -> Callable[[float], bool]:
    """Give what says whether a standing mover, moved by so many m along its heading, touches nothing.

    end_s: until when the run is looked at, s after go; its run-out is added. site_obstacles: polygons, each of shape
    (k, 2), m.
    """
    times = np.arange(0.0, end_s + RUN_OUT_S, PLACED_S)
    others = [np.array([shapely.Polygon(one) for one in site_obstacles], dtype=object)]
    for other, mover in scenario.movers.items():
        if other != name:
            at = times[:1] if mover.stand is not None else times
            poses = poses_of(scenario, other, pose_of, at)
            others.append(shapely.polygons(body_corners(mover.body.corners_m, poses)))
    bodies = np.concatenate(others)
    here = standing_corners(scenario, name)
    along = np.array(scenario.movers[name].stand or (0.0, 0.0, 0.0))[2]
    unit = np.array([np.cos(along), np.sin(along)])

    def free(move_m: float) -> bool:
        there = shapely.polygons(here + move_m * unit)
        shapely.prepare(there)
        return not bool(shapely.intersects(there, bodies).any())

    return free
