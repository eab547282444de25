"""A good timetable at once: each vehicle starts as soon as all before it allow; or, of vehicles that are alike, a
search over whole seconds in which the last one starts ever later until all fit.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from itertools import product

from choreo.sharing.timetable import Interval, gaps_of, merged

# How many free starts of each vehicle are tried, and how many timetables in all.
CHOICES = 3
MOST_TRIES = 100
# Windows grow by this share; in each the search looks at no more places than this.
WIDER = 1.01
MOST_NODES = 60_000
MOST_WINDOWS = 60
Forbidden = Callable[[int, int], Sequence[Interval]]


def first_fit(
    lasts_s: Sequence[float], ready_s: Sequence[float], forbidden: Forbidden
) -> tuple[float, ...]:
    """Give starts in s, in the order given, of the timetable that ends first among those tried.

    forbidden(i, j): what the start of j less that of i can't be.
    """
    best: tuple[float, ...] = ()
    least = float("inf")
    count = len(lasts_s)
    tries = min(MOST_TRIES, CHOICES ** max(count - 1, 0))
    for number, later in enumerate(
        sorted(product(range(CHOICES), repeat=min(count - 1, 6)), key=sum)
    ):
        if number >= tries:
            break
        starts: list[float] = [ready_s[0]]
        for j in range(1, count):
            skip = later[j - 1] if j - 1 < len(later) else 0
            starts.append(_free(starts, j, ready_s[j], forbidden, skip))
            if starts[-1] + lasts_s[j] >= least:
                break
        ends = max(t + lasts for t, lasts in zip(starts, lasts_s, strict=False))
        if len(starts) == count and ends < least:
            best, least = tuple(starts), ends
    return best


def _free(
    starts: Sequence[float], j: int, ready_s: float, forbidden: Forbidden, skip: int
) -> float:
    taken = [
        (low + start, high + start)
        for i, start in enumerate(starts)
        for low, high in forbidden(i, j)
    ]
    free = [max(low, ready_s) for low, high in gaps_of(merged(taken)) if high >= ready_s]
    return free[min(skip, len(free) - 1)]


def packed(
    forbidden: Sequence[Interval], count: int, least_s: float, most_s: float
) -> tuple[float, ...]:
    """Give starts at whole seconds from 0 of vehicles that are all alike, the last one early; () where none was found.

    forbidden: what differences can't be. least_s: no two are nearer. The last one starts before most_s.
    """
    gaps = gaps_of(forbidden)
    window = (count - 1) * least_s
    for _ in range(MOST_WINDOWS):
        if window > most_s:
            return ()
        found = _clique(_allowed(gaps, int(window)), count, int(least_s), int(window))
        if found:
            return found
        window = max(window * WIDER, window + 1.0)
    return ()


def _allowed(gaps: Sequence[Interval], window: int) -> int:
    """Bit d is set where a difference of d seconds is allowed."""
    mask = 0
    for low, high in gaps:
        first, last = max(math.ceil(max(low, 1.0)), 1), math.floor(min(high, float(window)))
        if last >= first:
            mask |= ((1 << (last - first + 1)) - 1) << first
    return mask


def _clique(allowed: int, count: int, least: int, window: int) -> tuple[float, ...]:
    """So many whole numbers from 0 up to a window, all of whose differences are allowed; depth first."""
    nodes = 0
    stack: list[tuple[tuple[int, ...], int]] = [((0,), allowed)]
    while stack:
        chosen, left = stack.pop()
        if len(chosen) == count:
            return tuple(float(one) for one in chosen)
        nodes += 1
        if nodes > MOST_NODES:
            return ()
        if not left:
            continue
        first = (left & -left).bit_length() - 1
        # Those still to come need their least differences within the window.
        if first + (count - len(chosen) - 1) * least > window:
            continue
        stack.append((chosen, left & (left - 1)))
        stack.append(((*chosen, first), (left >> (first + 1) << (first + 1)) & (allowed << first)))
    return ()
