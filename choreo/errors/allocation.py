"""How large each source of error may be while enough runs stay valid, by bisection on runs that are drawn once.

A source is made larger or smaller as a whole: what is drawn of it, its bias too, is multiplied by one factor round
what is perfect.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from choreo.errors.draws import Draws, draw
from choreo.errors.outcomes import run
from choreo.errors.stage import Stage
from choreo.plans.allowed_record import AllowedPlan, AllowedSource
from choreo.scenario import ErrorSource
from choreo.words.kinds import ERRORS

Floats = NDArray[np.float64]

# A factor beyond this is no longer looked for, and below this it is none; how finely it is told.
MOST, LEAST, FINE = 64.0, 1.0 / 64.0, 0.02


def allowed(
    stage: Stage,
    sources: tuple[ErrorSource, ...],
    wanted_ratio: float,
    runs: int,
    seed: int,
    progress: Callable[[str], None] | None = None,
) -> AllowedPlan:
    """Find what may be allowed for a chance of a valid run of wanted_ratio. runs: drawn once, from seed."""
    scaled = _Scaled(stage, draw(sources, runs, seed))
    count = len(sources)
    whole = np.ones(count)
    found = []
    for index, source in enumerate(sources):
        if progress is not None:
            progress(f"allowing for {source.owner}, {source.kind}")
        only = np.zeros(count)
        only[index] = 1.0
        rest = whole - only
        alone = _largest(partial(scaled.chance_at, 0.0 * rest, only), wanted_ratio)
        beside = _largest(partial(scaled.chance_at, rest, only), wanted_ratio)
        now = source.spread.standard_deviation
        found.append(AllowedSource(index, now, _times(alone, now), _times(beside, now)))
    factor = _largest(partial(scaled.chance_at, 0.0 * whole, whole), wanted_ratio)
    return AllowedPlan(
        wanted_ratio=wanted_ratio,
        chance_ratio=scaled.chance_at(0.0 * whole, whole, 1.0),
        runs=runs,
        seed=seed,
        factor=MOST if factor is None else factor,
        most_factor=MOST,
        fine_ratio=FINE,
        sources=tuple(sorted(found, key=_worst)),
    )


def _times(factor: float | None, now: float) -> float | None:
    return None if factor is None else factor * now


def _worst(one: AllowedSource) -> float:
    """How much of it is allowed alone: the least first."""
    return float("inf") if one.alone is None or one.now == 0.0 else one.alone / one.now


class _Scaled:
    """The same drawn runs with sources made larger or smaller."""

    def __init__(self, stage: Stage, draws: Draws) -> None:
        self.stage, self.draws = stage, draws
        self.perfect = np.array(
            [1.0 if ERRORS[one.kind].unit is None else 0.0 for one in draws.sources]
        )

    def chance_at(self, kept: Floats, varied: Floats, factor: float) -> float:
        """Give the share of valid runs; kept, varied, shape (sources,): how much of each there is, or a factor."""
        factors = kept + factor * varied
        values = self.perfect + factors * (self.draws.values - self.perfect)
        drawn = replace(self.draws, values=values)
        return float(run(self.stage, drawn).valid.mean())


def _largest(chance: Callable[[float], float], wanted: float) -> float | None:
    """The largest factor at which the chance is as wanted; None: any up to MOST, 0.0: none down to LEAST."""
    low = high = 1.0
    if chance(1.0) >= wanted:
        while chance(high := 2.0 * high) >= wanted:
            low = high
            if high >= MOST:
                return None
    else:
        while chance(low := low / 2.0) < wanted:
            high = low
            if low <= LEAST:
                return 0.0
    while high > (1.0 + FINE) * low:
        middle = float(np.sqrt(low * high))
        low, high = (middle, high) if chance(middle) >= wanted else (low, middle)
    return low
