"""Who shares the site, and when each uses which place: vehicles on circuits, vehicles that visit places."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations

from choreo.sharing.blocking import forbidden_between, rows_behind
from choreo.sharing.driving import Course, Gap
from choreo.sharing.model import Apart, Interval, Order, Row, Segment, Sharing, merged
from choreo.words.records import dataclass

# A moment of a job: its segment, and s after that one's start.
Moment = tuple[int, float]


@dataclass(frozen=True, slots=True)
class Use:
    """A place that has one user at a time, from when to when. passing: it only keeps out those who aren't passing."""

    place: str
    enters: Moment
    leaves: Moment
    passing: bool = False


@dataclass(frozen=True, eq=False)
class Job:
    """A vehicle. of: its name in the file, of several the same; alike: the same for those that are alike in all that
    matters. lasts_s: of each segment without waiting. course: what it drives on the circuit, one leg a segment.
    uses: of places by their names.
    """

    name: str
    of: str
    alike: str
    ready_s: float
    lasts_s: tuple[float, ...]
    uses: tuple[Use, ...] = ()
    course: Course | None = None

    @property
    def alone_s(self) -> float:
        """How long it lasts with the site to itself."""
        return sum(self.lasts_s)


def first_ready_s(jobs: Sequence[Job]) -> float:
    """Give when the first of them can start."""
    return min(one.ready_s for one in jobs)


def sharing_of(jobs: Sequence[Job], gap: Gap, single: frozenset[str]) -> Sharing:
    """Write what keeps them apart. What two of them can't have is worked out once for those that are alike."""
    segments: list[Segment] = []
    first: list[int] = []
    for number, job in enumerate(jobs):
        first.append(len(segments))
        segments += [Segment(number, lasts, job.ready_s) for lasts in job.lasts_s]
    known: dict[tuple[str, str], _Between] = {}
    aparts: list[Apart] = []
    orders: list[Order] = []
    for a, b in combinations(range(len(jobs)), 2):
        pair = jobs[a].alike, jobs[b].alike
        if pair not in known:
            known[pair] = _between(jobs[a], jobs[b], gap, single)
        i, j = first[a], first[b]
        for (k, m), forbidden in known[pair].aparts.items():
            aparts.append(Apart(i + k, j + m, forbidden))
        for one in known[pair].orders:
            orders.append(_moved(one, i, j))
    kinds = tuple(one.alike for one in jobs)
    return Sharing(tuple(segments), tuple(aparts), tuple(orders), kinds)


@dataclass(frozen=True, slots=True)
class _Between:
    """Of two jobs, with their own numbers of segments. In one_first rows go from the first to the second job."""

    aparts: Mapping[tuple[int, int], tuple[Interval, ...]]
    orders: tuple[Order, ...]


def _moved(one: Order, i: int, j: int) -> Order:
    return Order(
        (one.one[0] + i, one.one[1] + i),
        (one.other[0] + j, one.other[1] + j),
        tuple((a + i, b + j, least) for a, b, least in one.one_first),
        tuple((b + j, a + i, least) for b, a, least in one.other_first),
    )


def _between(one: Job, other: Job, gap: Gap, single: frozenset[str]) -> _Between:
    aparts: dict[tuple[int, int], list[Interval]] = {}
    orders: list[Order] = []
    if one.course is not None and other.course is not None:
        for k, leg in enumerate(one.course.legs):
            for m, with_ in enumerate(other.course.legs):
                found = forbidden_between(leg, with_, gap, single)
                if found:
                    aparts[k, m] = list(found)
        orders += _passing(one.course, other.course, gap, single)
    else:
        orders += [_order(a, b) for a in one.uses for b in other.uses if a.place == b.place]
    kept = []
    for order in orders:
        # Of two that don't wait there, one after the other is a difference that can't be.
        (k, m), (n, o) = order.one, order.other
        if k == m and n == o:
            late = max(least for _, _, least in order.one_first)
            early = max(least for _, _, least in order.other_first)
            aparts.setdefault((k, n), []).append((-early, late))
        else:
            kept.append(order)
    return _Between({pair: merged(some) for pair, some in aparts.items()}, tuple(kept))


def _passing(one: Course, other: Course, gap: Gap, single: frozenset[str]) -> Iterator[Order]:
    """Excursions that both take and in which one of them may wait."""
    for a in one.passes:
        for b in other.passes:
            if a.excursion != b.excursion or not (a.waits or b.waits):
                continue
            alone = a.excursion in single
            yield Order(
                (a.enters[0], a.leaves[0]),
                (b.enters[0], b.leaves[0]),
                rows_behind(a, b, gap, single=alone),
                rows_behind(b, a, gap, single=alone),
            )


def _order(a: Use, b: Use) -> Order:
    (k, a_0), (m, a_1), (n, b_0), (o, b_1) = a.enters, a.leaves, b.enters, b.leaves
    first: tuple[Row, ...] = ((m, n, a_1 - b_0),)
    second: tuple[Row, ...] = ((o, k, b_1 - a_0),)
    return Order((k, m), (n, o), first, second)
