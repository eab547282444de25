"""Draws runs: by streams of random numbers, or by points of low discrepancy.

Apart from what was drawn (`draws`), so that only who draws waits for scipy.
"""

from __future__ import annotations

import warnings

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri
from scipy.stats import qmc

from choreo.errors.draws import NUMBER, Draws, chunks_of, stream_of
from choreo.scenario import ErrorSource, Spread
from choreo.words.kinds import ERRORS

Floats = NDArray[np.float64]

# Uniform numbers stay this far from 0 and 1, where a normal's quantile is infinite.
LEAST_SHARE = 2.0**-53


def draw(
    sources: tuple[ErrorSource, ...], runs: int, seed: int, *, quasi: bool = False, first: int = 0
) -> Draws:
    """Draw `runs` runs, from number `first` on. quasi: scrambled Sobol points (what wanders is drawn all the same)."""
    values = np.empty((runs, len(sources)))
    numbers = [index for index, one in enumerate(sources) if ERRORS[one.kind].over is None]
    if quasi and numbers:
        shares = _points(len(numbers), runs, seed, first)
    else:
        shares = np.empty((runs, len(numbers)))
        for column, index in enumerate(numbers):
            parts = [
                stream_of(sources[index], seed, chunk, NUMBER).random(stop)[start:]
                for chunk, start, stop in chunks_of(first, runs)
            ]
            shares[:, column] = np.concatenate(parts) if parts else 0.0
    for column, index in enumerate(numbers):
        values[:, index] = quantile(sources[index].spread, shares[:, column])
    for index, one in enumerate(sources):
        if ERRORS[one.kind].over is not None:
            values[:, index] = one.spread.standard_deviation
    return Draws(sources, values, seed, first)


def quantile(spread: Spread, share: Floats) -> Floats:
    """Give the values below which these shares (shape (runs,), 0 to 1) of a distribution lie, cut as it is."""
    share = np.clip(share, LEAST_SHARE, 1.0 - LEAST_SHARE)
    match spread.shape:
        case "normal":
            cut = spread.share_cut_off
            if cut >= 1.0 - LEAST_SHARE:
                return np.full(share.shape, spread.least)
            found = spread.middle + spread.size * ndtri(cut + share * (1.0 - cut))
            return np.asarray(np.maximum(found, spread.least))
        case "uniform":
            low = max(spread.middle - spread.size, spread.least)
            return np.asarray(low + share * max(spread.middle + spread.size - low, 0.0))


def _points(sources: int, runs: int, seed: int, first: int) -> Floats:
    """Sobol points with Owen's scrambling, shape (runs, sources)."""
    points = qmc.Sobol(sources, scramble=True, seed=seed)
    with warnings.catch_warnings():
        # They are balanced in powers of two only: any other number is still better than independent draws.
        warnings.simplefilter("ignore", UserWarning)
        if first:
            points.fast_forward(first)
        return np.asarray(points.random(runs))
