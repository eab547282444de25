"""choreo new: ready scenarios, and copies of them to begin with."""

from __future__ import annotations

from pathlib import Path

import click


@click.command("new", short_help="List ready scenarios, or copy one to begin with.")
@click.argument("name", required=False)
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Where the copy goes (default: here, by its own name); what it needs goes beside it.",
)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON document instead of text.")
@click.option(
    "--width",
    type=click.IntRange(40, 400),
    help="Columns to use (default: the terminal's, 100 in a pipe).",
)
def command(name: str | None, output: Path | None, as_json: bool, width: int | None) -> None:
    """List ready scenarios by what they stage, or copy the one called NAME with the site, fleet and points
    that it needs, so that it plans right away. A part of a name will do. Nothing is ever overwritten.

    \b
    Examples:
      choreo new
      choreo new walker-nearside
      choreo new cut-in -o trials/monday.yaml
    """
    from choreo.commands.faults import faults_reported
    from choreo.commands.news import copy_ready, print_ready

    if name is None:
        if output is not None:
            raise click.UsageError("Name what to copy; `choreo new` lists what there is.")
        print_ready(as_json=as_json, width=width)
        return
    with faults_reported(as_json=as_json, otherwise="nothing was written"):
        copy_ready(name, output, as_json=as_json)
