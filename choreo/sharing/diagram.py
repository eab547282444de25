"""A shared site in plain characters: who does what when, and who is where on the main path for a few laps."""

from __future__ import annotations

import string
from collections.abc import Mapping

import numpy as np

from choreo.circuits.told import clock, lasting
from choreo.sharing.jobs import Job
from choreo.sharing.planning import SharedTrack
from choreo.sharing.replay import Run, excursions, see
from choreo.sharing.staged import COMMON
from choreo.words.display import plain

# Rows and columns of the place-time diagram, and how many laps it shows.
ROWS, COLUMNS = 16, 72
LAPS = 3
# As many as there may be vehicles: none has another's letter.
LETTERS = string.ascii_uppercase + string.ascii_lowercase + string.digits
# Away, driving, standing longer than it has to.
AWAY, DRIVES, WAITS = " ", "-", "."


def letters_of(names: list[str]) -> Mapping[str, str]:
    """Give each name a letter of its own where there is one, out of itself if it can be."""
    found: dict[str, str] = {}
    for name in names:
        wanted = [*(one for one in name.lower() if one.isalnum()), *string.ascii_lowercase, "*"]
        found[name] = next(one for one in wanted if one not in found.values() or one == "*")
    return found


def day_of(track: SharedTrack) -> str:
    """A row for each: driving, at which place, waiting."""
    ends = 0.0 if track.found is None else track.found.ends_s
    runs = {one.name: one for one in track.runs}
    every = excursions(track.runs)
    places = [
        use.place
        for job in track.jobs
        for use in job.uses
        if not use.passing and not use.place.startswith(COMMON)
    ]
    letters = letters_of(list(dict.fromkeys([*every, *places])))
    times = (np.arange(COLUMNS) + 0.5) * ends / COLUMNS
    wide = max(len(job.name) for job in track.jobs)
    lines = []
    for number, job in enumerate(track.jobs):
        run = runs.get(job.name)
        row = (
            _driven(run, times, every, letters)
            if run is not None
            else _visited(job, track.starts_s(number), times, letters)
        )
        lines.append(f"{LETTERS[number]} {job.name:<{wide}} |{row}|")
    left = " " * (wide + 3)
    end = clock(track.clock_s + ends)
    lines.append(f"{left}{clock(track.clock_s)}{end:>{COLUMNS - 6}}")
    legend = ", ".join(f"{mark} {name}" for name, mark in letters.items())
    drives = f"{DRIVES} on the main path, " if runs else ""
    return "\n".join(
        [*lines, f"{drives}{WAITS} waiting longer than it has to{', ' if legend else ''}{legend}"]
    )


def _driven(run: Run, times: np.ndarray, every: list[str], letters: Mapping[str, str]) -> str:
    seen = see(run, times, every)
    marks = [AWAY, DRIVES, *(letters[one] for one in every)]
    row = [marks[one + 1] for one in seen.on]
    for n in range(1, len(run.starts_s)):
        waits = run.starts_s[n - 1] + run.course.legs[n - 1].lasts_s
        for at in np.flatnonzero((times > waits) & (times < run.starts_s[n])):
            row[at] = WAITS
    return "".join(row)


def _visited(
    job: Job, starts: tuple[float, ...], times: np.ndarray, letters: Mapping[str, str]
) -> str:
    row = [AWAY] * len(times)
    for n in range(1, len(starts)):
        waits = starts[n - 1] + job.lasts_s[n - 1]
        for at in np.flatnonzero((times >= waits) & (times <= starts[n])):
            row[at] = WAITS
    half = (times[1] - times[0]) / 2.0
    for use in job.uses:
        enters, leaves = (starts[k] + after for k, after in (use.enters, use.leaves))
        if use.place not in letters:
            continue
        # However short, a column has its letter.
        for at in np.flatnonzero((times + half > enters) & (times - half < leaves)):
            row[at] = letters[use.place]
    return "".join(row)


def laps_of(track: SharedTrack) -> tuple[str, tuple[str, ...]] | None:
    """Stations of the main path upwards, time to the right, for the laps after the last one has started."""
    numbers = [number for number, job in enumerate(track.jobs) if job.course is not None]
    if not numbers or track.found is None:
        return None
    first = track.runs[0]
    lasts = min(table.lap.lasts_s for table in first.course.tables)
    begins = max(run.starts_s[0] for run in track.runs)
    begins = max(min(begins, track.found.ends_s - LAPS * lasts), 0.0)
    ends = min(begins + LAPS * lasts, track.found.ends_s)
    times = np.linspace(begins, ends, COLUMNS * 8)
    picture = [[" "] * COLUMNS for _ in range(ROWS)]
    for number, run in zip(numbers, track.runs, strict=True):
        seen = see(run, times, excursions(track.runs))
        for index in np.flatnonzero(seen.on == 0):
            share = float(seen.at_m[index]) / run.course.lap_m
            picture[ROWS - 1 - min(int(share * ROWS), ROWS - 1)][index // 8] = LETTERS[number]
    lap = first.course.lap_m
    lines = [
        f"{plain(lap * (ROWS - i) / ROWS, 0):>6} m |{''.join(row)}" for i, row in enumerate(picture)
    ]
    lines.append(
        f"         {clock(track.clock_s + begins)}{clock(track.clock_s + ends):>{COLUMNS - 8}}"
    )
    title = f"who is where on the main path, {lasting(ends - begins)} of it"
    return title, ("\n".join(lines),)
