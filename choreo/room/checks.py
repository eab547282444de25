"""Which findings on the room of a plan are failed checks, and which are warnings."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import replace

from choreo.courses import COURSES
from choreo.ground.stop import LEAST_BRAKE_MPS2
from choreo.plans.message import messages_of
from choreo.plans.record import Plan
from choreo.plans.room_record import FailsafeStop, SightPlan, SpacePlan
from choreo.room.aside import aside_findings, unsure
from choreo.room.envelope import Envelope
from choreo.room.grip import ROUNDING, planned_demand, stopping_demand, stopping_share
from choreo.room.stopping import failsafe_stop
from choreo.room.sweep import Swept
from choreo.room.tolerances import CHOSEN_M, CLEARANCE_M
from choreo.scenario import Scenario
from choreo.sight.findings import sight_findings
from choreo.words import Finding, errors_of, remarks_of

# How near to a cone a body comes is told to the millimetre.
CONES_WITHIN_M = 1e-3


def judge(scenario: Scenario, plan: Plan, envelope: Envelope) -> Plan:
    """Add warnings and failed checks to a plan that has `space`; any failed check makes it not clear."""
    space = plan.space
    if space is None:
        return plan
    meet = {frozenset((pair.a, pair.b)) for pair in space.clearances if pair.meets_s is not None}
    findings = (
        *_near_misses(scenario, space),
        *_site(scenario, space),
        *_stops(scenario, space.stops, meet, envelope.sweeps),
        *_slides(scenario, envelope),
        *_over_ellipse(scenario, envelope),
        *_cones(scenario, space),
        *aside_findings(scenario, envelope.tracks, envelope.asides),
        *unsure(scenario, space.clearances, envelope.asides),
        *_past_course(scenario, envelope),
        *_rolls_on(scenario, plan),
        *_no_way_back(scenario, space),
        *sight_findings(scenario, space.sights),
    )
    messages = messages_of(findings)
    failures = errors_of(messages)
    warnings = remarks_of(messages)
    judged = replace(
        space,
        clear=not failures,
        failures=failures,
    )
    return replace(plan, space=judged, warnings=(*plan.warnings, *warnings))


def failed_apart_from_the_site(
    scenario: Scenario, plan: Plan, envelope: Envelope, sights: tuple[SightPlan, ...]
) -> tuple[str, ...]:
    """Give the checks that fail wherever a plan lies, in words: stops into what stands, sights missed."""
    stops = {
        name: failsafe_stop(envelope.tracks[name], stop, plan.movers[name])
        for name, stop in envelope.stops.items()
    }
    meet = {one.pair for one in plan.encounters.values() if one.touches}
    findings = (
        *_stops(scenario, stops, meet, envelope.sweeps),
        *aside_findings(scenario, envelope.tracks, envelope.asides),
        *sight_findings(scenario, sights),
    )
    return tuple(one.text for one in errors_of(findings))


def _near_misses(scenario: Scenario, space: SpacePlan) -> Iterator[Finding]:
    """Bodies that come nearer than is asked for; where both may be off by more than that, they may touch."""
    wanted = space.settings.clearance_m
    for pair in space.clearances:
        # The distance is a bound, less than the truth by no more than the first of these.
        if pair.meets_s is None and pair.least_m < wanted - CLEARANCE_M - CHOSEN_M:
            errors_m = sum(_error_m(scenario, name) for name in (pair.a, pair.b))
            values = {
                "a": pair.a,
                "b": pair.b,
                "least": f"{pair.least_m:.3f}",
                "when": f"{pair.time_s:.3f}",
                "x": f"{pair.x_m:.2f}",
                "y": f"{pair.y_m:.2f}",
                "wanted": f"{wanted:g}",
                "errors": f"{errors_m:g}",
            }
            place = scenario.origin("movers", pair.a)
            if pair.least_m < errors_m:
                yield Finding("space.may-touch", "error", place, values)
            else:
                yield Finding("space.near-miss", "warning", place, values)


def _error_m(scenario: Scenario, name: str) -> float:
    """How far a mover may be from where it is planned: none that stands, or is rigged, a door or another obstacle."""
    mover = scenario.movers[name]
    drives = (
        mover.programme and mover.kind != "obstacle" and scenario.turning_radius_m(name) is None
    )
    return scenario.safety.error_m if drives else 0.0


def _site(scenario: Scenario, space: SpacePlan) -> Iterator[Finding]:
    fit = space.site
    if fit is None:
        return
    place = scenario.origin("site")
    values = {
        "margin": f"{abs(fit.margin_m):.2f}",
        "x": f"{fit.x_m:.2f}",
        "y": f"{fit.y_m:.2f}",
        "edge": fit.edge,
        "area": f"{fit.outside_m2:.1f}",
        "wanted": f"{space.settings.clearance_m:g}",
    }
    if fit.outside_m2 > 0.0:
        yield Finding("space.leaves-site", "error", place, values)
    elif fit.margin_m < space.settings.clearance_m:
        yield Finding("space.near-edge", "warning", place, values)


def _stops(
    scenario: Scenario,
    stops: Mapping[str, FailsafeStop],
    meet: set[frozenset[str]],
    sweeps: Mapping[str, Swept],
) -> Iterator[Finding]:
    for name, stop in stops.items():
        if stop.brake_mps2 <= LEAST_BRAKE_MPS2:
            place = scenario.origin("movers", name)
            yield Finding("space.no-stop", "error", place, {"mover": name})
        if stop.path_short_m > 0.0:
            values = {"mover": name, "short": f"{stop.path_short_m:.2f}"}
            yield Finding("space.path-short", "warning", scenario.origin("movers", name), values)
    for name in stops:
        for other, body in sweeps.items():
            if other in stops or frozenset((name, other)) in meet:
                continue
            if sweeps[name].with_stops.intersects(body.planned):
                values = {"mover": name, "other": other}
                yield Finding(
                    "space.stop-touches", "error", scenario.origin("movers", name), values
                )


def _slides(scenario: Scenario, envelope: Envelope) -> Iterator[Finding]:
    """Brakings in a bend that ask for more than the tyres give, by plan and by a stop from any instant."""
    for name, stop in envelope.stops.items():
        track = envelope.tracks[name]
        for what, demand in (
            ("braking by plan", planned_demand(track, stop)),
            ("a failsafe stop", stopping_demand(track, stop)),
        ):
            if demand.over:
                values = {
                    "mover": name,
                    "what": what,
                    "station": f"{demand.station_m:.1f}",
                    "lateral": f"{demand.lateral_mps2:.2f}",
                    "braking": f"{demand.braking_mps2:.2f}",
                    "grip": f"{demand.grip_mps2:.2f}",
                    "whose": "assumed" if stop.surface.friction is None else "of the site",
                }
                place = scenario.origin("movers", name)
                yield Finding("space.slides", "warning", place, values)


def _over_ellipse(scenario: Scenario, envelope: Envelope) -> Iterator[Finding]:
    """Failsafe stops in a bend for which the ellipse of a mover's limits doesn't leave enough."""
    for name, stop in envelope.stops.items():
        found = stopping_share(envelope.tracks[name], stop, scenario.movers[name].limits)
        if found is None or found[0] <= 1.0 + ROUNDING:
            continue
        share, demand = found
        values = {
            "mover": name,
            "station": f"{demand.station_m:.1f}",
            "lateral": f"{demand.lateral_mps2:.2f}",
            "braking": f"{demand.braking_mps2:.2f}",
            "share": f"{100.0 * share:.0f}",
        }
        place = scenario.origin("movers", name, "limits", "combined")
        yield Finding("space.stop-combined", "warning", place, values)


def _cones(scenario: Scenario, space: SpacePlan) -> Iterator[Finding]:
    for cone in space.cones:
        asked_m = _asked_m(scenario, cone.path)
        if cone.clear_m >= asked_m - CONES_WITHIN_M:
            continue
        touched = -cone.clear_m
        values = {
            "mover": cone.mover,
            "cone": cone.name,
            "path": cone.path,
            "depth": f"{touched:.3f} m" if touched >= CONES_WITHIN_M else "less than 1 mm",
            "clear": f"{cone.clear_m:.3f}",
            "asked": f"{asked_m:g}",
            "station": f"{cone.station_m:.1f}",
            "x": f"{cone.x_m:.2f}",
            "y": f"{cone.y_m:.2f}",
            "instead": _off_cones(scenario, cone.path),
        }
        code = "space.cone-touched" if cone.clear_m < 0.0 else "space.cone-near"
        yield Finding(code, "error", scenario.origin("paths", cone.path), values)


def _asked_m(scenario: Scenario, path: str) -> float:
    """What a driven line is asked to keep of cones, in m; others just may not touch them."""
    course = scenario.paths[path].course
    kept = CONES_WITHIN_M
    return kept if course is None or course.line == "centres" else max(course.margin_m, kept)


def _off_cones(scenario: Scenario, path: str) -> str:
    """What keeps a body off the cones of a course, of what that course may be told."""
    course = scenario.paths[path].course
    kind = None if course is None else COURSES[course.name][0]
    if course is None or kind is None:
        return "Drive past it."
    if kind.takes("line") and course.line == "centres":
        widths = ", or lay it out for the body's width" if course.vehicle_width_m else ""
        return f"Have the line driven (`line: least lateral acceleration`){widths}."
    if kind.takes("line") and course.driven is not None and course.driven.keeps:
        return "Write a larger `margin`."
    if kind.takes("lane width"):
        return "Write a wider `lane width`, or a larger `radius`."
    keys = [key for key in ("aside", "vehicle width") if kind.takes(key)]
    wider = " or ".join(f"a larger `{key}`" for key in keys)
    return f"Write {wider}, or drive a narrower body." if wider else "Drive a narrower body."


def _past_course(scenario: Scenario, envelope: Envelope) -> Iterator[Finding]:
    """Movers that drive a path laid out by a course, but start behind all of its manoeuvre."""
    for name, track in envelope.tracks.items():
        path = scenario.movers[name].path or ""
        spec = scenario.paths.get(path)
        if spec is None or spec.course is None or not track.moves:
            continue
        ends = max((end for _, end in track.path.marks.values()), default=math.inf)
        if track.motion.start_m >= ends:
            start = f"{track.motion.start_m:.1f}"
            values = {"mover": name, "start": start, "end": f"{ends:.1f}"}
            values["course"] = spec.course.name
            yield Finding("space.past-course", "warning", scenario.origin("movers", name), values)


def _rolls_on(scenario: Scenario, plan: Plan) -> Iterator[Finding]:
    """Movers that hold until a trigger: should it fail, they go where no zone looks."""
    for name, mover in plan.movers.items():
        for phase, trigger in mover.ended_by.items():
            values = {"mover": name, "phase": phase, "trigger": trigger}
            yield Finding("space.rolls-on", "warning", scenario.origin("movers", name), values)


def _no_way_back(scenario: Scenario, space: SpacePlan) -> Iterator[Finding]:
    for one in space.no_return:
        if one.by_all and one.state == "never":
            values = {"encounter": one.encounter}
            place = scenario.origin("encounters", one.encounter)
            yield Finding("space.no-way-back", "warning", place, values)
