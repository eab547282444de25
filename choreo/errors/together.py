"""What each source does to the spread of an encounter alone and together with others, where a sum of shares is not all.

Runs are drawn twice, and in a third set one source after the other is taken from the second set: what an outcome
changes by then is what that source does in all (M. J. W. Jansen, Computer Physics Communications 117 (1999); the total
effect of T. Homma and A. Saltelli, Reliability Engineering and System Safety 52 (1996)).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from choreo.errors.drawing import draw
from choreo.errors.draws import Draws
from choreo.errors.outcomes import run
from choreo.errors.stage import Stage
from choreo.scenario import ErrorSource

Floats = NDArray[np.float64]

# So many runs are drawn for each source: they tell its part to a few hundredths of itself.
RUNS, RUNS_IN_STEP = 2048, 512


def total_shares(values: Floats, exchanged: Floats) -> Floats:
    """Give what share of the variance of `values` each source has a hand in, shape (sources,); 0 where nothing varies.

    values: outcomes, shape (runs,). exchanged: of the same runs with one source drawn anew, shape (sources, runs).
    Pairs with a nan are left out. Together they come to more than 1 where sources do something only together.
    """
    known = np.isfinite(values)
    variance = float(np.var(values[known])) if known.any() else 0.0
    if variance <= 0.0:
        return np.zeros(len(exchanged))
    squares = (exchanged - values) ** 2
    counts = np.maximum(np.isfinite(squares).sum(axis=1), 1)
    return np.asarray(np.nansum(squares, axis=1) / counts / (2.0 * variance))


def totals_of(
    stage: Stage, sources: tuple[ErrorSource, ...], seed: int, names: tuple[str, ...]
) -> dict[str, Floats]:
    """Run them, and give the total shares of each of these encounters by source, shape (sources,)."""
    in_step = any(one.stepping is not None for one in stage.actors.values())
    runs = RUNS_IN_STEP if in_step else RUNS
    base, other = draw(sources, runs, seed), draw(sources, runs, seed + 1)
    first = run(stage, base).encounters
    exchanged: dict[str, list[Floats]] = {name: [] for name in names}
    for index in range(len(sources)):
        values = base.values.copy()
        values[:, index] = other.values[:, index]
        found = run(stage, Draws(sources, values, seed, other_seeds={index: seed + 1}))
        for name in names:
            exchanged[name].append(found.encounters[name].value)
    return {name: total_shares(first[name].value, np.array(exchanged[name])) for name in names}
