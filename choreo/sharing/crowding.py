"""What makes a shared site slow: more vehicles than its main path carries, places in which few can take turns."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from choreo.sharing.blocking import STEP_M
from choreo.sharing.bounds import turns_of
from choreo.sharing.driving import Gap, Table
from choreo.sharing.planning import SharedTrack
from choreo.words import Finding
from choreo.words.quantities import quoted
from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class Carried:
    """How many vehicles drive a lap of the main path at once, one as near behind the other as it may be.

    lap_s: how long the lap takes; apart_s: how much later the one behind passes a place at the least, at the station
    station_m where that is most.
    """

    vehicles: int
    lap_s: float
    apart_s: float
    station_m: float


def carried(track: SharedTrack) -> Carried | None:
    """Give how many vehicles the main path carries at once; of several circuits what the one says that lets most.

    None where nobody drives a plain lap followed by another one.
    """
    found = []
    for course in {id(one.course): one.course for one in track.jobs}.values():
        tables = () if course is None else course.tables
        found += [
            _laps_apart(one, track.gap) for one in tables if one.then is not None and _plain(one)
        ]
    return max(found, key=lambda one: one.lap_s / one.apart_s, default=None)


def _plain(table: Table) -> bool:
    key = table.lap.key
    return not (key.first or key.last or key.excursions)


def _laps_apart(table: Table, gap: Gap) -> Carried:
    """One lap behind the other, both driven alike and on the move at the line."""
    ways = np.arange(0.0, table.end_m, STEP_M)
    goal = ways + gap.at(np.interp(ways, table.ways_m, table.speeds_mps))
    # A headway may be longer than a lap: so many whole laps are on top.
    laps = np.floor(goal / table.end_m)
    apart = laps * table.lasts_s + table.time(goal - laps * table.end_m) - table.time(ways)
    at = int(apart.argmax())
    return Carried(
        max(int(table.lasts_s / apart[at]), 1), table.lasts_s, float(apart[at]), float(ways[at])
    )


def warnings_of(track: SharedTrack) -> tuple[Finding, ...]:
    """Give slips of the file, and what makes vehicles drive one after the other, with what would help."""
    return (*track.notes, *_crowded(track), *_few_turns(track))


def _crowded(track: SharedTrack) -> Iterator[Finding]:
    driving = [one for one in track.jobs if one.course is not None]
    carries = carried(track)
    if carries is None or len(driving) <= carries.vehicles:
        return
    values: dict[str, str | float] = {
        "count": len(driving),
        "carries": carries.vehicles,
        "apart": f"{carries.apart_s:.2f} s",
        "lap": f"{carries.lap_s:.1f} s",
        "station": f"{carries.station_m:.0f} m",
    }
    place = track.places.get(driving[-1].of)
    yield Finding("share.crowded", "warning", place, values, ())


def _few_turns(track: SharedTrack) -> Iterator[Finding]:
    for one in turns_of(track.jobs):
        if one.once >= one.vehicles:
            continue
        values: dict[str, str | float] = {
            "place": quoted(one.place),
            "use": f"{one.use_s:.1f} s",
            "way": f"{one.way_s:.1f} s",
            "once": one.once,
            "count": one.vehicles,
            "shorter": f"{one.use_s - one.way_s / one.once:.1f} s",
            "longer": f"{one.once * one.use_s - one.way_s:.1f} s",
            "more": one.once + 1,
        }
        yield Finding("share.few-turns", "warning", track.places.get(one.of), values, ())
