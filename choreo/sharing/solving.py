"""The timetable of a shared site: searched, as one pattern, or by a mixed-integer programme; the smallest conflict."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from choreo.sharing.blocking import Gap
from choreo.sharing.bounds import Bound, bound_of, together
from choreo.sharing.jobs import Job, sharing_of
from choreo.sharing.mending import mended
from choreo.sharing.model import Apart, Sharing, Timetable
from choreo.sharing.pattern import patterned
from choreo.sharing.search import MOST_LOOKS, PROVED, searched
from choreo.sharing.timetable import timetable
from choreo.words.records import dataclass

# Up to so many users and choices the mixed-integer programme is asked, for so long (s) and so many branchings.
MOST_USERS, MOST_CHOICES = 7, 600
SECONDS, NODES = 4.0, 1000
# One pattern for all that are alike is looked for where a timetable ends later than so many times the bound.
NEAR = 1.02
# How much of a search comes before it.
QUICK_LOOKS = 4_000_000


@dataclass(frozen=True, slots=True)
class Solved:
    """found: None where there is no timetable that ends in time; conflict: the fewest that can't be together."""

    found: Timetable | None
    bound: Bound
    conflict: tuple[Job, ...] = ()


def solve(jobs: Sequence[Job], gap: Gap, single: frozenset[str], within_s: float) -> Solved:
    """Find a timetable that ends early, with what none beats.

    Raises TimeoutError where neither a timetable that ends in time was found nor a proof that there is none.
    """
    bound = bound_of(jobs, gap)
    if bound.ends_s > within_s:
        return Solved(None, bound, _smallest(jobs, gap, single, within_s))
    sharing = sharing_of(jobs, gap, single)
    small = len(jobs) <= MOST_USERS and _choices(sharing) <= MOST_CHOICES
    best = searched(sharing, bound.ends_s, QUICK_LOOKS if small else MOST_LOOKS)
    if small and not best.proved:
        better = _exact(sharing, jobs, best, bound, within_s)
        if better is None:
            return Solved(None, bound, _smallest(jobs, gap, single, within_s))
        best = better
        if best.bound_s > bound.ends_s + PROVED:
            bound = Bound(best.bound_s, "all orders were looked at")
        if not best.proved:
            best = min(
                best, searched(sharing, bound.ends_s, MOST_LOOKS), key=lambda one: one.ends_s
            )
    if best.ends_s > NEAR * bound.ends_s:
        pattern = patterned(sharing, bound.ends_s)
        if pattern is not None and pattern.ends_s < best.ends_s:
            best = pattern
    if best.ends_s > NEAR * bound.ends_s:
        bound = together(jobs, bound, best.ends_s)
        if bound.ends_s > within_s:
            return Solved(None, bound, _smallest(jobs, gap, single, within_s))
    if best.ends_s > NEAR * bound.ends_s:
        better = mended(sharing, bound.ends_s)
        if better is not None and better.ends_s < best.ends_s:
            best = better
    if best.ends_s > within_s:
        raise TimeoutError(
            f"no timetable that ends within {within_s / 60.0:.1f} min was found, and no proof that there is none; the "
            f"best that was found takes {best.ends_s / 60.0:.1f} min"
        )
    return Solved(_in_turn(best, sharing), bound)


def _in_turn(found: Timetable, sharing: Sharing) -> Timetable:
    """Of those that are alike the one written first starts first: they change places."""
    starts = list(found.starts_s)
    for kind in dict.fromkeys(sharing.kinds):
        chains = [c for c, k in zip(sharing.jobs, sharing.kinds, strict=True) if k == kind]
        turns = sorted([found.starts_s[n] for n in chain] for chain in chains)
        for chain, times in zip(chains, turns, strict=True):
            for number, t in zip(chain, times, strict=True):
                starts[number] = t
    return replace(found, starts_s=tuple(starts))


def _exact(
    sharing: Sharing, jobs: Sequence[Job], best: Timetable, bound: Bound, within_s: float
) -> Timetable | None:
    """Give the best there is, or what was best with the bound that was proved; None: none ends in time."""
    ordered = Sharing(
        sharing.segments, (*sharing.aparts, *_in_order(sharing, jobs)), sharing.orders
    )
    until = min(within_s, best.ends_s)
    try:
        found = timetable(
            ordered, until_s=until, seconds=SECONDS, nodes=NODES, bound_s=bound.ends_s
        )
    except TimeoutError:
        return best
    if found is None:
        if best.ends_s > within_s:
            return None
        # None ends before the one that is known.
        return Timetable(best.starts_s, best.ends_s, best.ends_s, True)
    return found if found.ends_s < best.ends_s or found.proved else best


def _in_order(sharing: Sharing, jobs: Sequence[Job]) -> list[Apart]:
    """Of vehicles that are alike the first one written starts first: nothing is lost, and less is to be looked at."""
    rows = []
    for number, job in enumerate(jobs[:-1]):
        if jobs[number + 1].alike == job.alike:
            first, second = sharing.jobs[number][0], sharing.jobs[number + 1][0]
            rows.append(Apart(first, second, ((-math.inf, 0.0),)))
    return rows


def _choices(sharing: Sharing) -> int:
    return len(sharing.orders) + sum(len(one.forbidden) for one in sharing.aparts)


def _smallest(
    jobs: Sequence[Job], gap: Gap, single: frozenset[str], within_s: float
) -> tuple[Job, ...]:
    """The fewest that can't be together: one after the other is left out where the rest still can't."""
    left = list(jobs)
    for one in list(jobs):
        rest = [two for two in left if two is not one]
        if rest and _impossible(rest, gap, single, within_s):
            left = rest
    return tuple(left)


def _impossible(jobs: Sequence[Job], gap: Gap, single: frozenset[str], within_s: float) -> bool:
    if bound_of(jobs, gap).ends_s > within_s:
        return True
    sharing = sharing_of(jobs, gap, single)
    if len(jobs) > MOST_USERS or _choices(sharing) > MOST_CHOICES:
        return False
    try:
        return timetable(sharing, until_s=within_s, seconds=SECONDS, nodes=NODES) is None
    except TimeoutError:
        return False
