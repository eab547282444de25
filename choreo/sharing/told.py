"""Which facts of a shared track are told, in which words; a place-time diagram in plain characters; the document."""

from __future__ import annotations

import json
import math
from typing import Any

import numpy as np

from choreo.circuits.told import clock, lasting
from choreo.plans.document import plain_data
from choreo.report import Content
from choreo.report.sections import Notes, Section, Table
from choreo.sharing.blocking import positions
from choreo.sharing.planning import SharedTrack
from choreo.words.caution import CAUTION_LINE
from choreo.words.display import KMH_PER_MPS, plain

SHARE_FORMAT = "choreo share plan 1"
# Rows and columns of the diagram.
ROWS, COLUMNS = 16, 72
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


def content_of_share(track: SharedTrack) -> Content:
    """Choose what to tell of a shared track."""
    sections: list[Section] = []
    if track.conflict:
        names = ", ".join(track.conflict)
        text = (
            f"These can't all be done within {lasting(track.within_s)}, and without any one of them the others can: "
            f"{names}. Together they need {lasting(track.bound_s)} at the least."
        )
        sections.append(Notes("smallest conflict", (text,), "conflicts"))
    if track.breaches:
        lines = tuple(
            f"{one.behind} is {plain(one.short_m, 2)} m too near behind {one.ahead} at "
            f"{plain(one.time_s, 1)} s ({one.place})"
            for one in track.breaches[:8]
        )
        sections.append(Notes("failed checks", lines, "failed checks"))
    if track.starts_s is not None:
        sections += [_timetable(track), _diagram(track)]
    sections += [_headway(track), Notes("caution", (CAUTION_LINE,), "caution")]
    headline = "FEASIBLE" if track.well else "NO TIMETABLE" if track.conflict else "FAILS"
    verdict = "feasible" if track.well else "infeasible"
    return Content(verdict, headline, track.title, _summary(track), tuple(sections))  # type: ignore[arg-type]


def _summary(track: SharedTrack) -> str:
    count = len(track.vehicles)
    if track.starts_s is None:
        return f"{count} vehicles have no timetable that ends within {lasting(track.within_s)}."
    over = 100.0 * (track.ends_s / track.bound_s - 1.0)
    best = (
        "driven so, no timetable ends sooner"
        if track.proved or over < 0.01
        else f"driven so, none ends before {lasting(track.bound_s)}, so at most {over:.1f} % are lost"
    )
    text = f"{count} vehicles, all done after {lasting(track.ends_s)}; {best}. "
    if track.pattern_s is not None:
        text += f"One pattern is repeated: each starts {plain(track.pattern_s, 1)} s after the one before. "
    return text + (
        "Vehicles go without waiting, but for the stops of their excursions. A replay of all of them together by the "
        "clock " + ("agrees." if not track.breaches else "does not agree.")
    )


def _timetable(track: SharedTrack) -> Table:
    rows = []
    for vehicle, start in zip(track.vehicles, track.starts_s or (), strict=True):
        course = track.courses[vehicle.file]
        day = track.circuits[vehicle.file].circuit.written.start
        rows.append(
            (
                vehicle.name,
                plain(start, 1),
                clock(day + start),
                clock(day + start + course.lasts_s),
                str(len(course.laps)),
            )
        )
    header = ("vehicle", "starts after\ns", "starts", "ends", "laps")
    return Table("timetable", header, tuple(rows), frozenset({1, 4}))


def _headway(track: SharedTrack) -> Notes:
    gap = track.gap
    fastest = max(
        float(one.speeds_mps.max())
        for course in track.courses.values()
        for one in course.tables.values()
    )
    text = (
        f"Behind a vehicle: its way in {gap.reaction_s:g} s, v^2 / (2 x {gap.braking_mps2:g} m/s2) and "
        f"{gap.room_m:g} m for length and margin: {plain(float(gap.at(fastest)), 2)} m at "
        f"{plain(fastest * KMH_PER_MPS, 1)} km/h. At that speed the main path carries {track.carries} vehicles."
    )
    return Notes("headway", (text,))


def _diagram(track: SharedTrack) -> Notes:
    """Stations of the main path upwards, time to the right, a letter for each vehicle; lower case on excursions."""
    ends = track.ends_s
    lap = next(iter(track.courses.values())).lap_m
    picture = [[" "] * COLUMNS for _ in range(ROWS)]
    times = (np.arange(COLUMNS * 8) + 0.5) * ends / (COLUMNS * 8)
    for number, (vehicle, start) in enumerate(
        zip(track.vehicles, track.starts_s or (), strict=True)
    ):
        letter = LETTERS[number % len(LETTERS)]
        course = track.courses[vehicle.file]
        stretches, stations, _ = positions(course, times - start)
        for index, (stretch, station) in enumerate(zip(stretches, stations, strict=True)):
            if not stretch:
                continue
            mark, at = letter, float(station)
            excursion = course.plan.circuit.excursions.get(stretch)
            if excursion is not None:
                share = at / excursion.length_m
                at = excursion.leaves_m + share * (excursion.joins_m - excursion.leaves_m)
                mark = letter.lower()
            row = ROWS - 1 - min(int(at / lap * ROWS), ROWS - 1)
            column = index // 8
            if picture[row][column] == " " or mark.islower():
                picture[row][column] = mark
    lines = [
        f"{plain(lap * (ROWS - i) / ROWS, 0):>6} m |{''.join(row)}" for i, row in enumerate(picture)
    ]
    lines.append(f"         0 s{' ' * (COLUMNS - 12)}{plain(ends, 0):>8} s")
    return Notes("who is where when (small letters: on an excursion)", ("\n".join(lines),))


def document_of_share(track: SharedTrack) -> dict[str, Any]:
    """Give it as plain data."""
    starts = track.starts_s or (None,) * len(track.vehicles)
    return {
        "format": SHARE_FORMAT,
        "title": track.title,
        "well": track.well,
        "ends_s": None if math.isinf(track.ends_s) else track.ends_s,
        "bound_s": track.bound_s,
        "proved": track.proved,
        "pattern_s": track.pattern_s,
        "carries": track.carries,
        "conflict": list(track.conflict),
        "breaches": plain_data(track.breaches),
        "vehicles": [
            {"name": one.name, "file": one.file, "ready_s": one.ready_s, "starts_s": start}
            for one, start in zip(track.vehicles, starts, strict=True)
        ],
    }


def text_of_share(track: SharedTrack) -> str:
    """Give the document as text."""
    return json.dumps(document_of_share(track), indent=2, allow_nan=False) + "\n"
