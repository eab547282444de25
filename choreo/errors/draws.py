"""Drawn errors: one number a run and source, the same for the same seed however many processes draw them.

Every source has a stream of its own in every chunk of runs, by its name: one source more or less, or another release,
changes nothing of what the others draw.
"""

from __future__ import annotations

import warnings
import zlib
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri
from scipy.stats import qmc

from choreo.scenario import ErrorSource, Spread
from choreo.words.kinds import ERRORS, ErrorKind

Floats = NDArray[np.float64]

# Runs that are drawn and executed at once: arrays of that length stay in a processor's cache. A power of two, for Sobol
# points.
CHUNK = 8192
# Uniform numbers stay this far from 0 and 1, where a normal's quantile is infinite.
LEAST_SHARE = 2.0**-53
# Which of a source's streams: its number a run, or its course along the run.
NUMBER, COURSE = 0, 1


@dataclass(frozen=True, eq=False)
class Draws:
    """What was drawn, values: shape (runs, sources), in SI round what is planned, ratios of achieved rates.

    Of what wanders the value is its standard deviation in that run; its course comes from `course`. first: the number
    of the first run; seed: of all.
    """

    sources: tuple[ErrorSource, ...]
    values: Floats
    seed: int
    first: int = 0

    @property
    def runs(self) -> int:
        """How many runs were drawn."""
        return len(self.values)

    def of(self, kind: ErrorKind, owner: str) -> Floats | None:
        """Give what was drawn of one source, shape (runs,); None where there is no such source."""
        index = self._index(kind, owner)
        return None if index is None else self.values[:, index]

    def course(self, kind: ErrorKind, owner: str, steps: int) -> Floats:
        """Give independent standard normal numbers for the course of what wanders, shape (steps, runs)."""
        index = self._index(kind, owner)
        if index is None:
            raise KeyError(f"{kind} of {owner}")
        source = self.sources[index]
        parts = [
            _stream(source, self.seed, chunk, COURSE).standard_normal((stop, steps))[start:]
            for chunk, start, stop in _chunks(self.first, self.runs)
        ]
        return np.ascontiguousarray(np.concatenate(parts).T)

    def _index(self, kind: ErrorKind, owner: str) -> int | None:
        pairs = [(one.kind, one.owner) for one in self.sources]
        return pairs.index((kind, owner)) if (kind, owner) in pairs else None


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
                _stream(sources[index], seed, chunk, NUMBER).random(stop)[start:]
                for chunk, start, stop in _chunks(first, runs)
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


def _chunks(first: int, runs: int) -> Iterator[tuple[int, int, int]]:
    """The chunks that runs lie in: number, and the first and last but one run of it within the chunk."""
    for chunk in range(first // CHUNK, (first + runs - 1) // CHUNK + 1):
        low = chunk * CHUNK
        yield chunk, max(first - low, 0), min(first + runs - low, CHUNK)


def _stream(source: ErrorSource, seed: int, chunk: int, which: int) -> np.random.Generator:
    name = zlib.crc32(f"{source.kind}/{source.owner}".encode())
    return np.random.default_rng(np.random.SeedSequence(seed, spawn_key=(chunk, name, which)))
