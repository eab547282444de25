"""Drawn runs, chunk by chunk, in one process or in several: the same bytes whatever the number of processes."""

from __future__ import annotations

import multiprocessing
from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from dataclasses import replace
from multiprocessing.context import BaseContext

from choreo.errors.drawing import draw
from choreo.errors.draws import CHUNK, Draws
from choreo.errors.first_order import first_order
from choreo.errors.first_order import told as first_order_told
from choreo.errors.folding import Fold
from choreo.errors.outcomes import Outcomes, run
from choreo.errors.stage import Stage
from choreo.errors.together import totals_of
from choreo.plans.errors_record import EncounterTold, ErrorsPlan, SourceTold
from choreo.scenario import ErrorSource
from choreo.words.kinds import ERRORS
from choreo.words.records import dataclass

# So many chunks are drawn and run at once where motions have few pieces: arrays that long are worth a call each.
CHUNKS_AT_ONCE = 2
# Batches that are under way at once, per process: enough that none waits, and no more memory than that.
AHEAD = 2


Chunks = Iterator[tuple[Draws, Outcomes]]


@dataclass(frozen=True, slots=True)
class Task:
    """What every process needs to know."""

    stage: Stage
    sources: tuple[ErrorSource, ...]
    runs: int
    seed: int
    quasi: bool

    @property
    def batch(self) -> int:
        """How many runs are drawn and run at once."""
        wanders = any(one.over is not None for one in self.sources)
        in_step = any(one.stepping is not None for one in self.stage.actors.values())
        return CHUNK if wanders or in_step else CHUNKS_AT_ONCE * CHUNK

    def chunk(self, first: int) -> tuple[Draws, Outcomes]:
        """Draw and run the batch that begins with run number `first`."""
        count = min(self.batch, self.runs - first)
        draws = draw(self.sources, count, self.seed, quasi=self.quasi, first=first)
        return draws, run(self.stage, draws)


class _Worker:
    """The task of this process."""

    task: Task | None = None

    @classmethod
    def begin(cls, task: Task) -> None:
        cls.task = task

    @classmethod
    def chunk(cls, first: int) -> tuple[Draws, Outcomes]:
        if cls.task is None:
            raise AssertionError("a process is told its task before its chunks")
        return cls.task.chunk(first)


def simulate_runs(
    stage: Stage,
    sources: tuple[ErrorSource, ...],
    runs: int,
    seed: int,
    *,
    jobs: int = 1,
    quasi: bool = False,
) -> Chunks:
    """Give what was drawn and what came of it, batch after batch in the order of runs. jobs: processes."""
    task = Task(stage, sources, runs, seed, quasi)
    firsts = range(0, runs, task.batch)
    if min(jobs, len(firsts)) <= 1:
        yield from map(task.chunk, firsts)
        return
    context = _context()
    workers = min(jobs, len(firsts))
    with ProcessPoolExecutor(workers, context, _Worker.begin, (task,)) as pool:
        waiting: deque[Future[tuple[Draws, Outcomes]]] = deque()
        try:
            for first in firsts:
                waiting.append(pool.submit(_Worker.chunk, first))
                if len(waiting) >= AHEAD * workers:
                    yield waiting.popleft().result()
            while waiting:
                yield waiting.popleft().result()
        finally:
            pool.shutdown(wait=True, cancel_futures=True)


def _context() -> BaseContext:
    """Processes that take over no thread in the middle of its work; where that can be, packages are loaded once."""
    if "forkserver" not in multiprocessing.get_all_start_methods():
        return multiprocessing.get_context("spawn")
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload([__name__])
    return context


def told_of(
    stage: Stage,
    sources: tuple[ErrorSource, ...],
    runs: int,
    seed: int,
    *,
    jobs: int = 1,
    quasi: bool = False,
    progress: Callable[[str], None] | None = None,
    consume: Callable[[Chunks], None] | None = None,
) -> ErrorsPlan:
    """Run a plan many times and tell all of it. progress: called with a word now and then.

    consume: takes the same runs, chunk after chunk to the last; whoever writes a table of them need not run them again.
    Raises ValueError: no runs, or no process.
    """
    if runs < 1 or jobs < 1:
        raise ValueError("at least one run and one process")
    slopes = first_order(stage, sources)
    fold = Fold(stage, slopes)

    def folded() -> Chunks:
        for draws, found in simulate_runs(stage, sources, runs, seed, jobs=jobs, quasi=quasi):
            fold.add(draws, found)
            if progress is not None:
                progress(f"{fold.runs} of {runs} runs")
            yield draws, found

    (consume or _exhaust)(folded())
    return ErrorsPlan(
        runs,
        seed,
        quasi,
        tuple(map(_source_told, sources)),
        first_order_told(stage, slopes),
        _with_totals(stage, sources, seed, fold.encounters()),
        fold.chance(),
        fold.told_causes(),
    )


def _with_totals(
    stage: Stage, sources: tuple[ErrorSource, ...], seed: int, told: dict[str, EncounterTold]
) -> dict[str, EncounterTold]:
    """What each source has a hand in, too, where first order is not valid."""
    names = tuple(name for name, one in told.items() if one.disagree and one.shares)
    if not names:
        return told
    totals = totals_of(stage, sources, seed, names)
    return {
        name: replace(one, totals=tuple(totals[name].tolist())) if name in totals else one
        for name, one in told.items()
    }


def _exhaust(chunks: Chunks) -> None:
    for _ in chunks:
        pass


def _source_told(source: ErrorSource) -> SourceTold:
    facts, spread = ERRORS[source.kind], source.spread
    return SourceTold(
        source.kind,
        source.owner,
        facts.unit,
        spread.shape,
        spread.bias - facts.perfect,
        spread.standard_deviation,
        spread.share_cut_off,
        source.over,
        source.given,
    )
