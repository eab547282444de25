"""choreo share: several vehicles on one circuit."""

from __future__ import annotations

import sys
from pathlib import Path

import click


@click.command("share", short_help="Plan when vehicles start that share one circuit.")
@click.argument("file", metavar="SHARED", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print one JSON document instead of text.")
@click.option(
    "--page",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Write a page on which all play, over a place-time diagram.",
)
@click.option("--width", type=click.IntRange(40, 400), help="Columns to use.")
def command(file: Path, as_json: bool, page: Path | None, width: int | None) -> None:
    """Find when the vehicles of SHARED start that drive laps of one main path or visit places, and where they wait, so
    that none comes nearer than the headway and single places have one user at a time; all replayed together.

    \b
    Examples:
      choreo share scenarios/circuits/eight-on-stone-setts.yaml
      choreo share scenarios/circuits/eight-on-stone-setts.yaml --page shared.html
    """
    from choreo.commands.exits import NO, UNDECIDED, WELL
    from choreo.commands.faults import faults_reported
    from choreo.commands.progress import progress_on
    from choreo.commands.screen import screen
    from choreo.export.files import check_target, write_whole
    from choreo.report import print_content
    from choreo.sharing.planning import plan_share
    from choreo.sharing.shown import page_of_share
    from choreo.sharing.told import content_of_share, text_of_share

    try:
        with (
            faults_reported(as_json=as_json, otherwise="nothing was planned"),
            progress_on(quiet=as_json) as progress,
        ):
            if page is not None:
                check_target(page, (str(file),))
            track = plan_share(file, progress)
            if page is not None:
                write_whole(page, page_of_share(track), track.files)
    except TimeoutError as late:
        click.echo(f"undecided: {late}", err=True)
        sys.exit(UNDECIDED)
    if as_json:
        click.echo(text_of_share(track), nl=False)
    else:
        print_content(content_of_share(track), screen(width))
        if page is not None:
            click.echo(f"page saved to {page}", err=True)
    sys.exit(WELL if track.well else NO)
