"""Batches of variants by the workers of a dask.distributed scheduler; the same rows as from this machine.

A worker that dies is the scheduler's business: it gives the batch to another one.
"""

from __future__ import annotations

import pickle
from collections.abc import Iterator
from functools import lru_cache

from distributed import Client, Future, KilledWorker, wait

from choreo.campaigns.processes import AHEAD, Batch
from choreo.campaigns.records import Campaign, Row
from choreo.campaigns.solving import Asked, Walk
from choreo.campaigns.sweeping import Solving
from choreo.words import ChoreoError, Finding, Origin

# How long a scheduler may take to answer at first (s).
PATIENCE_S = 10


def by_cluster(address: str) -> Solving:
    """Solve by the workers of a scheduler. Raises ChoreoError: campaign.no-cluster where nobody answers there."""

    def solving(campaign: Campaign, asked: Asked, batches: Iterator[Batch]) -> Iterator[list[Row]]:
        place = Origin(campaign.files[0], 1, 1)
        try:
            client = Client(address, timeout=PATIENCE_S)
        except (OSError, ValueError) as error:
            values = {"why": f"no scheduler answers at {address} ({type(error).__name__})"}
            raise ChoreoError((Finding("campaign.no-cluster", "error", place, values),)) from None
        with client:
            yield from _gathered(client, pickle.dumps((campaign, asked)), batches)

    return solving


def _gathered(client: Client, packed: bytes, batches: Iterator[Batch]) -> Iterator[list[Row]]:
    waiting: dict[Future[list[Row]], Batch] = {}
    while True:
        most = AHEAD * max(sum(client.nthreads().values()), 1)
        while len(waiting) < most and (batch := next(batches, None)) is not None:
            waiting[client.submit(solve_there, packed, batch, pure=False)] = batch
        if not waiting:
            return
        for one in wait(list(waiting), return_when="FIRST_COMPLETED").done:
            batch = waiting.pop(one)
            try:
                yield one.result()
            except KilledWorker:
                values = {"first": batch[0].name, "last": batch[-1].name}
                raise ChoreoError(
                    (Finding("campaign.worker-lost", "error", None, values),)
                ) from None


def solve_there(packed: bytes, batch: Batch) -> list[Row]:
    """Solve a batch on a worker; packed: the campaign and what is asked, pickled."""
    return list(_walk(packed).rows(batch))


@lru_cache(maxsize=1)
def _walk(packed: bytes) -> Walk:
    campaign, asked = pickle.loads(packed)
    return Walk(campaign, asked)
