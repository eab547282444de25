"""The plan whose worst encounter spreads least against its tolerance: a search over neighbouring cases.

From the plan of the shortest runway the quantities that the file leaves open are moved one after the other, and the
rates of ramps and the lengths of holds that it doesn't say: each is looked at between the ends of what works, then more
finely round the best. What is open besides, settings of triggers among it, is as the shortest runway wants it. It is
the least that was found, not proven to be the least that there is.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import field, replace

import numpy as np

from choreo.case.answering import answer
from choreo.case.answers import Answer, Progress
from choreo.case.choices import Open, open_quantities
from choreo.case.rates import unwritten
from choreo.case.record import Case
from choreo.errors.first_order import first_order
from choreo.errors.sources import sources_of
from choreo.errors.stage import stage_of
from choreo.plans.fingerprint import fingerprint_of
from choreo.plans.steadiest_record import Chosen, Spreading, Steadiest
from choreo.scenario import ErrorSource, Scenario
from choreo.words import ChoreoError
from choreo.words.records import dataclass

# Between the ends of what works so many values of a quantity are looked at, and so many round the best, so often.
LOOKS, FINER = 6, 4
# All quantities are gone through again while that gains more than this share, but not more often.
GAIN, MOST_ROUNDS = 0.01, 3
# Less than this is no gain: then the shorter runway stands.
NO_GAIN = 0.01
# Runways that differ by less (m) are the same.
SAME_M = 1e-3
# An open end is looked for by doubling a first step (a share of the value, at least so much in SI), so often.
FIRST_STEP, LEAST_STEP, MOST_STEPS = 0.1, 0.5, 6


def steadiest_answer(
    case: Case, *, only_given: bool = False, progress: Progress | None = None
) -> Answer:
    """Answer a case with the plan of least spread that is found; the plan says what it gains and costs.

    only_given: without usual errors where none are written. An answer that is not feasible, and one without an
    encounter that could spread, is that of the shortest runway. Raises ChoreoError: what answer raises.
    """
    first = answer(case, progress=progress)
    if not first.feasible:
        return first
    search = _Search(case, only_given, progress, tuple(unwritten(case.scenario, first.plan)))
    start = search.seen(first)
    if start is None:
        return first
    best = search.run(start)
    told = Steadiest(
        *search.told(best, start),
        search.looked,
        any(not one.given for one in search.sources),
    )
    fingerprint = fingerprint_of(case.scenario.meaning())
    plan = replace(best.answer.plan, fingerprint=fingerprint, steadiest=told)
    return Answer(case, plan, best.answer.solved)


@dataclass(frozen=True)
class _Seen:
    """A feasible plan, how it spreads, and what stands fixed in it by name of the open quantity."""

    answer: Answer
    spreading: Spreading
    fixed: dict[str, float]


@dataclass()
class _Search:
    case: Case
    only_given: bool
    progress: Callable[[str], None] | None
    unwritten: tuple[Open, ...]
    looked: int = 0
    every: list[_Seen] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.opens = tuple(open_quantities(self.case.scenario))
        # A setting follows from the motions; and a given one counts in any phase, a free one when it is steady.
        settable = tuple(one for one in self.opens if one.keys[0] != "triggers")
        self.moved = (*settable, *self.unwritten)
        self.sources = sources_of(self.case.scenario, only_given=self.only_given)

    def run(self, best: _Seen) -> _Seen:
        """Move one quantity after the other until nothing is gained."""
        for _ in range(MOST_ROUNDS):
            before = best.spreading.ratio
            for one in self.moved:
                best = self._along(one, best)
            if best.spreading.ratio >= (1.0 - GAIN) * before:
                break
        return best

    def told(self, best: _Seen, start: _Seen) -> tuple[Spreading, Spreading, tuple[Spreading, ...]]:
        """Give the best, the first and all between them; of what nobody wrote only what was moved is told."""
        names = {one.name for one in self.opens} | set(best.fixed)

        def shown(one: Spreading) -> Spreading:
            return replace(one, chosen=tuple(each for each in one.chosen if each.name in names))

        between = _frontier([one.spreading for one in self.every], best.spreading)
        return shown(best.spreading), shown(start.spreading), tuple(map(shown, between))

    def seen(self, found: Answer, fixed: dict[str, float] | None = None) -> _Seen | None:
        """How a feasible plan spreads; None where no encounter does."""
        self.looked += 1
        if self.progress is not None:
            self.progress("smallest error")
        spreading = _spreading(found, self.sources, (*self.opens, *self.unwritten))
        if spreading is None:
            return None
        one = _Seen(found, spreading, fixed or {})
        self.every.append(one)
        return one

    def _along(self, moved: Open, best: _Seen) -> _Seen:
        """The best along one quantity, the others as they stand."""
        value = moved.chosen(best.answer.plan)
        low, high = (self._end(moved, value, sign, best) for sign in (-1.0, 1.0))
        if high <= low:
            return best
        near, apart = best, (high - low) / LOOKS
        for at in np.linspace(low, high, LOOKS + 1).tolist():
            best = _better(best, self._at(moved, at, near))
        for _ in range(FINER):
            middle = moved.chosen(best.answer.plan)
            apart /= 2.0
            for at in (middle - apart, middle + apart):
                if low <= at <= high:
                    best = _better(best, self._at(moved, at, near))
        return best

    def _end(self, moved: Open, value: float, sign: float, best: _Seen) -> float:
        """How far a quantity can be moved one way: to its end, or to the last of growing steps that works."""
        limit = moved.span.hi if sign > 0 else moved.span.lo
        if math.isfinite(limit) and self._at(moved, limit, best) is not None:
            return limit
        step, end = max(FIRST_STEP * abs(value), LEAST_STEP), value
        for _ in range(MOST_STEPS):
            further = value + sign * step
            past = further > moved.span.hi if sign > 0 else further < moved.span.lo
            if past or self._at(moved, further, best) is None:
                break
            end, step = further, 2.0 * step
        return end

    def _at(self, moved: Open, value: float, near: _Seen) -> _Seen | None:
        fixed = {**near.fixed, moved.name: value}
        try:
            changed = self.case.changed(self._put(fixed))
            found = answer(changed, near=near.answer)
        except ChoreoError:  # a value at which something in the file makes no sense
            self.looked += 1
            return None
        if not found.feasible:
            self.looked += 1
            return None
        return self.seen(found, fixed)

    def _put(self, fixed: dict[str, float]) -> Scenario:
        scenario = self.case.scenario
        for one in self.moved:
            if one.name in fixed:
                scenario = one.put(scenario, fixed[one.name])
        return scenario


def _better(best: _Seen, other: _Seen | None) -> _Seen:
    if other is None or other.spreading.ratio > (1.0 - NO_GAIN) * best.spreading.ratio:
        return best
    return other


def _spreading(
    found: Answer, sources: tuple[ErrorSource, ...], opens: tuple[Open, ...]
) -> Spreading | None:
    """The encounter that spreads most against its tolerance; None without one that is met."""
    plan = found.plan
    stage = stage_of(found.case.scenario, found.case.paths, plan)
    slopes = first_order(stage, sources).encounters
    spreads = {name: one.spread for name, one in slopes.items() if math.isfinite(one.mean)}
    if len(spreads) < len(plan.encounters) or not spreads:
        return None
    worst = max(spreads, key=lambda name: spreads[name] / plan.encounters[name].tolerance)
    met = plan.encounters[worst]
    chosen = tuple(Chosen(one.name, one.unit, one.chosen(plan)) for one in opens)
    return Spreading(plan.runway_m, worst, met.unit, spreads[worst], met.tolerance, chosen)


def _frontier(every: list[Spreading], best: Spreading) -> Iterator[Spreading]:
    """From the shortest runway (the first of all) to the best: plans that no other one beats in runway and spread."""
    least = math.inf
    for one in (every[0], *sorted(every, key=lambda one: (one.runway_m, one.ratio))):
        between = every[0].runway_m + SAME_M < one.runway_m < best.runway_m
        if (one is every[0] or between) and best.ratio < one.ratio < (1.0 - NO_GAIN) * least:
            least = one.ratio
            yield one
    yield best
