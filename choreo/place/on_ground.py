"""A place on a site whose ground is not everywhere alike.

What a scenario sweeps depends on friction and slope, and these on the place. So it is planned as if the worst
of the whole site lay everywhere: where that fits, it fits. Where it doesn't, the worst areas are kept off, one kind
after the other, and what is left is asked in the same way. Where that finds nothing either, it is planned on the
best ground of the site, which takes the least room: only when that has no place is there none. The places that
it has are planned once more exactly as they lie.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace

import shapely

from choreo.ground import Area, Ground
from choreo.ground.build import LEAST_AREA_M2
from choreo.ground.surface import Surface
from choreo.ground.under import best_surface, worst_surface
from choreo.place.locate import spot_at
from choreo.place.record import Place, Placement, Ring
from choreo.place.rigid import Rigid
from choreo.place.staged import (
    Options,
    Staged,
    footprint_at,
    footprint_for,
    place,
    request_of,
)
from choreo.place.told import Telling
from choreo.scenario import PathSpec, Scenario
from choreo.space.on_site import surface_words
from choreo.space.site_fit import site_fit
from choreo.words import ChoreoError

Progress = Callable[[str], None]
Polygons = tuple[tuple[Ring, ...], ...]
NO_OPTIONS = Options()
# So many kinds of ground are looked at, the worst first.
MOST_KINDS = 4
# So many places are planned anew where they lie.
MOST_SPOTS = 8


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

    def placed(staged: Staged, on: Ground) -> Placement:
        return place(scenario, on, options, staged=staged, file=file, own=own, progress=progress)

    best = best_surface(ground)
    for part, left_out in without_the_worst(ground):
        worst = worst_surface(part)
        last = worst == best and not left_out
        careful = _on(scenario, worst, alike=last, progress=progress)
        if careful is None or (careful.shape is None and not last):
            continue
        found = placed(careful, part)
        if found.verdict == "found" or last:
            return _noted(found, *_words(worst, worst_surface(ground), left_out))
    told = placed(footprint_for(scenario, best, progress=progress), ground)
    if told.verdict != "found":
        on_best = f"Planned on the best ground of the site ({surface_words(best)})"
        return _noted(told, f"{on_best}; poorer ground takes more room.")
    return _looked_at_again(scenario, ground, told, options, progress)


def without_the_worst(ground: Ground) -> Iterator[tuple[Ground, tuple[str, ...]]]:
    """Give the ground, then what is left of it without its worst areas, and so on, with the names left out."""
    kinds = sorted({_kind(area) for area in ground.areas})
    for number in range(min(len(kinds), MOST_KINDS)):
        areas = tuple(area for area in ground.areas if _kind(area) >= kinds[number])
        dropped = [area for area in ground.areas if _kind(area) < kinds[number]]
        if not dropped:
            yield ground, ()
            continue
        blocked = [*(area.polygon for area in dropped), *ground.obstacles.values()]
        drivable = shapely.union_all([area.polygon for area in areas]).difference(
            shapely.union_all(blocked)
        )
        if drivable.area > LEAST_AREA_M2:
            shapely.prepare(drivable)
            names = tuple(area.name for area in dropped)
            yield replace(ground, areas=areas, drivable=drivable), names


def _kind(area: Area) -> tuple[float, float]:
    """How good an area's surface is: less friction first, then the steeper."""
    return (math.inf if area.friction is None else area.friction, -abs(area.grade_ratio))


def _on(
    scenario: Scenario, surface: Surface, *, alike: bool, progress: Progress | None
) -> Staged | None:
    """The footprint on a surface; None where the programme asks for more than that gives."""
    try:
        return footprint_for(scenario, surface, progress=progress)
    except ChoreoError:
        if alike:
            raise
        return None


def _looked_at_again(
    scenario: Scenario,
    ground: Ground,
    told: Placement,
    options: Options,
    progress: Progress | None,
) -> Placement:
    """Keep of the places found on the best ground those that hold what is swept on the ground that lies there."""
    spots = [spot for spot in (told.best, *told.alternatives) if spot is not None][:MOST_SPOTS]
    fit: list[tuple[Place, Polygons]] = []
    for spot in spots:
        if progress is not None:
            progress("planning where it would lie")
        there = planned_there(scenario, ground, spot)
        if there is not None and there[0].margin_m >= options.least_margin_m:
            fit.append(there)
    fit.sort(key=lambda one: -one[0].margin_m)
    if fit:
        places = tuple(place for place, _ in fit)
        found = replace(
            told,
            best=places[0],
            alternatives=places[1:],
            footprint_polygons_m=fit[0][1],
            margin_bound_m=None,
        )
        words = (
            "Planned anew at each place, on the ground that lies there. The search itself was for the plan on the "
            "best ground of the site: other poses may have more room."
        )
        return _noted(found, words)
    missing = (
        "On the site's best ground there would be places; on the ground that lies there none of those "
        f"looked at ({len(spots)}) holds what is swept."
    )
    nothing = replace(
        told, verdict="undecided", best=None, alternatives=(), footprint_polygons_m=()
    )
    return _noted(nothing, missing)


def planned_there(
    scenario: Scenario, ground: Ground, spot: Place
) -> tuple[Place, Polygons] | None:
    """Plan a scenario moved to a pose, on the ground that lies there.

    Returns the place as that plan has it, with the polygons of what it sweeps in m; None where it has no plan or
    leaves the drivable area.
    """
    pose = spot.pose
    moved = moved_to(scenario, Rigid(pose.x_m, pose.y_m, math.radians(pose.heading_deg)))
    try:
        staged = footprint_at(moved, ground)
    except ChoreoError:
        return None
    if staged.shape is None:
        return None
    fit = site_fit(ground, staged.shape)
    if fit.outside_m2 > 0.0:
        return None
    request = request_of(staged, staged.shape, ground)
    telling = Telling(ground, staged.plan, request, staged.encounters or {})
    here = spot_at(request, Rigid(0.0, 0.0, 0.0))
    return replace(telling.place(here), pose=pose, area=spot.area), telling.polygons(here)


def moved_to(scenario: Scenario, pose: Rigid) -> Scenario:
    """Give a scenario with everything that it says about places turned and shifted."""

    def path(one: PathSpec) -> PathSpec:
        return replace(
            one,
            start_m=None if one.start_m is None else pose.point(*one.start_m),
            heading_rad=one.heading_rad + pose.angle_rad,
            pieces=tuple(
                piece if piece.at_m is None else replace(piece, at_m=pose.point(*piece.at_m))
                for piece in one.pieces
            ),
            points_m=tuple(pose.point(*point) for point in one.points_m),
        )

    movers = {}
    for name, mover in scenario.movers.items():
        if mover.stand is None:
            movers[name] = mover
            continue
        x_m, y_m, heading_rad = mover.stand
        there = (*pose.point(x_m, y_m), heading_rad + pose.angle_rad)
        movers[name] = replace(mover, stand=there)
    paths = {name: path(one) for name, one in scenario.paths.items()}
    return replace(scenario, paths=paths, movers=movers)


def _words(worst: Surface, of_all: Surface, left_out: tuple[str, ...]) -> tuple[str, ...]:
    if left_out:
        names = ", ".join(left_out)
        return (
            f"Kept off the site's worst ground ({names}), and planned on the worst of the rest "
            f"({surface_words(worst)}).",
        )
    return (f"Planned on the worst ground of the site ({surface_words(of_all)}).",)


def _noted(told: Placement, *words: str) -> Placement:
    return replace(told, warnings=(*told.warnings, *words))
