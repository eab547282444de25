"""A rising speed on a steady circle: when and where each step of lateral acceleration is reached, and in which lap."""

from __future__ import annotations

import math

import numpy as np

from choreo.courses.steady import STEP_MPS2
from choreo.plans.record import MoverPlan, Plan
from choreo.report.sections import Section, Table
from choreo.scenario import PathSpec, Scenario
from choreo.track.motion import motion_of
from choreo.words.display import KMH_PER_MPS, plain

CIRCLE = "steady circle"
# Times in between are interpolated; speed is looked at so often (s), and this near (m/s2) is reached.
LOOK_S = 0.01
REACHED_MPS2 = 1e-6


def rising_sections(scenario: Scenario, plan: Plan) -> list[Section]:
    """Give a table for each mover whose lateral acceleration rises by more than one step on the laps of a circle."""
    found: list[Section] = []
    for name, planned in plan.movers.items():
        spec = scenario.paths.get(scenario.movers[name].path or "")
        if spec is None or spec.course is None or spec.course.name != CIRCLE:
            continue
        rows = _rows(planned, *_laps(spec))
        if len(rows) > 1:
            title = f"{name}: steps of lateral acceleration on the circle, speed rising"
            header = ("lateral\nm/s2", "speed\nkm/h", "after go\ns", "station\nm", "laps")
            found.append(Table(title, header, rows, frozenset(range(5))))
    return found


def _laps(spec: PathSpec) -> tuple[float, float, float]:
    """Radius, first and last station of the laps in m."""
    station, first, last, radius = 0.0, math.nan, math.nan, math.nan
    for piece in spec.pieces:
        length = piece.length_m or 0.0
        if piece.kind == "arc" and piece.radius_m and piece.angle_rad:
            length = piece.radius_m * abs(piece.angle_rad)
            radius = piece.radius_m
            first = station if math.isnan(first) else first
            last = station + length
        station += length
    return radius, first, last


def _rows(
    planned: MoverPlan, radius_m: float, first_m: float, last_m: float
) -> tuple[tuple[str, ...], ...]:
    motion = motion_of(planned)
    if not motion.moves:
        return ()
    times = np.arange(float(motion.pieces[0, 0]), motion.end_s + LOOK_S, LOOK_S)
    # Where the acceleration jumps speed is no straight line between two looks.
    times = np.unique(np.concatenate((times, motion.pieces[:, 0])))
    stations, speeds = motion.states(times)
    laps = (stations >= first_m - REACHED_MPS2) & (stations <= last_m)
    lateral = np.where(laps, speeds**2 / radius_m, np.nan)
    if not laps.any():
        return ()
    rows = []
    # Speed rises from what it has as the laps begin; how it falls at their end is no step.
    low = float(lateral[int(np.flatnonzero(laps)[0])])
    high = float(np.nanmax(lateral)) + REACHED_MPS2
    for number in range(
        max(1, math.ceil(low / STEP_MPS2 - REACHED_MPS2)), int(high / STEP_MPS2) + 1
    ):
        wanted = number * STEP_MPS2
        here = np.flatnonzero(lateral >= wanted - REACHED_MPS2)
        if not len(here):
            continue
        at = int(here[0])
        when = float(times[at])
        if at and lateral[at - 1] < wanted:
            gained = speeds[at] - speeds[at - 1]
            share = (math.sqrt(wanted * radius_m) - speeds[at - 1]) / gained
            when = float(times[at - 1] + min(share, 1.0) * (times[at] - times[at - 1]))
        station, speed = (float(one[0]) for one in motion.states(np.array([when])))
        rows.append(
            (
                plain(wanted, 2),
                plain(speed * KMH_PER_MPS, 2),
                plain(when),
                plain(station),
                plain(max(station - first_m, 0.0) / (2.0 * math.pi * radius_m), 2),
            )
        )
    return tuple(rows)
