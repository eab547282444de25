"""The timetable of a shared site: searched, as one pattern, or by a mixed-integer programme; the smallest conflict."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from choreo.sharing.bounds import Bound, bound_of, of_places, together
from choreo.sharing.driving import Gap
from choreo.sharing.flow import ENOUGH
from choreo.sharing.jobs import Job, first_ready_s, sharing_of
from choreo.sharing.mending import mended
from choreo.sharing.model import Sharing, Timetable
from choreo.sharing.pattern import patterned
from choreo.sharing.places import alone, around, no_places, places_of, turns
from choreo.sharing.search import MOST_LOOKS, PROVED, searched
from choreo.sharing.timetable import timetable
from choreo.words.records import dataclass

# Up to so many users and choices the mixed-integer programme is asked, for so long (s) and so many branchings.
MOST_USERS, MOST_CHOICES = 7, 600
SECONDS, NODES = 6.0, 1000
# One pattern for all that are alike is looked for where a timetable ends later than so many times the bound.
NEAR = 1.02
# How much of a search comes before it.
QUICK_LOOKS = 4_000_000
# With no more choices of who is first in a place are the places looked at alone.
MOST_ORDERS = 1000


@dataclass(frozen=True, slots=True)
class Solved:
    """found: None where there is no timetable that ends in time; conflict: the fewest that can't be together."""

    found: Timetable | None
    bound: Bound
    conflict: tuple[Job, ...] = ()


def solve(jobs: Sequence[Job], gap: Gap, single: frozenset[str], within_s: float) -> Solved:
    """Find a timetable that ends early, with what none beats. within_s: after the first is ready.

    Raises TimeoutError where neither a timetable that ends in time was found nor a proof that there is none.
    """
    begins_s = first_ready_s(jobs)
    within_s += begins_s
    bound = bound_of(jobs, gap)
    if bound.ends_s > within_s:
        return Solved(None, bound, _smallest(jobs, gap, single, within_s))
    sharing = sharing_of(jobs, gap, single)
    small = len(jobs) <= MOST_USERS and _choices(sharing) <= MOST_CHOICES
    best = searched(sharing, bound.ends_s, min(QUICK_LOOKS, MOST_LOOKS))
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
        best, bound = _nearer(sharing, jobs, best, bound, small=small)
        if bound.ends_s > within_s:
            return Solved(None, bound, _smallest(jobs, gap, single, within_s))
    if best.ends_s > within_s:
        raise TimeoutError(
            f"no timetable that ends within {(within_s - begins_s) / 60.0:.1f} min was found, and no proof that there "
            f"is none; the best that was found takes {(best.ends_s - begins_s) / 60.0:.1f} min, and none takes less "
            f"than {(bound.ends_s - begins_s) / 60.0:.1f} min ({bound.because})"
        )
    return Solved(_in_turn(best, sharing), bound)


def _nearer(
    sharing: Sharing, jobs: Sequence[Job], best: Timetable, bound: Bound, *, small: bool
) -> tuple[Timetable, Bound]:
    """Give a timetable that ends sooner, a bound that is later, or both, one way after the other."""
    of_places_alone = places_of(jobs)
    if len(of_places_alone.orders) <= MOST_ORDERS:
        places, ends = alone(of_places_alone, _in_turn(best, sharing), bound.ends_s)
        if ends > bound.ends_s + PROVED:
            bound = of_places(jobs, ends)
        best = _better(best, around(sharing, places, bound.ends_s))
        if NEAR * bound.ends_s < best.ends_s <= NEAR * places.ends_s:
            # It is as good as the places alone allow, as far as is known: the bound may be what is far off.
            bound = together(jobs, bound, best.ends_s)
            if best.ends_s <= ENOUGH * bound.ends_s:
                return best, bound
    if best.ends_s > NEAR * bound.ends_s:
        best = _better(best, patterned(sharing, bound.ends_s))
    # Without a track one that ends sooner is looked for to the end.
    near = NEAR if any(one.course is not None for one in jobs) else 1.0 + PROVED
    if best.ends_s > near * bound.ends_s and not small:
        best = _better(best, searched(sharing, bound.ends_s, MOST_LOOKS))
    if best.ends_s > NEAR * bound.ends_s:
        bound = together(jobs, bound, best.ends_s)
    if best.ends_s > NEAR * bound.ends_s:
        best = _better(best, mended(sharing, bound.ends_s))
    return best, bound


def _better(one: Timetable, other: Timetable | None) -> Timetable:
    return one if other is None or one.ends_s <= other.ends_s else other


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
    ordered = Sharing(sharing.segments, (*sharing.aparts, *turns(jobs)), sharing.orders)
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
    try:
        if no_places(jobs, within_s):
            return True
    except TimeoutError:
        pass
    sharing = sharing_of(jobs, gap, single)
    if len(jobs) > MOST_USERS or _choices(sharing) > MOST_CHOICES:
        return False
    try:
        return timetable(sharing, until_s=within_s, seconds=SECONDS, nodes=NODES) is None
    except TimeoutError:
        return False
