"""A good timetable: vehicles put in one after the other, in orders that are changed at random, kept where they help."""

from __future__ import annotations

import math
import random
from collections.abc import Sequence

from choreo.sharing.model import Sharing, Timetable
from choreo.sharing.placing import Placing, Times
from choreo.words.records import dataclass

# A timetable that ends within this share of the bound is the best there is.
PROVED = 1e-4
# Work: a look at a forbidden interval. How much of it is spent, and how often one begins anew.
MOST_LOOKS = 60_000_000
ROUNDS = 8
# How much worse than now an order may be to be kept, as a share of its end: at first, at last.
WARM, COLD = 0.02, 0.001


@dataclass(frozen=True, slots=True)
class _Tried:
    turns: tuple[int, ...]
    late_s: tuple[float, ...]
    starts_s: tuple[float, ...]
    ends_s: float
    # When all vehicles are done, added up, a little: of two that end alike the one with less of it is better.
    cost: float


def searched(sharing: Sharing, bound_s: float, most_looks: int) -> Timetable:
    """Give the best timetable that was found, forwards and backwards in time in turn.

    Raises ValueError where some vehicle found no room in any order.
    """
    goal = bound_s * (1.0 + PROVED / 10.0)
    tries = max(most_looks // _looks(sharing) // ROUNDS, 1)
    both = [sharing]
    if len({one.ready_s for one in sharing.segments}) == 1:
        both.append(sharing.mirrored())
    placings = [Placing(one) for one in both]
    random_ = random.Random(1)
    best: tuple[float, ...] = ()
    ends = math.inf
    for number in range(ROUNDS):
        if ends <= goal:
            break
        back = number % len(placings)
        try:
            found = _round(placings[back], goal, tries, random_, written=number < 2)
        except ValueError:
            if number < len(placings):
                continue
            break
        if found.ends_s < ends:
            best = _forwards(sharing, found) if back else found.starts_s
            ends = sharing.ends_s(best)
    if not best:
        raise ValueError("no order of vehicles has room for all")
    bound = min(bound_s, ends)
    return Timetable(best, ends, bound, ends - bound <= PROVED * max(ends, 1.0))


def _forwards(sharing: Sharing, found: _Tried) -> tuple[float, ...]:
    """Give starts of what was found backwards in time."""
    first = min(one.ready_s for one in sharing.segments)
    turned = zip(reversed(found.starts_s), sharing.segments, strict=True)
    starts = [-t - one.lasts_s for t, one in turned]
    return tuple(t - min(starts) + first for t in starts)


def _round(
    placing: Placing, goal_s: float, tries: int, random_: random.Random, *, written: bool
) -> _Tried:
    """From one order, tries changes, fewer and fewer of which may make it worse."""
    now = best = _first(placing, random_, written=written)
    for number in range(tries):
        if best.ends_s <= goal_s:
            break
        heat = WARM * (COLD / WARM) ** (number / tries)
        turns, late = _changed(now, random_)
        tried = _tried(placing, turns, late)
        if tried is None:
            continue
        worse = (tried.cost - now.cost) / max(now.cost, 1e-9)
        if worse <= 0.0 or random_.random() < math.exp(-worse / heat):
            now = tried
        if tried.cost < best.cost:
            best = tried
    return best


def _looks(sharing: Sharing) -> int:
    """How much work one timetable is."""
    return (
        200 * len(sharing.segments)
        + sum(16 * len(one.forbidden) - 8 for one in sharing.aparts)
        + 100 * len(sharing.orders)
    )


def _first(placing: Placing, random_: random.Random, *, written: bool) -> _Tried:
    """The order in which they are written, unit by unit or vehicle by vehicle; else, or if that fails, a random one."""
    units = [len(one) for one in placing.units]
    by_vehicle = [job for job, count in enumerate(units) for _ in range(count)]
    by_unit = [job for k in range(max(units)) for job, count in enumerate(units) if k < count]
    nobody = (0.0,) * len(units)
    found = []
    if written:
        found = [_tried(placing, tuple(turns), nobody) for turns in (by_vehicle, by_unit)]
    for _ in range(20):
        if any(one is not None for one in found):
            break
        random_.shuffle(by_vehicle)
        found.append(_tried(placing, tuple(by_vehicle), nobody))
    there = [one for one in found if one is not None]
    if not there:
        raise ValueError("no order of vehicles has room for all")
    return min(there, key=lambda one: one.cost)


def _changed(now: _Tried, random_: random.Random) -> tuple[tuple[int, ...], tuple[float, ...]]:
    """One turn moved elsewhere, two exchanged, or one vehicle later than it could be."""
    turns, late = list(now.turns), list(now.late_s)
    if random_.random() < 0.2:
        job = random_.randrange(len(late))
        late[job] = 0.0 if late[job] else random_.expovariate(20.0) * now.ends_s
    elif random_.random() < 0.5:
        turn = turns.pop(random_.randrange(len(turns)))
        turns.insert(random_.randrange(len(turns) + 1), turn)
    else:
        a, b = random_.randrange(len(turns)), random_.randrange(len(turns))
        turns[a], turns[b] = turns[b], turns[a]
    return tuple(turns), tuple(late)


def _tried(placing: Placing, turns: Sequence[int], late_s: Sequence[float]) -> _Tried | None:
    segments = placing.sharing.segments
    times: Times = {}
    done = [0] * len(placing.units)
    free = list(late_s)
    try:
        for job in turns:
            unit = placing.units[job][done[job]]
            done[job] += 1
            starts = placing.place(unit, free[job], times)
            times.update(zip(unit, starts, strict=True))
            free[job] = starts[-1] + segments[unit[-1]].lasts_s
    except ValueError:
        return None
    ends = max(free)
    starts_s = tuple(times[number] for number in range(len(segments)))
    return _Tried(tuple(turns), tuple(late_s), starts_s, ends, ends + 0.01 * sum(free) / len(free))
