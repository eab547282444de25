"""What no timetable beats: the longest run alone, and how much each place and each metre of the track can take."""

from __future__ import annotations

import heapq
import math
from collections.abc import Iterator, Sequence
from itertools import accumulate, groupby

import numpy as np

from choreo.sharing.blocking import STEP_M
from choreo.sharing.driving import Array, Gap, Table
from choreo.sharing.flow import Passage, Stream, least_s
from choreo.sharing.jobs import Job, Moment
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


@dataclass(frozen=True, slots=True)
class _Chain:
    """Uses of a place by one vehicle that can't wait between them. head_s: when it comes at the earliest; lasts_s: from
    the beginning of the first to the end of the last use; tail_s: from then to its end; s.

    least_s: the shortest use; most_s: the longest way from one to the next. of: what is the same for those alike.
    """

    of: tuple[str, int]
    head_s: float
    lasts_s: float
    tail_s: float
    least_s: float
    most_s: float


def bound_of(jobs: Sequence[Job], gap: Gap) -> Bound:
    """Give the largest of what is known."""
    longest = max(jobs, key=lambda one: one.ready_s + one.alone_s)
    found = [Bound(longest.ready_s + longest.alone_s, f"{longest.name} alone takes as long")]
    tasks: dict[str, list[_Task]] = {}
    chains: dict[str, list[_Chain]] = {}
    for job in jobs:
        for place, uses in uses_of(job).items():
            tasks.setdefault(place, []).extend(_tasks(job, uses))
            chains.setdefault(place, []).extend(_chains(job, uses))
    found += [_of_place(place, some) for place, some in tasks.items()]
    found += [one for place, some in chains.items() for one in _of_chains(place, some)]
    found += _of_track(jobs, gap)
    return max(found, key=lambda one: one.ends_s)


def together(jobs: Sequence[Job], known: Bound, best_s: float) -> Bound:
    """Give what is known of all places at once, where that is more; best_s: when a timetable that was found ends."""
    streams = _streams(jobs)
    ends = least_s(streams, known.ends_s, best_s)
    return known if ends <= known.ends_s else of_places(jobs, ends)


def of_places(jobs: Sequence[Job], ends_s: float) -> Bound:
    """Give what is known of all places at once."""
    places = sorted({place for job in jobs for place in uses_of(job)})
    return Bound(
        ends_s,
        f"{' and '.join(f'`{one}`' for one in places)} have one user at a time, and who leaves one is at the next a "
        f"set time later",
    )


def _streams(jobs: Sequence[Job]) -> list[Stream]:
    """Those alike with their uses in order; of uses at once the first only."""
    kinds: dict[str, list[Job]] = {}
    for job in jobs:
        kinds.setdefault(job.alike, []).append(job)
    found = []
    for some in kinds.values():
        job = some[0]
        begins = list(accumulate(job.lasts_s, initial=0.0))
        uses = sorted((pair, place) for place, pairs in uses_of(job).items() for pair in pairs)
        passages: list[Passage] = []
        left, now = (0, 0.0), 0.0
        for ((k, into), (m, out)), place in uses:
            enters, leaves = begins[k] + into, begins[m] + out
            if enters >= now:
                before, waits = bool(passages) and k > left[0], m > k
                passages.append(Passage(place, enters - now, leaves - enters, before, waits))
                left, now = (m, out), leaves
        found.append(Stream(len(some), job.ready_s, tuple(passages), job.alone_s - now))
    return found


def uses_of(job: Job) -> dict[str, list[tuple[Moment, Moment]]]:
    """Give when a vehicle enters and leaves each place, one use after the other."""
    found: dict[str, list[tuple[Moment, Moment]]] = {}
    for use in job.uses:
        if not use.passing:
            found.setdefault(use.place, []).append((use.enters, use.leaves))
    single = {use.place for use in job.uses}
    for one in () if job.course is None else job.course.passes:
        if one.waits and one.excursion not in single:
            # Several may be in it, but one at a time stands at its stop.
            leg, _, table = one.enters
            stops = job.lasts_s[leg] - table.stands_s
            found.setdefault(one.excursion, []).append(((leg, stops), (leg + 1, 0.0)))
    return {place: sorted(some) for place, some in found.items()}


def _tasks(job: Job, uses: Sequence[tuple[Moment, Moment]]) -> Iterator[_Task]:
    begins = list(accumulate(job.lasts_s, initial=job.ready_s))
    for (k, into), (m, out) in uses:
        enters, leaves = begins[k] + into, begins[m] + out
        yield _Task(enters, leaves - enters, job.ready_s + job.alone_s - leaves)


def _chains(job: Job, uses: Sequence[tuple[Moment, Moment]]) -> Iterator[_Chain]:
    """Uses with no waiting place between them: who leaves in a segment comes back in it."""
    tasks = list(_tasks(job, uses))
    first = 0
    for number in range(len(uses)):
        last = number + 1 == len(uses)
        if not last and uses[number][1][0] == uses[number + 1][0][0]:
            continue
        some = tasks[first : number + 1]
        ends = [one.head_s + one.lasts_s for one in some]
        ways = [two.head_s - end for two, end in zip(some[1:], ends, strict=False)]
        yield _Chain(
            (job.alike, first),
            some[0].head_s,
            ends[-1] - some[0].head_s,
            some[-1].tail_s,
            min(one.lasts_s for one in some),
            max(ways, default=0.0),
        )
        first = number + 1


@dataclass(frozen=True, slots=True)
class Turns:
    """Of a place that vehicles use again and again: the shortest use and the longest way to the next one in s, how many
    at a time can take turns in it (`_of_some`), of how many; of: the name of the last of them.
    """

    place: str
    use_s: float
    way_s: float
    once: int
    vehicles: int
    of: str


def turns_of(jobs: Sequence[Job]) -> Iterator[Turns]:
    """Give how many can take turns in each place to which somebody comes back without waiting."""
    found: dict[str, list[tuple[Job, _Chain]]] = {}
    for job in jobs:
        for place, uses in uses_of(job).items():
            found.setdefault(place, []).extend((job, one) for one in _chains(job, uses))
    for place, some in found.items():
        again = [(job, one) for job, one in some if one.most_s > 0.0]
        if not again:
            continue
        use, way, once = _turns([one for _, one in again])
        vehicles = {job.name for job, _ in again}
        yield Turns(place, use, way, once, len(vehicles), again[-1][0].of)


def _turns(chains: Sequence[_Chain]) -> tuple[float, float, int]:
    use = min(one.least_s for one in chains)
    way = max(one.most_s for one in chains)
    return use, way, 1 + max(int((way + 1e-3) / max(use, 1e-3)), 0)


def _of_chains(place: str, chains: Sequence[_Chain]) -> Iterator[Bound]:
    """Of all that use it, and of those alike: no more of them can be under way at once than find room in one's way."""
    rising = sorted(chains, key=lambda one: one.of)
    for some in (chains, *(list(some) for _, some in groupby(rising, key=lambda one: one.of))):
        # Of uses with none after them `_of_place` tells as much.
        if any(one.most_s > 0.0 for one in some):
            yield _of_some(place, some)


def _of_some(place: str, chains: Sequence[_Chain]) -> Bound:
    ends, use, way, once = _rolling(chains)
    return Bound(
        ends,
        f"`{place}` is used for {use:.0f} s at least, and {way:.0f} s later at most by the same vehicle "
        f"again: no more than {once} at a time can take turns in it",
    )


def _rolling(chains: Sequence[_Chain]) -> tuple[float, float, float, int]:
    """Give the bound in s, with the shortest use and the longest way in s and how many at a time find room in one.

    Who leaves a place comes back after a way of given length, into which so many uses by others fit, each once.

    Let `once` be one more than these: so many at a time are between their first and last use, for of more the one
    that left the place first would have all the others' uses in its way. When the (n + once)th begins, n are done, and
    since the last of these left, once - 1 others used the place: who still comes back would else have all of `once`
    in its way. So the (n + once)th begins no sooner than the nth, a whole chain and once - 1 uses later.

    Chains of different lengths: it begins once - 1 uses after the nth end at the soonest. So they are as jobs on `once`
    machines, each longer by once - 1 uses, where both the first to begin and the last to end are a use apart: added up,
    the machines have a head, a tail, and the `once`th part of all these in between.
    """
    use, way, once = _turns(chains)
    rounds, more = divmod(len(chains) - 1, once)
    lasts = min(one.lasts_s for one in chains)
    starts = min(one.head_s for one in chains) + more * use + rounds * (lasts + (once - 1) * use)
    whole = math.fsum(one.lasts_s + (once - 1) * use for one in chains) / once
    shared = min(one.head_s for one in chains) + whole + min(one.tail_s for one in chains)
    ends = starts + min(one.lasts_s + one.tail_s for one in chains)
    if len(chains) > once:
        ends = max(ends, shared)
    return ends, use, way, once


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
        least = np.min([headway for _, headway in headways], 0)
        at = int(least.argmax())
        chains = [
            chain
            for job in driving
            for chain in _chains(job, _passes(job, stretch, float(along[at]), float(least[at])))
        ]
        ends, apart, way, once = _rolling(chains)
        yield Bound(
            ends,
            f"station {station + along[at]:.0f} m is passed {apart:.1f} s apart at the least, and {way + apart:.1f} s "
            f"later at most by the same vehicle again: no more than {once} can drive laps at a time",
        )


def _passes(job: Job, stretch: str, along_m: float, apart_s: float) -> list[tuple[Moment, Moment]]:
    """When it passes a place of a stretch, as uses of it: nobody else does so much later."""
    assert job.course is not None
    found = []
    for leg, start, parts in job.course.laps:
        for n, table in enumerate(parts):
            if table.has(stretch):
                way = np.array([table.parts[stretch][0] + along_m])
                into = (start if n == 0 else 0.0) + float(table.time(way)[0])
                found.append(((leg + n, into), (leg + n, into + apart_s)))
    return found


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
