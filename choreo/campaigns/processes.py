"""Batches of variants in several processes of this machine. A process that dies takes no answer with it."""

from __future__ import annotations

import itertools
import os
import sys
from collections.abc import Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from multiprocessing import get_context
from threading import Thread
from time import sleep

from choreo.campaigns.records import Campaign, Row, Variant
from choreo.campaigns.solving import Asked, Walk
from choreo.words import ChoreoError, Finding, Origin

# So many batches wait for each process: enough that none is idle, few enough that memory stays flat.
AHEAD = 3
# A batch of whose processes so many die, each alone with it, is given up.
MOST_DEATHS = 2
# Processes begin as copies of this one, all modules loaded, where that is safe.
START = "fork" if sys.platform == "linux" else "spawn"

# Processes look so often whether the one that began them is still there (s).
LOOKS_EVERY_S = 1.0

Batch = list[Variant]


def solved_by_processes(
    campaign: Campaign, asked: Asked, batches: Iterator[Batch], jobs: int
) -> Iterator[list[Row]]:
    """Give the rows of batches as they are solved.

    Raises ChoreoError: campaign.worker-lost where processes die again and again of the same batch.
    """
    lost: list[Batch] = []
    while True:
        with _pool(campaign, asked, jobs) as pool:
            yield from _gathered(pool, batches, jobs, lost)
        if not lost:
            return
        for batch in lost:
            yield _alone(campaign, asked, batch)
        lost.clear()


def _pool(campaign: Campaign, asked: Asked, jobs: int) -> ProcessPoolExecutor:
    return ProcessPoolExecutor(
        jobs, get_context(START), initializer=begin, initargs=(campaign, asked)
    )


def _gathered(
    pool: ProcessPoolExecutor, batches: Iterator[Batch], jobs: int, lost: list[Batch]
) -> Iterator[list[Row]]:
    """The rows of each batch as they come. lost: those that were under way when a process died are put here."""
    waiting: dict[Future[list[Row]], Batch] = {}
    while True:
        for batch in itertools.islice(batches, 0 if lost else AHEAD * jobs - len(waiting)):
            try:
                waiting[pool.submit(solve, batch)] = batch
            except BrokenProcessPool:
                lost.append(batch)
                break
        if not waiting:
            return
        for one in wait(waiting, return_when=FIRST_COMPLETED).done:
            batch = waiting.pop(one)
            try:
                yield one.result()
            except BrokenProcessPool:
                lost.append(batch)


def _alone(campaign: Campaign, asked: Asked, batch: Batch) -> list[Row]:
    """Solve a batch by a process that has nothing else to do, so that it is known of what it dies."""
    for _ in range(MOST_DEATHS):
        with _pool(campaign, asked, 1) as pool:
            try:
                return pool.submit(solve, batch).result()
            except BrokenProcessPool:
                continue
    place = Origin(campaign.files[0], 1, 1)
    values = {"first": batch[0].name, "last": batch[-1].name}
    raise ChoreoError((Finding("campaign.worker-lost", "error", place, values),))


def end_with_parent() -> None:
    """Let this process end soon after the one that began it has: of one that is killed nobody else tells it."""
    Thread(target=_watch, args=(os.getppid(),), daemon=True).start()


def _watch(parent: int) -> None:
    while os.getppid() == parent:
        sleep(LOOKS_EVERY_S)
    os._exit(1)


_WALKS: list[Walk] = []


def begin(campaign: Campaign, asked: Asked) -> None:
    """Make a process ready to solve batches of a campaign."""
    end_with_parent()
    _WALKS[:] = [Walk(campaign, asked)]


def solve(batch: Batch) -> list[Row]:
    """Solve a batch in a process that is ready."""
    return list(_WALKS[0].rows(batch))
