"""A scenario's footprint, and its place on a site."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from choreo.case import Case, Progress, answer_with_sights, case_at, case_on
from choreo.fit.directions import Arc, allowed_headings, arc_of, of_bearing
from choreo.fit.location import Located, Request, locate, spot_at
from choreo.fit.rectangle import least_rectangle
from choreo.fit.rigid import Rigid
from choreo.fit.short import least_missing, longest_run_m
from choreo.geometry import Path
from choreo.ground import Ground, ground_of
from choreo.ground.surface import LEVEL, Surface
from choreo.placement.described import Describer
from choreo.placement.record import (
    PLACEMENT_FORMAT,
    RECTANGLE_FORMAT,
    Placement,
    Rectangle,
    Resolution,
    Shortfall,
)
from choreo.plans.record import EncounterPlan, Plan
from choreo.room.checks import failed_apart_from_the_site
from choreo.room.envelope import envelope_of, swept_area
from choreo.scenario import Scenario
from choreo.solve import Solvers
from choreo.words import ChoreoError, Finding, Origin
from choreo.words.caution import CAUTION, NOT_MODELLED
from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class Options:
    """What is asked for: a margin that a place must have at least, and directions left out, as written."""

    least_margin_m: float = 0.0
    not_towards: tuple[str, ...] = ()
    not_bearing: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Footprint:
    """A plan on a surface and all that it sweeps, in the scenario's frame; shape: None without a plan to run.

    heading_rad: of the subject at the first encounter; reference_m: where that is. failures: checks that fail
    wherever it lies.
    """

    plan: Plan
    shape: BaseGeometry | None
    heading_rad: float = 0.0
    reference_m: tuple[float, float] = (0.0, 0.0)
    encounters: Mapping[str, tuple[float, float]] | None = None
    failures: tuple[str, ...] = ()


def footprint_on(case: Case, *, progress: Progress | None = None) -> Footprint:
    """Plan a case and give what it sweeps where it lies.

    Raises ChoreoError: what the plan raises.
    """
    found, sights = answer_with_sights(case, progress=progress)
    if not found.feasible:
        return Footprint(found.plan, None)
    if progress is not None:
        progress("footprint")
    done, plan = found.case, found.plan
    envelope = envelope_of(done.on_site, done.paths, plan, case.ground)
    shape = swept_area(envelope, done.scenario.safety)
    heading_rad, reference = _reference(done.scenario, plan, done.paths, shape)
    places = {name: one.place for name, one in plan.encounters.items() if one.place is not None}
    failures = failed_apart_from_the_site(case.written, plan, envelope, sights)
    return Footprint(plan, shape, heading_rad, reference, places, failures)


def footprint_for(
    scenario: Scenario,
    surface: Surface = LEVEL,
    *,
    solvers: Solvers | None = None,
    progress: Progress | None = None,
) -> Footprint:
    """Plan a scenario on a surface, the same everywhere, and give what it sweeps.

    solvers: of other cases of the same scenario. Raises ChoreoError: what the plan raises.
    """
    return footprint_on(case_on(scenario, surface, solvers), progress=progress)


def footprint_at(scenario: Scenario, ground: Ground, solvers: Solvers | None = None) -> Footprint:
    """Plan a scenario where it lies on a site, and give what it sweeps there, in the site's frame.

    solvers: of other cases of the same scenario. Raises ChoreoError: what the plan and the ground raise.
    """
    return footprint_on(case_at(scenario, ground, solvers))


def place(
    scenario: Scenario,
    ground: Ground,
    options: Options = Options(),
    *,
    staged: Footprint | None = None,
    file: str = "",
    own: bool = False,
    explained: bool = True,
    progress: Progress | None = None,
) -> Placement:
    """Give the pose of a scenario on a site at which all that it sweeps lies inside with the largest margin.

    staged: the footprint, if it is known; file: the site's, for messages; own: the ground is the scenario's
    own; explained: what is missing is looked for where nothing fits. Raises ChoreoError: what the plan raises;
    place.bad-direction, place.no-anchor, place.no-direction-left.
    """
    arcs = _excluded(options, ground, file)
    if not allowed_headings(arcs):
        raise ChoreoError((Finding("place.no-direction-left", "error", None, {}),))
    staged = staged or footprint_for(scenario, progress=progress)
    placement = Placement(
        format=PLACEMENT_FORMAT,
        verdict="no plan",
        title=scenario.title,
        site=ground.title,
        plan_verdict=staged.plan.verdict,
        fingerprint=staged.plan.fingerprint,
        least_margin_m=options.least_margin_m,
        excluded=(
            *(f"headings {text}" for text in options.not_towards),
            *(f"bearings {text}" for text in options.not_bearing),
        ),
        not_modelled=NOT_MODELLED,
        caution=CAUTION,
    )
    if staged.shape is None:
        return placement
    if progress is not None:
        progress("search")
    request = replace(
        request_of(staged, staged.shape, ground),
        excluded=arcs,
        least_margin_m=options.least_margin_m,
    )
    located = locate(request)
    placement = _answered(
        placement, located, Describer(ground, staged.plan, request, staged.encounters or {})
    )
    if own:
        margin_m = spot_at(request, Rigid(0.0, 0.0, 0.0)).margin_m
        placement = replace(placement, as_written_m=margin_m if math.isfinite(margin_m) else None)
    if located.spots or not explained:
        return placement
    if progress is not None:
        progress("what is missing")
    return replace(placement, shortfall=_shortfall(request, ground))


def request_of(staged: Footprint, shape: BaseGeometry, ground: Ground) -> Request:
    """Ask for a place of what is swept on a ground, without further wishes."""
    anchor = ground.anchor
    return Request(
        footprint=shape,
        drivable=ground.drivable,
        areas=tuple((area.name, area.polygon) for area in ground.areas),
        reference_m=staged.reference_m,
        heading_rad=staged.heading_rad,
        x_bearing_rad=None if anchor is None else math.radians(anchor.bearing_deg),
    )


def smallest(
    scenario: Scenario,
    margin_m: float,
    *,
    staged: Footprint | None = None,
    progress: Progress | None = None,
) -> Rectangle:
    """Give the rectangle of least area that holds all that a scenario sweeps, and a margin on all sides.

    Raises ChoreoError: what the plan raises.
    """
    ground = ground_of(scenario)
    if staged is None and ground is not None:
        staged = footprint_at(scenario, ground)
    staged = staged or footprint_for(scenario, progress=progress)
    rectangle = Rectangle(
        format=RECTANGLE_FORMAT,
        verdict="no plan",
        title=scenario.title,
        plan_verdict=staged.plan.verdict,
        fingerprint=staged.plan.fingerprint,
        margin_m=margin_m,
        ground=(
            "Planned on level ground with enough grip."
            if ground is None
            else f"Planned on its own site, {ground.title}: other ground may take more room."
        ),
        not_modelled=NOT_MODELLED,
        caution=CAUTION,
    )
    if staged.shape is None:
        return rectangle
    box = least_rectangle(staged.shape, margin_m)
    against = math.remainder(staged.heading_rad - box.angle_rad, 2 * math.pi)
    return replace(
        rectangle,
        verdict="found",
        length_m=box.length_m,
        width_m=box.width_m,
        area_m2=box.length_m * box.width_m,
        long_side_deg=math.degrees(box.angle_rad),
        subject_deg=math.degrees(against),
        corners_m=box.corners(),
    )


def _answered(placement: Placement, located: Located, describer: Describer) -> Placement:
    outcome = located.outcome
    best = describer.place(located.spots[0]) if located.spots else None
    return replace(
        placement,
        verdict=located.verdict,
        best=best,
        alternatives=tuple(describer.place(spot) for spot in located.spots[1:]),
        margin_bound_m=outcome.bound_m if math.isfinite(outcome.bound_m) else None,
        resolution=Resolution(
            outcome.box_m,
            math.degrees(outcome.box_rad),
            outcome.open_m,
            math.degrees(outcome.open_rad),
            outcome.boxes,
            outcome.ended_early,
            located.alternatives_m,
        ),
        footprint_polygons_m=describer.polygons(located.spots[0]) if located.spots else (),
        datum=describer.datum,
    )


def _shortfall(request: Request, ground: Ground) -> Shortfall:
    missing = least_missing(request)
    box = least_rectangle(request.footprint)
    without_m = None
    if request.excluded:
        free = locate(replace(request, excluded=()))
        without_m = free.spots[0].margin_m if free.spots else None
    return Describer.shortfall(
        ground, request, missing, box, longest_run_m(ground.drivable), without_m
    )


def _excluded(options: Options, ground: Ground, file: str) -> tuple[Arc, ...]:
    """The site headings that are left out. Raises ChoreoError: place.bad-direction, place.no-anchor."""
    arcs = [arc_of(text, "--not-towards") for text in options.not_towards]
    for text in options.not_bearing:
        arc = arc_of(text, "--not-bearing")
        if ground.anchor is None:
            origin = Origin(file, 1, 1) if file else None
            values = {"option": "--not-bearing", "site": ground.title}
            raise ChoreoError((Finding("place.no-anchor", "error", origin, values),))
        arcs.append(of_bearing(arc, math.radians(ground.anchor.bearing_deg)))
    return tuple(arcs)


def _reference(
    scenario: Scenario, plan: Plan, paths: Mapping[str, Path], shape: BaseGeometry
) -> tuple[float, tuple[float, float]]:
    """The subject's heading at the first encounter, and where that is."""
    first = min(plan.encounters.values(), key=lambda one: one.time_s, default=None)
    subject = _subject(scenario, first)
    station = plan.movers[subject].start.station_m
    if first is not None and subject in (first.of, first.with_):
        station = first.station_of_m if subject == first.of else first.station_with_m
    pose = paths[subject].pose(np.array([station]))
    places = [shapely.Point(first.place)] if first is not None and first.place else []
    # A place inside the footprint lies inside one of the areas wherever the footprint fits.
    places += [shapely.centroid(shape), shapely.point_on_surface(shape)]
    inside = next((one for one in places if shape.covers(one)), places[-1])
    return float(pose.heading_rad[0]), (float(inside.x), float(inside.y))


def _subject(scenario: Scenario, first: EncounterPlan | None) -> str:
    """The vehicle under test: by its kind, else the one whose encounter it is."""
    for name, mover in scenario.movers.items():
        if mover.kind == "subject":
            return name
    return first.of if first is not None else next(iter(scenario.movers))
