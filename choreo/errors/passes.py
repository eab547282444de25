"""Misses in many runs: what room or time is between two bodies at the zone that both go through."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import assert_never

import numpy as np
from numpy.typing import NDArray

from choreo.errors.actors import Actor
from choreo.errors.motions import NEVER_S, RunMotion
from choreo.geometry import conflict_zone, crossing_point
from choreo.scenario import Body, Pass
from choreo.words.records import dataclass

Floats = NDArray[np.float64]

# By so much (m) bodies are moved sideways to see how the zone moves with them.
PROBE_M = 0.05


@dataclass(frozen=True, eq=False)
class Zone:
    """Where the first leaves and the second enters, (2,) in m, and how both move with each one's offset, (2, 2)."""

    edges_m: Floats
    moved: Floats

    def at(self, offsets_m: tuple[Floats, Floats]) -> tuple[Floats, Floats]:
        """Give the exit of the first and the entry of the second in m, of shape (runs,), for both offsets (left +)."""
        first, second = (
            self.edges_m[i] + self.moved[i, 0] * offsets_m[0] + self.moved[i, 1] * offsets_m[1]
            for i in (0, 1)
        )
        return first, second


def zone_of(actors: Mapping[str, Actor], wanted: Pass) -> Zone | None:
    """Find the zone of a pass; None where the two never come together."""
    first, second = (actors[name] for name in _in_order(wanted))
    if wanted.between == "reference points":
        return _crossing(first, second)
    edges = _edges(first, second, 0.0, 0.0)
    if edges is None:
        return None
    moved = np.zeros((2, 2))
    for column, (a, b) in enumerate(((PROBE_M, 0.0), (0.0, PROBE_M))):
        more, less = _edges(first, second, a, b), _edges(first, second, -a, -b)
        if more is not None and less is not None:
            moved[:, column] = (more - less) / (2 * PROBE_M)
    return Zone(edges, moved)


def _crossing(first: Actor, second: Actor) -> Zone | None:
    """The crossing of both paths, which moves along each one with both offsets."""
    found = crossing_point(first.path, second.path)
    if found is None:
        return None
    edges = np.array(found[:2])
    ahead = [one.path.pose(edges[[i]]).heading_rad[0] for i, one in enumerate((first, second))]
    turn = ahead[1] - ahead[0]
    moved = np.array([[np.cos(turn), -1.0], [1.0, -np.cos(turn)]]) / np.sin(turn)
    return Zone(edges, moved)


def _in_order(wanted: Pass) -> tuple[str, str]:
    return wanted.first, wanted.with_ if wanted.first == wanted.of else wanted.of


def _edges(first: Actor, second: Actor, left_first_m: float, left_second_m: float) -> Floats | None:
    bodies = _aside(first.mover.body, left_first_m), _aside(second.mover.body, left_second_m)
    zone = conflict_zone(first.path, bodies[0], second.path, bodies[1])
    return None if zone is None else np.array([zone.exit_a_m, zone.entry_b_m])


def _aside(body: Body, left_m: float) -> Body:
    return replace(body, corners_m=tuple((x, y + left_m) for x, y in body.corners_m))


def passed(zone: Zone, wanted: Pass, motions: tuple[RunMotion, RunMotion]) -> tuple[Floats, Floats]:
    """Give the value of a pass (m or s) and when it happens (s), shape (runs,); motions: of who goes first, and second.

    Where the first never leaves the zone it is missed: NEVER_S.
    """
    first, second = motions
    beside = tuple(
        one.sideways.at(np.full(one.runs, edge), one.every)
        for one, edge in zip(motions, zone.edges_m, strict=True)
    )
    exit_m, entry_m = zone.at((beside[0], beside[1]))
    leaves = first.time_at(exit_m)
    match wanted.measure:
        case "distance":
            value = entry_m - second.states(np.minimum(leaves, first.end_s))[0]
        case "time":
            value = second.time_at(entry_m) - leaves
        case _:
            assert_never(wanted.measure)
    met = (leaves < NEVER_S) & (np.abs(value) < NEVER_S / 2)
    return value, np.where(met, leaves, NEVER_S)
