"""choreo day: a campaign's day on the track."""

from __future__ import annotations

import sys
from pathlib import Path

import click


@click.command(
    "day", short_help="Plan a campaign's day: stagings, order, timetable, what doesn't fit."
)
@click.argument("file", metavar="CAMPAIGN", type=click.Path(path_type=Path))
@click.option(
    "--csv", "as_csv", is_flag=True, help="Print the timetable as CSV, a line for each try."
)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON document instead of text.")
@click.option("--all", "full", is_flag=True, help="Print the whole timetable, however long it is.")
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="The run store of `choreo sweep`: what is planned in it already is not planned again.",
)
@click.option("--jobs", type=click.IntRange(1, 512), help="Processes to use (default: one a core).")
@click.option("--width", type=click.IntRange(40, 400), help="Columns to use.")
def command(
    file: Path,
    as_csv: bool,
    as_json: bool,
    full: bool,
    output: Path | None,
    jobs: int | None,
    width: int | None,
) -> None:
    """Plan the day of CAMPAIGN by its `day:` block: the fewest stagings that its variants run from, the order of the
    runs, when each begins and when all are done, what doesn't fit and what would help most.

    \b
    Examples:
      choreo day scenarios/campaigns/week-of-crossings.yaml
      choreo day scenarios/campaigns/week-of-crossings.yaml --csv > week.csv
      choreo show scenarios/campaigns/week-of-crossings.yaml --sheet
    """
    from choreo.campaigns.day_told import content_of_day, day_csv, day_text
    from choreo.commands.days import code_of, day_of_file
    from choreo.commands.faults import faults_reported
    from choreo.commands.screen import screen
    from choreo.report import print_content

    if as_csv and as_json:
        raise click.UsageError("--csv or --json, not both.")
    with faults_reported(as_json=as_json, otherwise="nothing was planned"):
        day = day_of_file(file, output, jobs, quiet=as_csv or as_json)
    if as_csv:
        click.echo(day_csv(day), nl=False)
    elif as_json:
        click.echo(day_text(day), nl=False)
    else:
        print_content(content_of_day(day, full=full), screen(width))
    sys.exit(code_of(day))
