"""choreo diff: what differs between two plans, in a crew's words."""

from __future__ import annotations

import sys
from pathlib import Path

import click


@click.command("diff", short_help="Say what differs between two plans or scenarios, for a crew.")
@click.argument("old", metavar="OLD", type=click.Path(path_type=Path))
@click.argument("new", metavar="NEW", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print one JSON document instead of text.")
@click.option("--width", type=click.IntRange(40, 400), help="Columns to use.")
def command(old: Path, new: Path, as_json: bool, width: int | None) -> None:
    """Say what a crew has to change from OLD to NEW: marks, launches, settings, runway, encounters, verdicts.
    Each is a scenario, which is planned, or a saved plan (`.json`).

    \b
    Examples:
      choreo diff plan.json scenarios/walker-nearside.yaml
      choreo diff scenarios/walker-nearside.yaml mine.yaml

    Exit code 0: nothing differs, 1: something does.
    """
    from choreo.commands.diffs import diff_files
    from choreo.commands.faults import faults_reported

    with faults_reported(as_json=as_json, otherwise="nothing was compared"):
        code = diff_files(old, new, as_json=as_json, width=width)
    sys.exit(code)
