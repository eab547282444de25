"""How large each source of error may be while enough runs stay valid, by bisection on runs that are drawn once.

A source is made larger or smaller as a whole: what is drawn of it, its bias too, is multiplied by one factor round
what is perfect.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from choreo.errors.drawing import draw
from choreo.errors.draws import Draws
from choreo.errors.outcomes import run
from choreo.errors.stage import Stage
from choreo.plans.allowed_record import AllowedPlan, AllowedSource
from choreo.scenario import ErrorSource
from choreo.words.kinds import ERRORS

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]
Flags = NDArray[np.bool_]

# A factor beyond MOST is no longer looked for, and one below LEAST is none; how finely it is told.
DOUBLINGS, HALVINGS = 3, 8
MOST, LEAST = 2.0**DOUBLINGS, 2.0**-6
FINE = (MOST / LEAST) ** (2.0**-HALVINGS) - 1.0
# A drive that achieves less than this share of a rate is broken: what is drawn wider is cut there.
LEAST_ACHIEVED = 0.4
# Runs that are gone through at once.
MOST_ROWS = 16_384


def allowed(
    stage: Stage,
    sources: tuple[ErrorSource, ...],
    wanted_ratio: float,
    runs: int,
    seed: int,
    progress: Callable[[str], None] | None = None,
    *,
    each: bool = True,
) -> AllowedPlan:
    """Find what may be allowed for a chance of a valid run of wanted_ratio. runs: drawn once, from seed.

    each: of every source, else only of all at once.
    """
    scaled = _Scaled(stage, draw(sources, runs, seed))
    count = len(sources) if each else 0
    whole, only = np.ones((1, len(sources))), np.eye(len(sources))[:count]
    # Each source with the others perfect, each with the others as they are, and all at once.
    varied = np.concatenate((only, only, whole))
    kept = np.concatenate((0.0 * only, whole - only, 0.0 * whole))
    factors = _largest(
        lambda which, f: scaled.chances(kept[which] + f[:, None] * varied[which]),
        len(varied),
        wanted_ratio,
        progress,
    )
    found = []
    for index, source in enumerate(sources[:count]):
        now = source.spread.standard_deviation
        alone, beside = float(factors[index]), float(factors[count + index])
        found.append(AllowedSource(index, now, _times(alone, now), _times(beside, now)))
    return AllowedPlan(
        wanted_ratio=wanted_ratio,
        chance_ratio=float(scaled.chances(whole)[0]),
        runs=runs,
        seed=seed,
        factor=float(min(factors[-1], MOST)),
        most_factor=MOST,
        fine_ratio=FINE,
        sources=tuple(sorted(found, key=_worst)),
    )


def _times(factor: float, now: float) -> float | None:
    return None if factor > MOST else factor * now


def _worst(one: AllowedSource) -> float:
    """How much of it is allowed alone: the least first."""
    return float("inf") if one.alone is None or one.now == 0.0 else one.alone / one.now


class _Scaled:
    """The same drawn runs with sources made larger or smaller."""

    def __init__(self, stage: Stage, draws: Draws) -> None:
        self.stage, self.draws = stage, draws
        self.perfect = np.array([ERRORS[one.kind].perfect for one in draws.sources])
        self.least = np.where(self.perfect > 0.0, LEAST_ACHIEVED, -np.inf)

    def chances(self, factors: Floats) -> Floats:
        """Give the share of valid runs of each of several scalings, shape (scalings, sources)."""
        found = []
        each = max(1, MOST_ROWS // self.draws.runs)
        for first in range(0, len(factors), each):
            some = factors[first : first + each]
            values = self.perfect + some[:, None, :] * (self.draws.values - self.perfect)
            values = np.maximum(values, self.least).reshape(-1, values.shape[2])
            drawn = replace(self.draws, values=values)
            found.append(run(self.stage, drawn).valid.reshape(len(some), -1).mean(axis=1))
        return np.concatenate(found)


def _largest(
    chances: Callable[[Indices, Floats], Floats],
    count: int,
    wanted: float,
    progress: Callable[[str], None] | None,
) -> Floats:
    """The largest factors at which chances are as wanted, shape (count,); inf: MOST and over, 0: under LEAST.

    chances: of some of the questions, by number, with a factor each.
    """
    every = np.arange(count)
    low, high = np.full(count, LEAST), np.full(count, MOST)

    def look(which: Indices, factor: Floats) -> Flags:
        if progress is not None:
            progress(f"what may be allowed: {len(which)} left")
        return chances(which, factor) >= wanted

    # Most sources decide nothing, or nothing alone: that is seen at the ends.
    any_ = look(every, high)
    none = np.zeros(count, dtype=bool)
    left = np.flatnonzero(~any_)
    if len(left):
        none[left] = ~look(left, low[left])
    for _ in range(HALVINGS):
        open_ = np.flatnonzero(~any_ & ~none)
        if not len(open_):
            break
        middle = np.sqrt(low * high)[open_]
        well = look(open_, middle)
        low[open_] = np.where(well, middle, low[open_])
        high[open_] = np.where(well, high[open_], middle)
    return np.where(any_, np.inf, np.where(none, 0.0, low))
