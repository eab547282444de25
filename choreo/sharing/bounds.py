"""What no timetable beats: the longest run alone, and how much each place and each metre of the track can take."""

from __future__ import annotations

import heapq
import math
from collections.abc import Iterator, Sequence
from itertools import accumulate

import numpy as np

from choreo.sharing.blocking import STEP_M, Array, Gap, Table
from choreo.sharing.jobs import Job
from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class Bound:
    """A time in s before which not all are done, and why, in words."""

    ends_s: float
    because: str


@dataclass(frozen=True, slots=True)
class _Task:
    """What a place is taken for: how long, when at the earliest, and how long it takes to the end after it; s."""

    head_s: float
    lasts_s: float
    tail_s: float


def bound_of(jobs: Sequence[Job], gap: Gap) -> Bound:
    """Give the largest of what is known."""
    longest = max(jobs, key=lambda one: one.ready_s + one.alone_s)
    found = [Bound(longest.ready_s + longest.alone_s, f"{longest.name} alone takes as long")]
    found += [_of_place(place, tasks) for place, tasks in _tasks(jobs).items()]
    found += _of_track(jobs, gap)
    return max(found, key=lambda one: one.ends_s)


def _tasks(jobs: Sequence[Job]) -> dict[str, list[_Task]]:
    found: dict[str, list[_Task]] = {}
    for job in jobs:
        begins = list(accumulate(job.lasts_s, initial=job.ready_s))
        for use in job.uses:
            if use.passing:
                continue
            enters = begins[use.enters[0]] + use.enters[1]
            leaves = begins[use.leaves[0]] + use.leaves[1]
            tail = job.ready_s + job.alone_s - leaves
            found.setdefault(use.place, []).append(_Task(enters, leaves - enters, tail))
        for one in () if job.course is None else job.course.passes:
            if one.waits and one.excursion not in {use.place for use in job.uses}:
                # Several may be in it, but one at a time stands at its stop.
                ends = begins[one.enters[0] + 1]
                stands = one.enters[2].stands_s
                task = _Task(ends - stands, stands, job.ready_s + job.alone_s - ends)
                found.setdefault(one.excursion, []).append(task)
    return found


def _of_place(place: str, tasks: Sequence[_Task]) -> Bound:
    """One at a time: the end of Jackson's preemptive schedule, which no schedule beats."""
    waiting: list[tuple[float, float]] = []  # tail with its sign turned, what is left
    coming = sorted(tasks, key=lambda one: one.head_s, reverse=True)
    now = ends = 0.0
    while coming or waiting:
        if not waiting:
            now = max(now, coming[-1].head_s)
        while coming and coming[-1].head_s <= now:
            one = coming.pop()
            heapq.heappush(waiting, (-one.tail_s, one.lasts_s))
        tail, left = heapq.heappop(waiting)
        until = min(now + left, coming[-1].head_s) if coming else now + left
        if until < now + left:
            heapq.heappush(waiting, (tail, left - (until - now)))
        else:
            ends = max(ends, until - tail)
        now = until
    total = math.fsum(one.lasts_s for one in tasks)
    return Bound(ends, f"`{place}` is taken {len(tasks)} times, {total / 60.0:.1f} min in all")


def _of_track(jobs: Sequence[Job], gap: Gap) -> Iterator[Bound]:
    """Every metre of the main path is passed a headway apart, as often as there are laps."""
    driving = [one for one in jobs if one.course is not None]
    if len(driving) < 2:
        return
    counts: dict[int, int] = {}
    tables: dict[int, Table] = {}
    for job in driving:
        assert job.course is not None
        for _, _, parts in job.course.laps:
            for table in parts:
                tables[id(table)] = table
                counts[id(table)] = counts.get(id(table), 0) + 1
    stretches = {name for one in tables.values() for name in one.parts if name.startswith("main ")}
    for stretch in sorted(stretches):
        here = [(counts[key], one) for key, one in tables.items() if one.has(stretch)]
        low, high, station = here[0][1].parts[stretch]
        along = np.arange(0.0, high - low, STEP_M)
        headways = [
            (count, np.min([_headway(one, other, stretch, along, gap) for _, other in here], 0))
            for count, one in here
        ]
        busy = np.sum([count * headway for count, headway in headways], 0)
        busy -= np.max([headway for _, headway in headways], 0)
        heads = np.min([_head(job, stretch, along) for job in driving], 0)
        tails = np.min([_tail(job, stretch, along) for job in driving], 0)
        whole = busy + heads + tails
        at = int(whole.argmax())
        passes = sum(count for count, _ in here)
        mean = busy[at] / max(passes - 1, 1)
        yield Bound(
            float(whole[at]),
            f"station {station + along[at]:.0f} m is passed {passes} times, {mean:.1f} s apart at the least",
        )


def _headway(ahead: Table, behind: Table, stretch: str, along: Array, gap: Gap) -> Array:
    """How much later the one behind passes each place, at least; s."""
    (a_0, a_1, _), (b_0, _, _) = ahead.parts[stretch], behind.parts[stretch]
    goal = a_0 + along + gap.at(np.interp(b_0 + along, behind.ways_m, behind.speeds_mps))
    if ahead.after(stretch) != behind.after(stretch):
        goal = np.minimum(goal, a_1 + gap.room_m)
    return np.asarray(ahead.passes(goal) - ahead.time(a_0 + along))


def _head(job: Job, stretch: str, along: Array) -> Array:
    """When places of a stretch are passed first."""
    assert job.course is not None
    begins = list(accumulate(job.lasts_s, initial=job.ready_s))
    for leg, start, parts in job.course.laps:
        for n, table in enumerate(parts):
            if table.has(stretch):
                into = begins[leg + n] + (start if n == 0 else 0.0)
                return into + table.time(table.parts[stretch][0] + along)
    return np.full(len(along), job.ready_s)


def _tail(job: Job, stretch: str, along: Array) -> Array:
    """How long it is still under way when places of a stretch are passed for the last time."""
    assert job.course is not None
    begins = list(accumulate(job.lasts_s, initial=0.0))
    for leg, start, parts in reversed(job.course.laps):
        for n, table in reversed(list(enumerate(parts))):
            if table.has(stretch):
                into = begins[leg + n] + (start if n == 0 else 0.0)
                return job.alone_s - into - table.time(table.parts[stretch][0] + along)
    return np.zeros(len(along))
