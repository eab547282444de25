"""Which facts of a shared site are told, in which words; the document."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

from choreo.circuits.told import clock, lasting
from choreo.plans.document import plain_data
from choreo.plans.message import messages_of
from choreo.report import Content
from choreo.report.sections import Notes, Section, Table
from choreo.sharing.crowding import carried, warnings_of
from choreo.sharing.diagram import day_of, laps_of
from choreo.sharing.jobs import Job, first_ready_s
from choreo.sharing.planning import SharedTrack
from choreo.sharing.staged import zone_of
from choreo.words.caution import CAUTION_LINE
from choreo.words.display import KMH_PER_MPS, how_many, plain

SHARE_FORMAT = "choreo share plan 1"
# Waits that are shorter than this (s) are rounding, and no row of a table of tenths of a second.
LEAST_WAIT_S, LEAST_ROW_S = 1e-3, 0.05
# From so far over what none beats the headline says it.
FAR_PERCENT = 5.0
# Rows of waits and breaches that are told.
MOST_ROWS = 30


def content_of_share(track: SharedTrack, *, diagrams: bool = True) -> Content:
    """Choose what to tell of a shared site; diagrams: all in plain characters."""
    sections: list[Section] = []
    if track.solved.conflict:
        sections.append(Notes("smallest conflict", (_conflict(track),), "conflicts"))
    if track.breaches:
        lines = tuple(
            f"{one.behind} and {one.ahead} are both in {one.place} at {plain(one.time_s, 1)} s"
            if one.short_m == 0.0
            else f"{one.behind} is {plain(one.short_m, 2)} m too near behind {one.ahead} at "
            f"{plain(one.time_s, 1)} s ({one.place})"
            for one in track.breaches[:8]
        )
        sections.append(Notes("failed checks", lines, "failed checks"))
    if track.found is not None:
        sections += [_timetable(track), *_waits(track)]
    if track.found is not None and (diagrams or track.runs):
        # A page draws laps, a few of them at a time: the whole time is seen here only.
        sections.append(Notes("who does what when", (day_of(track),)))
    if track.found is not None and diagrams:
        laps = laps_of(track)
        if laps is not None:
            sections.append(Notes(*laps))
    sections += [*_staged(track), *_headway(track)]
    warned = messages_of(warnings_of(track))
    if warned:
        lines = tuple(f"{one.place}: {one.text}. {one.advice}" for one in warned)
        sections.append(Notes("warnings", lines, "warnings"))
    sections.append(Notes("caution", (CAUTION_LINE,), "caution"))
    return Content(
        "feasible" if track.well else "infeasible",
        _headline(track),
        track.title,
        _summary(track),
        tuple(sections),
    )


def _over(track: SharedTrack) -> float:
    """Give by how much the timetable that was found takes longer than what none beats, at most; percent."""
    assert track.found is not None
    return 100.0 * (track.found.ends_s / track.solved.bound.ends_s - 1.0)


def _headline(track: SharedTrack) -> str:
    if track.found is None:
        return "NO TIMETABLE"
    if not track.well:
        return "FAILS"
    far = _over(track) >= FAR_PERCENT
    return f"FEASIBLE, UP TO {_over(track):.1f} % OVER THE LEAST TIME" if far else "FEASIBLE"


def _conflict(track: SharedTrack) -> str:
    """The fewest that can't be together; of those that are alike how many."""
    counts: dict[str, int] = {}
    for one in track.solved.conflict:
        counts[one.of] = counts.get(one.of, 0) + 1
    names = []
    for name, count in counts.items():
        every = sum(one.of == name for one in track.jobs)
        many = f"all {every} `{name}`" if count == every else f"{count} of the {every} `{name}`"
        names.append(f"`{name}`" if every == 1 else many)
    text = f"Within {lasting(track.within_s)} this can't be done: {' and '.join(names)}. "
    if len(track.solved.conflict) == 1:
        return text + _alone(track, track.solved.conflict[0])
    text += "One fewer may fit. "
    least_s = track.solved.bound.ends_s - first_ready_s(track.jobs)
    return (
        text + f"All together need {lasting(least_s)} at the least: {track.solved.bound.because}. "
        "More time `within`, fewer users, or shorter stops there would help."
    )


def _alone(track: SharedTrack, one: Job) -> str:
    """Who can't be done in time with the site to itself: what fewer others can't help."""
    late_s = one.ready_s - first_ready_s(track.jobs)
    ready = f", and is ready {lasting(late_s)} after the first" if late_s > 0.0 else ""
    sooner = " or an earlier `ready`" if ready else ""
    return (
        f"With the site to itself it takes {lasting(one.alone_s)}{ready}. "
        f"More time `within`, a shorter run{sooner} would help; fewer others wouldn't."
    )


def _summary(track: SharedTrack) -> str:
    count = how_many(len(track.jobs), "user")
    bound = track.solved.bound
    if track.found is None:
        return f"For {count} of the site there is no timetable that ends within {lasting(track.within_s)}."
    over = _over(track)
    best = (
        f"no timetable of these runs ends sooner ({bound.because})"
        if track.found.proved or over < 0.01
        else f"none of these runs ends before {lasting(bound.ends_s)} ({bound.because}), so at most {over:.1f} % are "
        "lost"
    )
    text = f"{count} of the site, all done after {lasting(track.found.ends_s)}; {best}. "
    if not track.runs:
        return text
    return (
        text
        + "A replay of all vehicles together by the clock "
        + ("agrees." if not track.breaches else "does not agree.")
    )


def _timetable(track: SharedTrack) -> Table:
    rows = []
    for number, job in enumerate(track.jobs):
        starts = track.starts_s(number)
        waits = sum(wait for _, _, wait in waits_of(track, number))
        rows.append(
            (
                job.name,
                plain(starts[0], 1),
                clock(track.clock_s + starts[0]),
                clock(track.clock_s + starts[-1] + job.lasts_s[-1]),
                "-" if job.course is None else str(len(job.course.laps)),
                plain(waits, 1),
            )
        )
    header = ("who", "starts after\ns", "starts", "ends", "laps", "waits\ns")
    return Table("timetable", header, tuple(rows), frozenset({1, 4, 5}))


def waits_of(track: SharedTrack, number: int) -> Iterator[tuple[str, float, float]]:
    """Give where one waits longer than it has to stand, since when (s after 0) and how long (s)."""
    job, starts = track.jobs[number], track.starts_s(number)
    for n in range(len(starts) - 1):
        since = starts[n] + job.lasts_s[n]
        if starts[n + 1] - since > LEAST_WAIT_S:
            yield _place(job, n), since, starts[n + 1] - since


def _place(job: Job, segment: int) -> str:
    """Where a segment ends."""
    if job.course is not None:
        return job.course.legs[segment].drives[-1][1].stop or "the line"
    place = next(use.place for use in job.uses if use.enters[0] == segment + 1)
    return f"before run {segment + 2}" if place == zone_of(job.of) else f"before {place}"


def _waits(track: SharedTrack) -> Iterator[Section]:
    rows = [
        (job.name, place, clock(track.clock_s + since), plain(wait, 1))
        for number, job in enumerate(track.jobs)
        for place, since, wait in waits_of(track, number)
        if wait > LEAST_ROW_S
    ]
    if rows:
        more = len(rows) - MOST_ROWS
        title = "waits" if more <= 0 else f"waits; {more} more with --json"
        header = ("who", "where", "since", "for\ns")
        yield Table(title, header, tuple(rows[:MOST_ROWS]), frozenset({3}))


def _staged(track: SharedTrack) -> Iterator[Notes]:
    """Staged tests: how long nobody may be in their zones, and who else is there."""
    lines = []
    for name, one in track.staged.items():
        runs = sum(
            use.place == one.place for job in track.jobs if job.of == name for use in job.uses
        )
        stays = [
            number
            for number, job in enumerate(track.jobs)
            for use in job.uses
            if use.passing and use.place == one.place
        ]
        there = (
            f"vehicles that drive through it: {len(set(stays))}, {len(stays)} times in all"
            if stays
            else "no vehicle drives through it"
        )
        lines.append(
            f"`{name}`: runs {runs} times for {plain(one.lasts_s, 1)} s. While it does nobody else may be in its "
            f"keep-out zone of {plain(one.zone.area, 0)} m2; {there}."
        )
    if lines:
        yield Notes("staged tests", tuple(lines))


def _headway(track: SharedTrack) -> Iterator[Notes]:
    runs = [one.course for one in track.jobs if one.course is not None]
    if not runs:
        return
    gap = track.gap
    fastest = max(one.fastest_mps for one in runs)
    least = float(gap.at(fastest))
    carries = carried(track)
    fit = (
        ""
        if carries is None
        else f" Along a plain lap of {plain(carries.lap_s, 1)} s one passes {plain(carries.apart_s, 2)} s after the "
        f"other at the least (most at station {plain(carries.station_m, 0)} m): the main path carries "
        f"{how_many(carries.vehicles, 'vehicle')} at a time."
    )
    yield Notes(
        "headway",
        (
            f"Behind a vehicle: its way in {gap.reaction_s:g} s, v^2 / (2 x {gap.braking_mps2:g} m/s2) and "
            f"{gap.room_m:g} m for length and margin: {plain(least, 2)} m at {plain(fastest * KMH_PER_MPS, 1)} km/h."
            f"{fit}",
        ),
    )


def document_of_share(track: SharedTrack) -> dict[str, Any]:
    """Give it as plain data."""
    found, bound = track.found, track.solved.bound
    carries = carried(track)
    return {
        "format": SHARE_FORMAT,
        "title": track.title,
        "well": track.well,
        "ends_s": None if found is None else found.ends_s,
        "bound_s": bound.ends_s,
        "because": bound.because,
        "proved": found is not None and found.proved,
        "carries": None if carries is None else carries.vehicles,
        "warnings": plain_data(messages_of(warnings_of(track))),
        "conflict": [one.name for one in track.solved.conflict],
        "breaches": plain_data(track.breaches),
        "users": [_user(track, number) for number in range(len(track.jobs))],
    }


def _user(track: SharedTrack, number: int) -> dict[str, Any]:
    job = track.jobs[number]
    return {
        "name": job.name,
        "ready_s": job.ready_s,
        "lasts_s": list(job.lasts_s),
        "starts_s": list(track.starts_s(number)),
        "waits": [
            {"place": place, "since_s": since, "for_s": wait}
            for place, since, wait in waits_of(track, number)
        ],
        "laps": [
            {"lap": lap.key.name, "begins_s": float(days[0]), "ends_s": float(days[-1])}
            for run in track.runs
            if run.name == job.name
            for lap, days, _ in run.laps()
        ],
    }


def text_of_share(track: SharedTrack) -> str:
    """Give the document as text."""
    return json.dumps(document_of_share(track), indent=2, allow_nan=False) + "\n"
