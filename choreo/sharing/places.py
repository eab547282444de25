"""The places alone: the timetable that ends first where vehicles only take turns in places, without the track.

None that keeps its headways as well ends sooner, and those that end little later are near it: there the track is looked
at. Vehicles that are alike stay in one turn where all waiting is in a place that has one user at a time: who leaves it
first entered it first, and on the way to the next one nobody waits. So few orders are left to choose.
"""

from __future__ import annotations

import math
import random
from collections.abc import Iterator, Sequence
from itertools import combinations, pairwise

import numpy as np

from choreo.sharing.bounds import uses_of
from choreo.sharing.jobs import Job, Moment
from choreo.sharing.mending import Mending
from choreo.sharing.model import Apart, Order, Row, Segment, Sharing, Timetable
from choreo.sharing.timetable import PROVED, Around, NoneInTimeError, timetable

# With no more choices than this all are looked at at once, with more only after what is better; with many more never.
# So long (s), with so many branchings.
FEW_CHOICES, MANY_CHOICES = 150, 300
SECONDS, NODES = 20.0, 1500
# The best is known to this share of it.
NEAR_BEST = 0.002
# What is better is looked for with all choices of two or three vehicles open, or of one or two where these are more
# than so many; for so many branchings each, so often in vain, so often in all.
OPEN_CHOICES, OPEN_NODES, OPEN_SECONDS = 400, 15, 5.0
IN_VAIN, MOST_LOOKS = 12, 50
# Around the timetable of the places alone others start at most so much sooner or later, one after the other, s; for so
# long (s), so many branchings, to this share of the bound.
BY_S = (30.0, 60.0, 100.0)
AROUND_SECONDS, AROUND_NODES = 25.0, 1000
WITHIN, ENOUGH = 1.04, 0.01


def in_one_turn(job: Job) -> bool:
    """Whether all that are alike pass each place in the same turn: it waits nowhere but in places."""
    waited = {
        leg
        for some in uses_of(job).values()
        for (enters, _), (leaves, _) in some
        for leg in range(enters, leaves)
    }
    return waited == set(range(len(job.lasts_s) - 1))


def turns(jobs: Sequence[Job]) -> Iterator[Apart]:
    """Of vehicles that are alike the first one written is first: nothing is lost, and less is to be looked at."""
    first = 0
    for job, after in pairwise(jobs):
        then = first + len(job.lasts_s)
        if after.alike == job.alike:
            for leg in range(len(job.lasts_s) if in_one_turn(job) else 1):
                yield Apart(first + leg, then + leg, ((-math.inf, 0.0),))
        first = then


def places_of(jobs: Sequence[Job]) -> Sharing:
    """Write what the places alone keep apart."""
    segments = tuple(
        Segment(number, lasts, job.ready_s)
        for number, job in enumerate(jobs)
        for lasts in job.lasts_s
    )
    firsts = [0]
    for job in jobs:
        firsts.append(firsts[-1] + len(job.lasts_s))
    aparts, orders = list(turns(jobs)), list[Order]()
    known: dict[tuple[int, int, str, int, int], int] = {}
    for a, b in combinations(range(len(jobs)), 2):
        alike = _alike(jobs, a, b)
        mine, theirs = uses_of(jobs[a]), uses_of(jobs[b])
        for place in sorted(mine.keys() & theirs.keys()):
            for i, one in enumerate(mine[place]):
                for j, other in enumerate(theirs[place]):
                    before = _row(one, other, firsts[a], firsts[b])
                    if not alike or i > j:
                        after = _row(other, one, firsts[b], firsts[a])
                        known[a, b, place, i, j] = len(orders)
                        orders.append(
                            Order(
                                (one[0][0] + firsts[a], one[1][0] + firsts[a]),
                                (other[0][0] + firsts[b], other[1][0] + firsts[b]),
                                (before,),
                                (after,),
                            )
                        )
                    elif i == j:
                        # Those behind it come later still.
                        aparts.append(Apart(before[0], before[1], ((-math.inf, before[2]),)))
    implied = []
    for (a, b, place, i, j), number in known.items():
        # Who is before one is before those behind it, and those before who is are too.
        for alike_a, alike_b in ((a, b + 1), (a - 1, b)):
            then = known.get((alike_a, alike_b, place, i, j))
            if then is None:
                continue
            if _alike(jobs, a, alike_a) and _alike(jobs, b, alike_b):
                implied.append((number, then))
    return Sharing(segments, tuple(aparts), tuple(orders), implied=tuple(implied))


def _alike(jobs: Sequence[Job], a: int, b: int) -> bool:
    return jobs[a].alike == jobs[b].alike and in_one_turn(jobs[a])


def _row(ahead: tuple[Moment, Moment], behind: tuple[Moment, Moment], a: int, b: int) -> Row:
    """The one behind enters when the one ahead has left; a, b: the first segments of both vehicles."""
    (left, out), (entered, into) = ahead[1], behind[0]
    return left + a, entered + b, out - into


def alone(places: Sharing, best: Timetable, bound_s: float) -> tuple[Timetable, float]:
    """Give the best timetable of the places alone that was found, and when no timetable ends sooner, s.

    best: one that is known.
    """
    few = len(places.orders) <= FEW_CHOICES
    now = best if few else _bettered(places, best, bound_s)
    if len(places.orders) > MANY_CHOICES or now.ends_s <= (1.0 + NEAR_BEST) * bound_s:
        return now, bound_s
    try:
        found = timetable(
            places,
            until_s=now.ends_s,
            seconds=SECONDS,
            nodes=NODES,
            bound_s=bound_s,
            enough=NEAR_BEST,
            early=False,
        )
    except NoneInTimeError as late:
        return now, late.bound_s
    if found is None:
        return now, now.ends_s
    return (found if found.ends_s < now.ends_s else now), found.bound_s


def no_places(jobs: Sequence[Job], within_s: float) -> bool:
    """Tell whether the places alone let not all be done within a time in s.

    Raises TimeoutError where that isn't found out.
    """
    places = places_of(jobs)
    if len(places.orders) > FEW_CHOICES:
        return False
    return (
        timetable(places, until_s=within_s, seconds=SECONDS, nodes=NODES, enough=1.0, early=False)
        is None
    )


def _bettered(places: Sharing, best: Timetable, bound_s: float) -> Timetable:
    """Vehicles by twos, threes ... change their turns with all others, which keep theirs among themselves."""
    random_ = random.Random(1)
    count = len(places.jobs)
    vehicles = 2 if 4.0 * len(places.orders) / count <= OPEN_CHOICES else 1
    now, vain = best, 0
    for number in range(MOST_LOOKS):
        if vain == IN_VAIN or now.ends_s <= (1.0 + NEAR_BEST) * bound_s:
            break
        some = min(vehicles + number % 2, count)
        first = random_.randrange(count - some + 1)
        free = list(range(first, first + some))
        if random_.random() < 0.3:
            free = random_.sample(range(count), some)
        try:
            found = timetable(
                _open(places, now, frozenset(free)),
                until_s=(1.0 - NEAR_BEST) * now.ends_s,
                seconds=OPEN_SECONDS,
                nodes=OPEN_NODES,
                bound_s=bound_s,
                enough=NEAR_BEST,
                early=False,
            )
        except TimeoutError:
            found = None
        vain += 1
        if found is not None:
            now, vain = found, 0
    return now


def _open(places: Sharing, now: Timetable, free: frozenset[int]) -> Sharing:
    """All orders of the vehicles that are free, by number, are open, the others as they are."""
    aparts, orders, kept = list(places.aparts), list[Order](), dict[int, int]()
    at = now.starts_s
    for number, order in enumerate(places.orders):
        if free & {places.segments[n].job for n in (order.one[0], order.other[0])}:
            kept[number] = len(orders)
            orders.append(order)
            continue
        sides = order.one_first, order.other_first
        rows = min(sides, key=lambda rows: max(least + at[a] - at[b] for a, b, least in rows))
        aparts += [Apart(a, b, ((-math.inf, least),)) for a, b, least in rows]
    implied = [(kept[a], kept[b]) for a, b in places.implied if a in kept and b in kept]
    return Sharing(places.segments, tuple(aparts), tuple(orders), implied=tuple(implied))


def around(sharing: Sharing, places: Timetable, bound_s: float) -> Timetable | None:
    """Give the best timetable that was found near one of the places alone."""
    best: Timetable | None = None
    until = WITHIN * max(places.ends_s, bound_s)
    for by in BY_S:
        try:
            found = timetable(
                sharing,
                until_s=until,
                seconds=AROUND_SECONDS,
                nodes=AROUND_NODES,
                bound_s=bound_s,
                around=Around(places.starts_s, by),
                enough=ENOUGH,
                early=False,
            )
        except TimeoutError:
            continue
        if found is not None and (best is None or found.ends_s < best.ends_s):
            best, until = found, found.ends_s
        if best is not None and best.ends_s <= (1.0 + ENOUGH) * bound_s:
            break
    if best is None:
        return None
    starts = Mending(sharing, best.ends_s).ended(np.array(best.starts_s))
    if starts is None or sharing.broken(starts.tolist()):
        return best
    ends = sharing.ends_s(starts.tolist())
    proved = ends - bound_s <= PROVED * max(ends, 1.0)
    return Timetable(tuple(starts.tolist()), ends, min(bound_s, ends), proved)
