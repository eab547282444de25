"""The page of a shared site: what its script needs to know."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely

from choreo.circuits.lap import Lap
from choreo.circuits.records import VEHICLE, Circuit
from choreo.page import share_page
from choreo.sharing.planning import SharedTrack
from choreo.sharing.replay import excursions
from choreo.sharing.staged import COMMON
from choreo.sharing.told import content_of_share, waits_of
from choreo.track.motion import motion_of

# Kinds of lap are sampled this often (s), and wherever they have turned by so much (rad): between two samples a vehicle
# is drawn on a straight.
SAMPLED_S, TURNED_RAD = 1.0, 0.06
# So fine (s) is looked for turns.
FINE_S = 0.1


def page_of_share(track: SharedTrack) -> str:
    """Write the page of a shared site as one HTML file."""
    content = content_of_share(track, diagrams=False)
    return share_page(content, track.about, _data(track))


def _data(track: SharedTrack) -> dict[str, Any]:
    names = excursions(track.runs)
    kinds: dict[str, Any] = {}
    users = []
    for number, job in enumerate(track.jobs):
        starts = track.starts_s(number)
        laps: list[Any] = []
        for run in track.runs:
            for lap, days, own in run.laps() if run.name == job.name else ():
                kind = f"{job.alike}: {lap.key.name}"
                if kind not in kinds:
                    kinds[kind] = _kind(lap, run.course.plan.circuit, names)
                laps.append([kind, _rounded(days), _rounded(own)])
        stays = []
        for use in job.uses if starts and job.course is None else ():
            if use.place.startswith(COMMON):
                continue
            enters, leaves = (starts[k] + after for k, after in (use.enters, use.leaves))
            stays.append([use.place, round(enters, 2), round(leaves, 2)])
        users.append(
            {
                "name": job.name,
                "laps": laps,
                "begins": [one[1][0] for one in laps],
                "stays": stays,
                "waits": [
                    [where, round(since, 2), round(wait, 2)]
                    for where, since, wait in waits_of(track, number)
                ]
                if starts
                else [],
                "start": round(starts[0], 2) if starts else 0.0,
                "end": round(starts[-1] + job.lasts_s[-1], 2) if starts else 0.0,
            }
        )
    return {
        "clock": track.clock_s,
        "end": 1.0 if track.found is None else round(track.found.ends_s, 2),
        "lap": track.runs[0].course.lap_m if track.runs else 1.0,
        "excursions": names,
        "kinds": kinds,
        "users": users,
        "zones": [
            {
                "name": one.name,
                "spans": [[round(a, 2), round(b, 2)] for a, b in spans],
                "rings": [
                    [[round(x, 2), round(y, 2)] for x, y in polygon.exterior.coords]
                    for polygon in shapely.get_parts(one.zone)
                ],
            }
            for one, spans in track.stands
        ],
    }


def _kind(lap: Lap, circuit: Circuit, names: list[str]) -> dict[str, Any]:
    """A kind of lap over its own time: place, speed, and on the main path or an excursion at what station.

    Of an excursion the station counts along the main path that it stands beside, so that a diagram has no leap.
    """
    mover = lap.answer.plan.movers[VEHICLE]
    times = _times(lap)
    ways, speeds = motion_of(mover).states(times + mover.launch_s)
    pose = lap.answer.paths[VEHICLE].pose(ways)
    stations, on = np.zeros(len(ways)), np.zeros(len(ways), dtype=int)
    for part in lap.parts:
        length = part.end_m - part.start_m
        here = (ways >= part.lap_m) & (ways <= part.lap_m + length)
        along = ways[here] - part.lap_m
        if part.excursion is None:
            stations[here] = along + part.start_m
            on[here] = 0
            continue
        one = circuit.excursions[part.excursion]
        stations[here] = one.leaves_m + along / length * (one.joins_m - one.leaves_m)
        on[here] = names.index(part.excursion) + 1
    return {
        "t": _rounded(times),
        "x": _rounded(pose.x_m),
        "y": _rounded(pose.y_m),
        "v": _rounded(speeds),
        "s": _rounded(stations),
        "on": on.tolist(),
    }


def _times(lap: Lap) -> np.ndarray:
    """When a lap is sampled, in s from its line: evenly, and oftener in bends."""
    mover = lap.answer.plan.movers[VEHICLE]
    fine = np.linspace(0.0, lap.lasts_s, max(int(lap.lasts_s / FINE_S), 1) + 1)
    ways, _ = motion_of(mover).states(fine + mover.launch_s)
    turned = np.abs(np.diff(lap.answer.paths[VEHICLE].pose(ways).heading_rad))
    counted = fine / SAMPLED_S + np.concatenate(([0.0], np.cumsum(turned))) / TURNED_RAD
    first = np.concatenate(([True], np.diff(np.floor(counted)) > 0))
    first[-1] = True
    return fine[first]


def _rounded(values: np.ndarray) -> list[float]:
    return [round(float(one), 2) for one in values]
