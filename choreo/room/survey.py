"""Everything that decides whether a plan may be run where it is planned, put into the plan."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from itertools import combinations

import numpy as np

from choreo.geometry import Path
from choreo.ground import Ground
from choreo.ground.limits import GroundLimits, surface_use
from choreo.plans.record import MoverPlan, Plan
from choreo.plans.room_record import (
    FailsafeStop,
    PairClearance,
    SafetySettings,
    SightPlan,
    SpacePlan,
)
from choreo.room.aside import nearer
from choreo.room.checks import judge
from choreo.room.clearance import nearest, nearest_place
from choreo.room.cones import cones_of
from choreo.room.envelope import envelope_of, swept_area
from choreo.room.keep_out import keep_out_of
from choreo.room.no_return import no_returns
from choreo.room.site_fit import fit_on_site
from choreo.room.stopping import failsafe_stop
from choreo.room.tolerances import BEFORE_TOUCH_S
from choreo.scenario import Safety, Scenario
from choreo.track.tracks import Track
from choreo.words.caution import CAUTION, NOT_MODELLED


def survey_room(
    scenario: Scenario,
    on_site: GroundLimits,
    paths: Mapping[str, Path],
    plan: Plan,
    ground: Ground | None,
    sights: tuple[SightPlan, ...],
    progress: Callable[[str], None] = lambda _word: None,
) -> Plan:
    """Put clearance, stops, no return, keep-out, sights and the fit on the site into a feasible plan.

    scenario: as written. on_site: with the limits that the ground leaves. paths: by mover. ground: None where the site
    draws none. progress: called with a word before each part that takes its time. Returns the plan with `space`,
    runways that hold stops, and warnings.
    """
    progress("room")
    safety = scenario.safety
    envelope = envelope_of(on_site, paths, plan, ground)
    stops = {
        name: failsafe_stop(envelope.tracks[name], stop, plan.movers[name])
        for name, stop in envelope.stops.items()
    }
    area = swept_area(envelope, safety)
    space = SpacePlan(
        clear=True,
        settings=_settings(safety),
        clearances=nearer(clearances(envelope.tracks, plan), envelope.asides),
        stops=stops,
        no_return=no_returns(
            plan, envelope.tracks, envelope.stops, safety.abort_margin_m, progress
        ),
        keep_out=keep_out_of(
            [one.with_stops for one in envelope.sweeps.values()], safety.error_m, safety.keep_out_m
        ),
        site=None if ground is None else fit_on_site(ground, area),
        surfaces={
            name: surface_use(
                on_site.scenario.movers[name].limits, scenario.movers[name].limits, surface
            )
            for name, surface in on_site.surfaces.items()
            if ground is not None
        },
        sights=sights,
        cones=cones_of(scenario, paths, envelope),
        not_modelled=NOT_MODELLED,
        caution=CAUTION,
    )
    movers = {name: _with_stop(one, stops.get(name)) for name, one in plan.movers.items()}
    return judge(scenario, replace(plan, movers=movers, space=space), envelope)


def clearances(tracks: Mapping[str, Track], plan: Plan) -> tuple[PairClearance, ...]:
    """Give the least distance of every pair of which one moves, nearest first; those that meet come last."""
    end_s = max((track.end_s for track in tracks.values()), default=0.0)
    meets = {
        one.pair: one.time_s
        for one in sorted(plan.encounters.values(), key=lambda e: -e.time_s)
        if one.touches
    }
    found = []
    for a, b in combinations(tracks, 2):
        if not (tracks[a].moves or tracks[b].moves):
            continue
        meets_s = meets.get(frozenset((a, b)))
        until = end_s if meets_s is None else max(meets_s - BEFORE_TOUCH_S, 0.0)
        least = nearest(tracks[a], tracks[b], np.zeros(1), np.array([until]))
        time_s = float(least.time_s[0])
        x_m, y_m = nearest_place(tracks[a], tracks[b], time_s)
        found.append(PairClearance(a, b, float(least.least_m[0]), time_s, x_m, y_m, meets_s))
    return tuple(
        sorted(found, key=lambda one: (one.meets_s is not None, one.least_m, one.a, one.b))
    )


def _with_stop(planned: MoverPlan, stop: FailsafeStop | None) -> MoverPlan:
    if stop is None:
        return planned
    runway = planned.runway
    after = max(runway.run_out_m, stop.farthest_m)
    required = runway.run_up_m + runway.encounter_m + after
    return replace(planned, runway=replace(runway, failsafe_m=stop.beyond_m, required_m=required))


def _settings(safety: Safety) -> SafetySettings:
    return SafetySettings(
        safety.clearance_m,
        safety.abort_margin_m,
        safety.keep_out_m,
        safety.path_error_m,
        safety.position_error_m,
    )
