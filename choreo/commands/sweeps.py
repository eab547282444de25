"""What `choreo sweep` does: read, solve with a word of progress, print."""

from __future__ import annotations

import math
import os
from contextlib import closing, nullcontext
from pathlib import Path
from typing import Literal

import click

from choreo.campaigns.documents import to_csv, to_text
from choreo.campaigns.figures import figures_in
from choreo.campaigns.reading import load_campaign
from choreo.campaigns.records import Campaign
from choreo.campaigns.solving import REPAIRS_S, Asked
from choreo.campaigns.store import Store
from choreo.campaigns.sweeping import Solving, Swept, by_processes, sweep
from choreo.campaigns.table import maps_of, table_of
from choreo.commands.exits import NO, UNDECIDED, WELL
from choreo.commands.progress import Countdown, progress_on
from choreo.commands.screen import screen
from choreo.export.files import check_target
from choreo.words import ChoreoError, Finding, Origin
from choreo.words.nearest import suggestion
from choreo.words.quantities import quoted
from choreo.words.records import dataclass

# More variants are asked for again.
MOST_VARIANTS = 100_000
VERDICTS = "verdict"

How = Literal["table", "csv", "json"]


@dataclass(frozen=True)
class Wanted:
    """What the command line asks for."""

    jobs: int | None
    cluster: str | None
    room: bool
    repairs: bool
    mapped: str | None
    yes: bool
    how: How

    @property
    def quiet(self) -> bool:
        """Whether no progress is told, since a program reads what is printed."""
        return self.how != "table"


def read(file: Path, output: Path | None, wanted: Wanted) -> Campaign:
    """Read a campaign, and see that what is asked of it can be done. Raises ChoreoError: faults of the file."""
    campaign = load_campaign(file, math.inf if wanted.yes else MOST_VARIANTS)
    _check(campaign, file, wanted)
    if output is not None:
        check_target(output, campaign.files)
    return campaign


def swept(campaign: Campaign, output: Path | None, wanted: Wanted) -> Swept:
    """Sweep a campaign into a store, or without one. Raises ChoreoError: faults of the store, campaign.worker-lost."""
    asked = Asked(wanted.room, REPAIRS_S if wanted.repairs else 0.0, documents=output is not None)
    store = nullcontext(None) if output is None else closing(Store(output))
    with store as opened, progress_on(quiet=wanted.quiet) as show:
        tell = None if show is None else Countdown(show)
        return sweep(campaign, asked, _solving(wanted), store=opened, tell=tell)


def _check(campaign: Campaign, file: Path, wanted: Wanted) -> None:
    place = Origin(str(file), 1, 1)
    if wanted.mapped is not None and all(len(run.sides) < 2 for run in campaign.runs.values()):
        raise ChoreoError((Finding("campaign.no-map", "error", place, {}),))


def _solving(wanted: Wanted) -> Solving:
    if wanted.cluster is not None:
        try:
            from choreo.campaigns.cluster import by_cluster
        except ImportError:
            values = {"why": "dask.distributed is not installed here"}
            raise ChoreoError((Finding("campaign.no-cluster", "error", None, values),)) from None
        return by_cluster(wanted.cluster)
    return by_processes(wanted.jobs or len(os.sched_getaffinity(0)))


def print_swept(found: Swept, wanted: Wanted, width: int | None, *, full: bool) -> None:
    """Print what came of a sweep. Raises ChoreoError: scenario.unknown-name for a figure that no row has."""
    if wanted.how == "csv":
        click.echo(to_csv(found), nl=False)
        return
    if wanted.how == "json":
        click.echo(to_text(found))
        return
    figure = "" if wanted.mapped in (None, VERDICTS) else str(wanted.mapped)
    figures = figures_in(found.rows)
    if figure and figure not in figures:
        values = {
            "what": "figure",
            "name": quoted(figure),
            "suggestion": suggestion(figure, [VERDICTS, *figures]),
        }
        place = Origin(found.campaign.files[0], 1, 1)
        raise ChoreoError((Finding("scenario.unknown-name", "error", place, values),))
    for line in table_of(found, screen(width).width, full=full):
        click.echo(line)
    for line in maps_of(found, figure) if wanted.mapped else ():
        click.echo(line)


def code_of(found: Swept) -> int:
    """Give the exit code: that of the worst variant."""
    rows = found.rows
    if any(row.verdict in ("infeasible", None) or row.clear is False for row in rows):
        return NO
    return UNDECIDED if any(row.verdict == "undecided" for row in rows) else WELL
