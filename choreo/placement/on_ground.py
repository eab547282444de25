"""A place on a site with the friction and the slopes that it has.

What a scenario sweeps depends on the ground, and that on the place: another limit may mean another start, another
speed, another run-out. On ground that is level and alike everywhere nothing changes with the place, and the search
proves what it finds. Elsewhere it is searched with plans for the worst ground, then for the worst of what is left
without the worst areas, last for the best; each place found is planned anew exactly as it lies, and only what holds
then is told. That some other place has more room, or that one exists where none is found, is not excluded there.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import shapely

from choreo.fit.locate import spot_at
from choreo.fit.rigid import Rigid
from choreo.ground import Area, Ground
from choreo.ground.build import LEAST_AREA_M2
from choreo.ground.limits import surface_words
from choreo.ground.seams import united
from choreo.ground.surface import Surface
from choreo.ground.under import best_surface, worst_surface
from choreo.placement.described import Telling
from choreo.placement.footprint import (
    Footprint,
    Options,
    footprint_at,
    footprint_for,
    place,
    request_of,
)
from choreo.placement.record import Place, Placement, Ring
from choreo.room.site_fit import site_fit
from choreo.scenario import Scenario, moved_to
from choreo.words import ChoreoError

Progress = Callable[[str], None]
Polygons = tuple[tuple[Ring, ...], ...]
NO_OPTIONS = Options()
# So many kinds of ground are looked at, the worst first.
MOST_KINDS = 3
# So many places are planned anew where they lie.
MOST_SPOTS = 5


@dataclass(frozen=True, slots=True)
class There:
    """A scenario planned where it would lie: its place, what it sweeps there, and the checks that fail."""

    place: Place
    polygons: Polygons
    failures: tuple[str, ...]
    staged: Footprint


def place_on_ground(
    scenario: Scenario,
    ground: Ground,
    options: Options = NO_OPTIONS,
    *,
    file: str = "",
    own: bool = False,
    progress: Progress | None = None,
) -> Placement:
    """Place a scenario on a site as `place` does, with the friction and the slopes that the site has.

    Raises ChoreoError: as `place`; space.too-slippery and space.rate-over-surface where even the site's best
    ground doesn't do.
    """

    def placed(staged: Footprint, on: Ground, *, explained: bool = True) -> Placement:
        return place(
            scenario,
            on,
            options,
            staged=staged,
            file=file,
            own=own,
            explained=explained,
            progress=progress,
        )

    worst, best = worst_surface(ground), best_surface(ground)
    if worst == best:
        told = placed(footprint_for(scenario, worst, progress=progress), ground)
        return _checked(
            scenario, ground, told, f"Planned on level ground ({surface_words(worst)})."
        )
    searched = []
    for part in without_the_worst(ground):
        careful = _on(scenario, worst_surface(part), progress=progress)
        if careful is not None and careful.shape is not None:
            searched.append(placed(careful, part, explained=False))
    found = [told for told in searched if told.verdict == "found"]
    if not found:
        hopeful = placed(footprint_for(scenario, best, progress=progress), ground)
        if hopeful.verdict != "found":
            return _not_found(hopeful)
        found = [hopeful]
    return _looked_at_again(scenario, ground, found, options, progress)


def _checked(scenario: Scenario, ground: Ground, told: Placement, words: str) -> Placement:
    """On ground that is alike everywhere the plan is the same at every place: one look tells what fails."""
    if told.best is None:
        return _noted(told, words)
    there = planned_there(scenario, ground, told.best)
    failures = () if there is None else there.failures
    return replace(_noted(told, words), failures=failures)


def _looked_at_again(
    scenario: Scenario,
    ground: Ground,
    found: list[Placement],
    options: Options,
    progress: Progress | None,
) -> Placement:
    """Plan places anew on the ground that lies there, and keep those that hold what is swept then."""
    spots = [spot for told in found for spot in (told.best, *told.alternatives) if spot is not None]
    spots.sort(key=lambda one: -one.margin_m)
    if progress is not None:
        progress("planning where it would lie")
    fit = _fitting(scenario, ground, spots[:MOST_SPOTS], options)
    told = found[0]
    if not fit:
        words = (
            f"Of the places found none of the best {min(len(spots), MOST_SPOTS)} holds what is swept once it is "
            "planned on the ground that lies there."
        )
        return _not_found(_noted(told, words))
    best, *others = fit
    seen = {(best.place.area, best.place.direction)}
    alternatives = []
    for one in others:
        where = (one.place.area, one.place.direction)
        if where not in seen:
            seen.add(where)
            alternatives.append(one.place)
    words = (
        "Planned anew at each place, on the ground that lies there: other places may have more room. On ground "
        "that is not level and alike everywhere the search proves nothing."
    )
    return _noted(
        replace(
            told,
            best=best.place,
            alternatives=tuple(alternatives),
            footprint_polygons_m=best.polygons,
            margin_bound_m=None,
            # What the search knows of alternatives is of its own plans.
            resolution=None
            if told.resolution is None
            else replace(told.resolution, alternatives_m=None),
            failures=best.failures,
        ),
        words,
    )


def _fitting(
    scenario: Scenario, ground: Ground, spots: list[Place], options: Options
) -> list[There]:
    """Those places that hold what is swept as planned there, the most room first.

    A place that doesn't is shifted once to where the footprint of its own plan has the most room.
    """
    fit: list[There] = []
    for spot in spots:
        there = planned_there(scenario, ground, spot)
        if there is not None and there.place.margin_m < options.least_margin_m:
            there = _shifted(scenario, ground, there, options)
        if there is not None and there.place.margin_m >= options.least_margin_m:
            fit.append(there)
    return sorted(fit, key=lambda one: -one.place.margin_m)


def _shifted(scenario: Scenario, ground: Ground, there: There, options: Options) -> There | None:
    pose = there.place.pose
    back = Rigid(pose.x_m, pose.y_m, math.radians(pose.heading_deg))
    told = place(scenario, ground, options, staged=there.staged, explained=False)
    if told.best is None:
        return None
    shift = told.best.pose
    after = Rigid(shift.x_m, shift.y_m, math.radians(shift.heading_deg)).after(back)
    moved = replace(pose, x_m=after.x_m, y_m=after.y_m, heading_deg=math.degrees(after.angle_rad))
    return planned_there(scenario, ground, replace(told.best, pose=moved))


def planned_there(scenario: Scenario, ground: Ground, spot: Place) -> There | None:
    """Plan a scenario moved to a pose, on the ground that lies there.

    Returns the place as that plan has it, its margin negative where the plan leaves the drivable area; None where it
    has no plan.
    """
    pose = spot.pose
    moved = moved_to(scenario, pose.x_m, pose.y_m, math.radians(pose.heading_deg))
    try:
        staged = footprint_at(moved, ground)
    except ChoreoError:
        return None
    if staged.shape is None:
        return None
    fit = site_fit(ground, staged.shape)
    request = request_of(staged, staged.shape, ground)
    telling = Telling(ground, staged.plan, request, staged.encounters or {})
    here = spot_at(request, Rigid(0.0, 0.0, 0.0))
    place_there = replace(telling.place(here), pose=pose, margin_m=fit.margin_m)
    return There(place_there, telling.polygons(here), staged.failures, staged)


def _not_found(told: Placement) -> Placement:
    """On ground that is not alike everywhere nothing is proven by not finding a place."""
    words = (
        "That none exists is not proven: the plan changes with the ground that lies there, and not every place was "
        "planned."
    )
    nothing = replace(
        told,
        verdict="undecided" if told.verdict in ("found", "none") else told.verdict,
        best=None,
        alternatives=(),
        footprint_polygons_m=(),
        margin_bound_m=None,
    )
    return nothing if told.verdict == "no plan" else _noted(nothing, words)


def without_the_worst(ground: Ground) -> Iterator[Ground]:
    """Give the ground, then what is left of it without its worst areas, and so on."""
    kinds = sorted({_kind(area) for area in ground.areas})
    for number in range(min(len(kinds), MOST_KINDS)):
        areas = tuple(area for area in ground.areas if _kind(area) >= kinds[number])
        dropped = [area for area in ground.areas if _kind(area) < kinds[number]]
        if not dropped:
            yield ground
            continue
        blocked = [*(area.polygon for area in dropped), *ground.obstacles.values()]
        drivable = united([area.polygon for area in areas]).difference(shapely.union_all(blocked))
        if drivable.area > LEAST_AREA_M2:
            shapely.prepare(drivable)
            yield replace(ground, areas=areas, drivable=drivable)


def _kind(area: Area) -> tuple[float, float]:
    """How good an area's surface is: less friction first, then the steeper."""
    return (math.inf if area.friction is None else area.friction, -abs(area.grade_ratio))


def _on(scenario: Scenario, surface: Surface, *, progress: Progress | None) -> Footprint | None:
    """The footprint on a surface; None where the programme asks for more than that gives."""
    try:
        return footprint_for(scenario, surface, progress=progress)
    except ChoreoError:
        return None


def _noted(told: Placement, *words: str) -> Placement:
    return replace(told, warnings=(*told.warnings, *words))
