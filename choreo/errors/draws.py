"""Drawn errors: one number a run and source, the same for the same seed however many processes draw them.

Every source has a stream of its own in every chunk of runs, by its name: one source more or less, or another release,
changes nothing of what the others draw.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterator, Mapping
from dataclasses import field

import numpy as np
from numpy.typing import NDArray

from choreo.scenario import ErrorSource
from choreo.words.kinds import ErrorKind
from choreo.words.records import dataclass

Floats = NDArray[np.float64]

# Runs that are drawn and executed at once: arrays of that length stay in a processor's cache. A power of two, for Sobol
# points.
CHUNK = 8192
# Which of a source's streams: its number a run, or its course along the run.
NUMBER, COURSE = 0, 1


@dataclass(frozen=True, eq=False)
class Draws:
    """What was drawn, values: shape (runs, sources), in SI round what is planned, ratios of achieved rates.

    Of what wanders the value is its standard deviation in that run; its course comes from `course`. first: the number
    of the first run; seed: of all, but of the courses of the sources in other_seeds, by index.
    """

    sources: tuple[ErrorSource, ...]
    values: Floats
    seed: int
    first: int = 0
    other_seeds: Mapping[int, int] = field(default_factory=dict)

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
        source, seed = self.sources[index], self.other_seeds.get(index, self.seed)
        parts = [
            stream_of(source, seed, chunk, COURSE).standard_normal((stop, steps))[start:]
            for chunk, start, stop in chunks_of(self.first, self.runs)
        ]
        return np.ascontiguousarray(np.concatenate(parts).T)

    def _index(self, kind: ErrorKind, owner: str) -> int | None:
        pairs = [(one.kind, one.owner) for one in self.sources]
        return pairs.index((kind, owner)) if (kind, owner) in pairs else None


def chunks_of(first: int, runs: int) -> Iterator[tuple[int, int, int]]:
    """Give the chunks that runs lie in: number, and the first and last but one run of it within the chunk."""
    for chunk in range(first // CHUNK, (first + runs - 1) // CHUNK + 1):
        low = chunk * CHUNK
        yield chunk, max(first - low, 0), min(first + runs - low, CHUNK)


def stream_of(source: ErrorSource, seed: int, chunk: int, which: int) -> np.random.Generator:
    """Give one of a source's streams in a chunk of runs: NUMBER or COURSE."""
    name = zlib.crc32(f"{source.kind}/{source.owner}".encode())
    return np.random.default_rng(np.random.SeedSequence(seed, spawn_key=(chunk, name, which)))
