"""A place on a site with the friction and the slopes that it has.

What a scenario sweeps depends on the ground, and that on the place: another limit may mean another start, another
speed, another run-out. On ground that is level and alike everywhere nothing changes with the place, and the search
proves what it finds. Elsewhere it is searched with plans for the worst ground, then for the worst of what is left
without the worst areas, last for the best; each place found is planned anew exactly as it lies, and only what holds
then is reported. That some other place has more room, or that one exists where none is found, is not excluded there.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import field, replace

import shapely

from choreo.fit.location import spot_at
from choreo.fit.rigid import Rigid
from choreo.ground import Area, Ground
from choreo.ground.build import LEAST_AREA_M2
from choreo.ground.limits import surface_words
from choreo.ground.seams import united
from choreo.ground.surface import Surface
from choreo.ground.under import best_surface, worst_surface
from choreo.placement.described import Describer
from choreo.placement.footprint import (
    Footprint,
    Options,
    footprint_at,
    footprint_for,
    place,
    request_of,
)
from choreo.placement.record import FoundPlace, Placement, Ring
from choreo.room.site_fit import fit_on_site
from choreo.scenario import Scenario, moved_to
from choreo.solve import Solvers
from choreo.words import ChoreoError
from choreo.words.records import dataclass

Progress = Callable[[str], None]
Polygons = tuple[tuple[Ring, ...], ...]
NO_OPTIONS = Options()
# So many kinds of ground are looked at, the worst first.
MOST_KINDS = 3
# So many places are planned anew where they lie.
MOST_SPOTS = 5


@dataclass(frozen=True, slots=True)
class Asked:
    """What is to be placed, where, and how; solvers: shared by all plans that this takes."""

    scenario: Scenario
    ground: Ground
    options: Options
    progress: Progress | None
    solvers: Solvers = field(default_factory=Solvers)

    def on(self, surface: Surface) -> Footprint:
        """Plan on a surface, the same everywhere."""
        return footprint_for(self.scenario, surface, solvers=self.solvers, progress=self.progress)


@dataclass(frozen=True, slots=True)
class There:
    """A scenario planned where it would lie: its place, what it sweeps there, and the checks that fail."""

    place: FoundPlace
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

    asked = Asked(scenario, ground, options, progress)

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
        placement = placed(asked.on(worst), ground)
        return _checked(asked, placement, f"Planned on level ground ({surface_words(worst)}).")
    searched = []
    for part in without_the_worst(ground):
        careful = _on(asked, worst_surface(part))
        if careful is not None and careful.shape is not None:
            searched.append(placed(careful, part, explained=False))
    found = [placed for placed in searched if placed.verdict == "found"]
    if not found:
        hopeful = placed(asked.on(best), ground)
        if hopeful.verdict != "found":
            return _not_found(hopeful)
        found = [hopeful]
    return _looked_at_again(asked, found)


def _checked(asked: Asked, placement: Placement, words: str) -> Placement:
    """On ground that is alike everywhere the plan is the same at every place: one look tells what fails."""
    if placement.best is None:
        return _noted(placement, words)
    there = planned_there(asked, placement.best)
    failures = () if there is None else there.failures
    return replace(_noted(placement, words), failures=failures)


def _looked_at_again(asked: Asked, found: list[Placement]) -> Placement:
    """Plan places anew on the ground that lies there, and keep those that hold what is swept then."""
    spots = [spot for one in found for spot in (one.best, *one.alternatives) if spot is not None]
    spots.sort(key=lambda one: -one.margin_m)
    if asked.progress is not None:
        asked.progress("planning where it would lie")
    fit = _fitting(asked, spots[:MOST_SPOTS])
    placement = found[0]
    if not fit:
        words = (
            f"Of the places found none of the best {min(len(spots), MOST_SPOTS)} holds what is swept once it is "
            "planned on the ground that lies there."
        )
        return _not_found(_noted(placement, words))
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
            placement,
            best=best.place,
            alternatives=tuple(alternatives),
            footprint_polygons_m=best.polygons,
            margin_bound_m=None,
            # What the search knows of alternatives is of its own plans.
            resolution=None
            if placement.resolution is None
            else replace(placement.resolution, alternatives_m=None),
            failures=best.failures,
        ),
        words,
    )


def _fitting(asked: Asked, spots: list[FoundPlace]) -> list[There]:
    """Those places that hold what is swept as planned there, the most room first.

    A place that doesn't is shifted once to where the footprint of its own plan has the most room.
    """
    fit: list[There] = []
    for spot in spots:
        there = planned_there(asked, spot)
        if there is not None and there.place.margin_m < asked.options.least_margin_m:
            there = _shifted(asked, there)
        if there is not None and there.place.margin_m >= asked.options.least_margin_m:
            fit.append(there)
    return sorted(fit, key=lambda one: -one.place.margin_m)


def _shifted(asked: Asked, there: There) -> There | None:
    pose = there.place.pose
    back = Rigid(pose.x_m, pose.y_m, math.radians(pose.heading_deg))
    placement = place(
        asked.scenario, asked.ground, asked.options, staged=there.staged, explained=False
    )
    if placement.best is None:
        return None
    shift = placement.best.pose
    after = Rigid(shift.x_m, shift.y_m, math.radians(shift.heading_deg)).after(back)
    moved = replace(pose, x_m=after.x_m, y_m=after.y_m, heading_deg=math.degrees(after.angle_rad))
    return planned_there(asked, replace(placement.best, pose=moved))


def planned_there(asked: Asked, spot: FoundPlace) -> There | None:
    """Plan a scenario moved to a pose, on the ground that lies there.

    Returns the place as that plan has it, its margin negative where the plan leaves the drivable area; None where it
    has no plan.
    """
    pose, ground = spot.pose, asked.ground
    moved = moved_to(asked.scenario, pose.x_m, pose.y_m, math.radians(pose.heading_deg))
    try:
        staged = footprint_at(moved, ground, asked.solvers)
    except ChoreoError:
        return None
    if staged.shape is None:
        return None
    fit = fit_on_site(ground, staged.shape)
    request = request_of(staged, staged.shape, ground)
    describer = Describer(ground, staged.plan, request, staged.encounters or {})
    here = spot_at(request, Rigid(0.0, 0.0, 0.0))
    place_there = replace(describer.place(here), pose=pose, margin_m=fit.margin_m)
    return There(place_there, describer.polygons(here), staged.failures, staged)


def _not_found(placement: Placement) -> Placement:
    """On ground that is not alike everywhere nothing is proven by not finding a place."""
    words = (
        "That none exists is not proven: the plan changes with the ground that lies there, and not every place was "
        "planned."
    )
    nothing = replace(
        placement,
        verdict="undecided" if placement.verdict in ("found", "none") else placement.verdict,
        best=None,
        alternatives=(),
        footprint_polygons_m=(),
        margin_bound_m=None,
    )
    return nothing if placement.verdict == "no plan" else _noted(nothing, words)


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


def _on(asked: Asked, surface: Surface) -> Footprint | None:
    """The footprint on a surface; None where the programme asks for more than that gives."""
    try:
        return asked.on(surface)
    except ChoreoError:
        return None


def _noted(placement: Placement, *words: str) -> Placement:
    return replace(placement, warnings=(*placement.warnings, *words))
