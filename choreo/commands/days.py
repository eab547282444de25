"""What `choreo day` does, and `choreo show` of a campaign: read, sweep, plan the day."""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Iterator
from contextlib import closing, nullcontext
from pathlib import Path

import click

from choreo.campaigns.answered import answered
from choreo.campaigns.reading import load_campaign
from choreo.campaigns.records import Campaign, Row
from choreo.campaigns.shown import page_of_day, sheets_of_day
from choreo.campaigns.solving import Asked
from choreo.campaigns.staging.planning import in_processes
from choreo.campaigns.store import Store
from choreo.campaigns.sweeping import by_processes, sweep
from choreo.campaigns.whole_day import CampaignDay, campaign_day
from choreo.commands.exits import NO, WELL
from choreo.commands.progress import Countdown, progress_on
from choreo.export.files import check_target, write_whole
from choreo.words import ChoreoError, Finding, Origin

# More variants than this are too many for one day's plan: each is planned twice, with its room.
MOST_VARIANTS = 5_000


def day_of_file(file: Path, output: Path | None, jobs: int | None, *, quiet: bool) -> CampaignDay:
    """Plan the day of a campaign file. Raises ChoreoError: faults of the file, of the store."""
    return _day_of(load_campaign(file), file, output, jobs, quiet=quiet)


def _day_of(
    campaign: Campaign, file: Path, output: Path | None, jobs: int | None, *, quiet: bool
) -> CampaignDay:
    if campaign.most > MOST_VARIANTS:
        values = {
            "where": "runs",
            "what": f"a day's plan of {campaign.most:,} variants is too much",
            "instead": f"Vary less, up to {MOST_VARIANTS:,} variants.",
        }
        place = Origin(str(file), 1, 1)
        raise ChoreoError((Finding("scenario.bad-value", "error", place, values),))
    if output is not None:
        check_target(output, campaign.files)
    store = nullcontext(None) if output is None else closing(Store(output))
    jobs = jobs or len(os.sched_getaffinity(0))
    solving = by_processes(jobs)
    with store as opened, progress_on(quiet=quiet) as progress:
        tell = progress or (lambda _step: None)
        so_far = None if progress is None else Countdown(progress)
        # Of its room every plan is asked from its staging's marks.
        found = sweep(campaign, Asked(documents=True), solving, store=opened, tell=so_far)
        rows = found.rows if opened is None else _with_documents(opened, found.rows)
        planning = in_processes(jobs)
        variants = answered(campaign, rows)
        return campaign_day(campaign, variants, planning=planning, progress=tell)


def _with_documents(store: Store, rows: Iterable[Row]) -> Iterator[Row]:
    for row in rows:
        kept = store.row(row.name)
        yield row if kept is None else kept


def show_campaign(
    file: Path, target: Path, store: Path | None, *, sheet: bool, as_json: bool
) -> int:
    """Write the page of a campaign, or all its sheets; tell it, and give the exit code.

    store: of a sweep: what is planned in it already is not planned again. Raises ChoreoError: faults of the file,
    of the store, of the target.
    """
    campaign = load_campaign(file)
    check_target(target, campaign.files)
    day = _day_of(campaign, file, store, None, quiet=as_json)
    written = None if sheet and not day.variants else str(target)
    if written is not None:
        write_whole(target, sheets_of_day(day) if sheet else page_of_day(day), day.campaign.files)
    code = code_of(day)
    if as_json:
        fits = code == WELL
        click.echo(json.dumps({"file": written, "fits": fits}, indent=2))
    elif written is None:
        click.echo("no variant can be run: there is no sheet; nothing written", err=True)
    else:
        what = "sheets of the day" if sheet else "page of the campaign"
        click.echo(
            f"{'fits' if code == WELL else 'does not fit'}: {what} saved to {target}", err=True
        )
    return code


def code_of(day: CampaignDay) -> int:
    """Give the exit code: all well, or something doesn't fit."""
    fits = day.variants and not day.plan.left and not day.plan.too_long
    return WELL if fits else NO
