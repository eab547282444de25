"""Ranges of open speeds, cut in two: in every part less is open, so that a relaxation says more."""

from __future__ import annotations

import math
from dataclasses import replace

from choreo.problem.records import Problem, Ramp
from choreo.scenario import Span

# No part is smaller than this share of its range.
LEAST_SHARE = 1 / 64


def halved(part: Problem, whole: Problem) -> list[Problem]:
    """Give a part's two halves along the open speed that is the least cut; none where all are cut enough.

    whole: the problem that it is a part of.
    """
    widest: tuple[float, int, int] | None = None
    for number, mover in enumerate(part.movers):
        for index, phase in enumerate(mover.phases):
            first = whole.movers[number].phases[index]
            if not isinstance(phase, Ramp) or not isinstance(first, Ramp) or first.to.fixed:
                continue
            if not math.isfinite(first.to.hi):
                return []
            share = (phase.to.hi - phase.to.lo) / (first.to.hi - first.to.lo)
            if share > LEAST_SHARE and (widest is None or share > widest[0]):
                widest = share, number, index
    if widest is None:
        return []
    _, number, index = widest
    ramp = part.movers[number].phases[index]
    if not isinstance(ramp, Ramp):
        raise AssertionError(ramp.name)
    middle = (ramp.to.lo + ramp.to.hi) / 2.0
    ranges = Span(ramp.to.lo, middle), Span(middle, ramp.to.hi)
    return [_with(part, number, index, replace(ramp, to=one)) for one in ranges]


def _with(problem: Problem, number: int, index: int, ramp: Ramp) -> Problem:
    movers = list(problem.movers)
    phases = list(movers[number].phases)
    phases[index] = ramp
    movers[number] = replace(movers[number], phases=tuple(phases))
    return replace(problem, movers=tuple(movers))
