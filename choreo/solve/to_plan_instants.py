"""One named instant of a plan: every mover's state then, and what is left until each encounter."""

from __future__ import annotations

import math
from collections.abc import Mapping

from choreo.geometry import gap_track, lap_of
from choreo.plans.record import InstantPlan, InstantState
from choreo.scenario import Contact, Gap, Pass
from choreo.solve.plan_source import Source

States = Mapping[str, InstantState]
# An approach that turns by less than this (rad, 1.1 deg) until the contact is straight.
STRAIGHT_RAD = 1 / 50
# Headings whose difference has a smaller sine, within 30 deg, are of one lane.
ONE_LANE_SINE = 0.5


def instant_plan(source: Source, name: str) -> InstantPlan:
    """Write one named instant."""
    time_s = source.reading.instants[name]
    states = {mover.name: _state(source, mover.name, time_s) for mover in source.problem.movers}
    gaps, collisions = _gaps(source, states)
    left = {
        key: moment.time_s - time_s
        for key, moment in source.reading.moments.items()
        if moment.time_s > time_s
    }
    return InstantPlan(time_s - source.zero_s, states, gaps, collisions, left)


def _state(source: Source, mover: str, time_s: float) -> InstantState:
    station, speed = source.reading.movers[mover].at(time_s)
    place = source.place(mover, station)
    return InstantState(station, speed, place.x_m, place.y_m)


def _gaps(source: Source, states: States) -> tuple[dict[str, float], dict[str, float]]:
    """Gaps (m) and times to collision (s) before each encounter: bumper to bumper, along the path of `of`.

    Only where that has a meaning, and a time only while they close.
    """
    gaps, collisions = {}, {}
    for name, encounter in source.scenario.encounters.items():
        if isinstance(encounter, Pass) or not _along(source, name, encounter, states):
            continue
        of, with_ = states[encounter.of], states[encounter.with_]
        body = source.scenario.movers[encounter.of].body
        track = gap_track(
            source.paths[encounter.of],
            body,
            source.paths[encounter.with_],
            source.scenario.movers[encounter.with_].body,
        )
        facing, slope = track.at(with_.station_m)
        gap = facing - of.station_m - body.front_m
        lap = lap_of(source.paths[encounter.of])
        if lap is not None:
            # To the next end ahead, or to one that is still beside.
            beside = body.length_m + source.scenario.movers[encounter.with_].body.length_m
            gap = (gap + beside) % lap - beside
        closing = of.speed_mps - slope * with_.speed_mps
        gaps[name] = gap
        if closing > 0 and gap > 0:
            collisions[name] = gap / closing
    return gaps, collisions


def _along(source: Source, name: str, encounter: Contact | Gap, states: States) -> bool:
    """A gap along the path means something in one lane, or when the approach is straight to the front."""
    if isinstance(encounter, Gap):
        return True
    if encounter.face != "front":
        return False
    now = source.place(encounter.of, states[encounter.of].station_m).heading_rad
    then = source.place(encounter.of, source.reading.moments[name].station_a_m).heading_rad
    other = source.place(encounter.with_, states[encounter.with_].station_m).heading_rad
    return abs(then - now) < STRAIGHT_RAD or abs(math.sin(other - now)) < ONE_LANE_SINE
