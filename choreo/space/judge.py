"""Which of what space has found is a failed check, and which a warning."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from choreo.plan.message import Message
from choreo.plan.record import Plan
from choreo.plan.space_record import SpacePlan
from choreo.scenario import Scenario
from choreo.space.no_return import ALL
from choreo.space.sight_findings import sight_findings
from choreo.space.sweep import Swept
from choreo.words import Finding


def judge(scenario: Scenario, plan: Plan, sweeps: Mapping[str, Swept]) -> Plan:
    """Add warnings and failed checks to a plan that has `space`; any failed check makes it not clear."""
    space = plan.space
    if space is None:
        return plan
    findings = (
        *_near_misses(scenario, space),
        *_site(scenario, space),
        *_stops(scenario, space, sweeps),
        *_no_way_back(scenario, space),
        *sight_findings(scenario, space.sights),
    )
    messages = tuple(_message(finding) for finding in findings)
    failures = tuple(one for one in messages if one.severity == "error")
    warnings = tuple(one for one in messages if one.severity != "error")
    judged = replace(
        space,
        clear=not failures,
        failures=failures,
    )
    return replace(plan, space=judged, warnings=(*plan.warnings, *warnings))


def _near_misses(scenario: Scenario, space: SpacePlan) -> Iterator[Finding]:
    wanted = space.settings.clearance_m
    for pair in space.clearances:
        if pair.meets_s is None and pair.least_m < wanted:
            values = {
                "a": pair.a,
                "b": pair.b,
                "least": f"{pair.least_m:.3f}",
                "when": f"{pair.time_s:.3f}",
                "x": f"{pair.x_m:.2f}",
                "y": f"{pair.y_m:.2f}",
                "wanted": f"{wanted:g}",
            }
            yield Finding("space.near-miss", "warning", scenario.origin("movers", pair.a), values)


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
    scenario: Scenario, space: SpacePlan, sweeps: Mapping[str, Swept]
) -> Iterator[Finding]:
    for name, stop in space.stops.items():
        if stop.path_short_m > 0.0:
            values = {"mover": name, "short": f"{stop.path_short_m:.2f}"}
            yield Finding("space.path-short", "warning", scenario.origin("movers", name), values)
    meet = {
        frozenset((pair.a, pair.b)) for pair in space.clearances if pair.meets_s is not None
    }
    for name in space.stops:
        for other, body in sweeps.items():
            if other in space.stops or frozenset((name, other)) in meet:
                continue
            if sweeps[name].with_stops.intersects(body.planned):
                values = {"mover": name, "other": other}
                yield Finding(
                    "space.stop-touches", "warning", scenario.origin("movers", name), values
                )


def _no_way_back(scenario: Scenario, space: SpacePlan) -> Iterator[Finding]:
    for one in space.no_return:
        if one.who == ALL and one.state == "never":
            values = {"encounter": one.encounter}
            place = scenario.origin("encounters", one.encounter)
            yield Finding("space.no-way-back", "warning", place, values)


def _message(finding: Finding) -> Message:
    place = None if finding.origin is None else str(finding.origin)
    return Message(finding.code, finding.severity, finding.text, finding.advice, place)
