"""All variants of a campaign: what the store knows is taken from there, the rest is solved, in several processes.

Batches are cut in the order of the campaign, always alike; who solves them, and in which order they come back, changes
no row.
"""

from __future__ import annotations

import hashlib
import itertools
from collections.abc import Callable, Iterable, Iterator
from importlib.metadata import version
from pathlib import Path

from choreo.campaigns.processes import Batch, solved_by_processes
from choreo.campaigns.records import Campaign, Row, Variant
from choreo.campaigns.solving import Asked, Walk, asked_of
from choreo.campaigns.store import Store
from choreo.words import ChoreoError
from choreo.words.records import dataclass

# So many neighbours are solved by one process after the other, and lost with it at the most.
BATCH = 25

Told = Callable[[int, int], None]
# Gives the rows of batches as they are solved, in any order.
Solving = Callable[[Campaign, Asked, Iterator[Batch]], Iterator[list[Row]]]


@dataclass(frozen=True)
class Swept:
    """A campaign with the rows of all its variants, in its order; solved: how many were not known before."""

    campaign: Campaign
    rows: tuple[Row, ...]
    solved: int


def by_processes(jobs: int) -> Solving:
    """Solve in so many processes; one works in this one."""

    def solving(campaign: Campaign, asked: Asked, batches: Iterator[Batch]) -> Iterator[list[Row]]:
        if jobs > 1:
            return solved_by_processes(campaign, asked, batches, jobs)
        walk = Walk(campaign, asked)
        return (list(walk.rows(batch)) for batch in batches)

    return solving


def sweep(
    campaign: Campaign,
    asked: Asked,
    solving: Solving,
    *,
    store: Store | None = None,
    tell: Told | None = None,
) -> Swept:
    """Solve every variant that the store doesn't know as it is asked.

    tell: called with how many are done, of how many. Raises ChoreoError: what the store raises; campaign.worker-lost.
    What was solved until then is in the store.
    """
    if store is not None:
        store.claim(campaign.title, campaign.runs)
    variants = list(campaign.variants())
    new = variants if store is None else _changed(campaign, asked, variants, store)
    stamps = _stamps(campaign, asked)
    texts = {one.name: _text(stamps[one.run], one) for one in new}
    rows: dict[str, Row] = {}
    done = len(variants) - len(new)
    for found in solving(campaign, asked, _batches(new)):
        if store is None:
            rows |= {row.name: row for row in found}
        else:
            store.put((row, texts[row.name]) for row in found)
        done += len(found)
        if tell is not None:
            tell(done, len(variants))
    names = [one.name for one in variants]
    kept = (rows[name] for name in names) if store is None else store.rows(names)
    return Swept(campaign, tuple(kept), len(new))


def _changed(
    campaign: Campaign, asked: Asked, variants: list[Variant], store: Store
) -> list[Variant]:
    """The variants whose answer isn't known: neither to what is asked, nor to more than that.

    Where only a file's layout or comments changed, nothing is new.
    """
    stamps = [_stamps(campaign, one) for one in asked.or_more]
    known, new, alike = store.known(), [], {}
    for one in variants:
        text, answered = known.get(one.name, ("", ""))
        texts = [_text(stamp[one.run], one) for stamp in stamps]
        if text in texts:
            continue
        answers = _answers(campaign, asked, one) if answered else ()
        if answered in answers:
            alike[one.name] = texts[answers.index(answered)]
        else:
            new.append(one)
    store.still(alike)
    return new


def _answers(campaign: Campaign, asked: Asked, variant: Variant) -> tuple[str, ...]:
    try:
        scenario = campaign.scenario_of(variant)
    except ChoreoError:
        return ()
    return tuple(asked_of(scenario, one) for one in asked.or_more)


def _stamps(campaign: Campaign, asked: Asked) -> dict[str, str]:
    return {name: _stamp(run.varying.files, asked) for name, run in campaign.runs.items()}


def _stamp(files: Iterable[str], asked: Asked) -> str:
    """What an answer leans on besides the values: the text of all files, what is asked, this version."""
    digest = hashlib.sha256(f"{version('choreo')} {asked}".encode())
    for file in files:
        digest.update(Path(file).read_bytes())
    return digest.hexdigest()


def _text(stamp: str, variant: Variant) -> str:
    told = f"{stamp}\n{sorted(variant.values.items())}"
    return hashlib.sha256(told.encode()).hexdigest()


def _batches(variants: Iterable[Variant]) -> Iterator[Batch]:
    """Neighbours together, run by run."""
    for _run, group in itertools.groupby(variants, lambda one: one.run):
        while batch := list(itertools.islice(group, BATCH)):
            yield batch
