"""The sight lines of a planned scenario: when each body is first seen, and what must be moved for it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from choreo.geometry.poses import Array
from choreo.plans.room_record import SightPlan
from choreo.scenario import Contact, Scenario, Sight
from choreo.sight.free import free_at
from choreo.sight.scene import PoseOf, standing_corners, view_of, with_moved
from choreo.sight.standing import Slide, Sought, place_for
from choreo.sight.times import first_seen
from choreo.sight.visibility import edges_of
from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class _Run:
    """What does not change when things are moved: motions, times of encounters, what the site has."""

    pose_of: PoseOf
    encounter_times: Mapping[str, float]
    site_obstacles: Sequence[Array]

    def contact_s(self, scenario: Scenario, sight: Sight) -> float | None:
        """Give when the two touch first; None when they are not to touch."""
        return min(self._times(scenario, sight, touching=True), default=None)

    def end_s(self, scenario: Scenario, sight: Sight) -> float:
        """Give until when is looked: the contact of the two, their last encounter, or the last of all."""
        contact_s = self.contact_s(scenario, sight)
        if contact_s is not None:
            return contact_s
        own = self._times(scenario, sight, touching=False)
        return max(own or self.encounter_times.values(), default=0.0)

    def _times(self, scenario: Scenario, sight: Sight, *, touching: bool) -> list[float]:
        """When the two meet; touching: only where they touch."""
        pair = {sight.from_, sight.to}
        return [
            self.encounter_times[name]
            for name, one in scenario.encounters.items()
            if name in self.encounter_times
            and (isinstance(one, Contact) or not touching)
            and {one.of, one.with_} == pair
        ]


def sights_of(
    scenario: Scenario,
    pose_of: PoseOf,
    encounter_times: Mapping[str, float],
    site_obstacles: Sequence[Array] = (),
) -> tuple[SightPlan, ...]:
    """Find when each sight's share is first seen, as time after go and as time left to the contact of the two.

    encounter_times: s after go, by encounter. site_obstacles: polygons, each of shape (k, 2), m. Things that
    a sight may move are moved first, sight by sight; then all are judged with everything in its new place.
    """
    run = _Run(pose_of, encounter_times, site_obstacles)
    moves: dict[str, float | None] = {}
    moved = scenario
    for name, sight in scenario.sights.items():
        if sight.moving is None:
            continue
        moves[name] = _move(run, moved, sight, sight.moving)
        move_m = moves[name]
        if move_m is not None:
            moved = with_moved(moved, sight.moving, move_m)
    return tuple(_judged(run, moved, name, moves.get(name)) for name in scenario.sights)


def with_sights(scenario: Scenario, sights: Sequence[SightPlan]) -> Scenario:
    """Give the scenario with everything that sights moved in its new place."""
    for sight in sights:
        if sight.moving is not None and sight.move_m is not None:
            scenario = with_moved(scenario, sight.moving, sight.move_m)
    return scenario


def _judged(run: _Run, scenario: Scenario, name: str, move_m: float | None) -> SightPlan:
    sight = scenario.sights[name]
    contact_s, end_s = run.contact_s(scenario, sight), run.end_s(scenario, sight)
    view = view_of(scenario, sight, run.pose_of, run.site_obstacles)
    seen = first_seen(view, sight.share, end_s)
    left_s = None if contact_s is None or seen.first_s is None else contact_s - seen.first_s
    within, helps = None, None
    if sight.wanted_s is not None and sight.tolerance_s is not None and contact_s is not None:
        # The tolerance itself is within, rounding of two sums of times or not.
        within = left_s is not None and abs(left_s - sight.wanted_s) <= sight.tolerance_s + 1e-6
        if not within and sight.moving is None:
            helps = _help(run, scenario, sight)
    place = None
    if sight.moving is not None and move_m is not None:
        place = scenario.movers[sight.moving].stand
    return SightPlan(
        name=name,
        from_=sight.from_,
        to=sight.to,
        share=sight.share,
        first_s=seen.first_s,
        to_collision_s=left_s,
        stays=seen.stays,
        wanted_s=sight.wanted_s,
        tolerance_s=sight.tolerance_s,
        within=within,
        moving=sight.moving,
        move_m=move_m,
        x_m=None if place is None else place[0],
        y_m=None if place is None else place[1],
        episodes=seen.episodes,
        helps=helps,
    )


def _move(run: _Run, scenario: Scenario, sight: Sight, moving: str) -> float | None:
    """How far a standing mover must be moved for a sight's wanted instant; None: no place gives it."""
    stand = scenario.movers[moving].stand
    contact_s = run.contact_s(scenario, sight)
    if stand is None or contact_s is None or sight.wanted_s is None or sight.tolerance_s is None:
        return None
    edges = edges_of(standing_corners(scenario, moving))
    free = free_at(scenario, moving, run.pose_of, contact_s, run.site_obstacles)
    slide = Slide(edges, np.array([np.cos(stand[2]), np.sin(stand[2])]), free)
    others = view_of(scenario, sight, run.pose_of, run.site_obstacles, without=moving)
    sought = Sought(sight.share, contact_s, sight.wanted_s, sight.tolerance_s, sight.within_m)
    return place_for(others, slide, sought)


def _help(run: _Run, scenario: Scenario, sight: Sight) -> tuple[str, float] | None:
    """The standing mover in no encounter that needs the least move for the wanted instant, with that move in m."""
    met = {name for one in scenario.encounters.values() for name in (one.of, one.with_)}
    met |= {sight.from_, sight.to, *(str(one.moving) for one in scenario.sights.values())}
    found = []
    for name, mover in scenario.movers.items():
        if mover.stand is None or name in met:
            continue
        move_m = _move(run, scenario, sight, name)
        if move_m is not None:
            found.append((abs(move_m), name, move_m))
    return None if not found else min(found)[1:]
