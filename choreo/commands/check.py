"""choreo check: before a run, is everything as the plan supposes?"""

from __future__ import annotations

import sys
from pathlib import Path

import click


@click.command("check", short_help="Look a scenario, a plan or the staged marks over before a run.")
@click.argument(
    "files", metavar="SCENARIO...", nargs=-1, required=True, type=click.Path(path_type=Path)
)
@click.option(
    "--plan",
    "plan_file",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="A saved plan: does it still answer this scenario, and does the simulation still agree?",
)
@click.option(
    "--staged",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Start marks and latencies as measured on the day (CSV: name,quantity,value).",
)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON document instead of text.")
def command(
    files: tuple[Path, ...], plan_file: Path | None, staged: Path | None, as_json: bool
) -> None:
    """Look files over without solving: scenarios, circuits, shared sites, campaigns. With --plan or --staged, look at
    a scenario's plan too.

    \b
    Examples:
      choreo check scenarios/*.yaml
      choreo check scenarios/walker-nearside.yaml --plan plan.json
      choreo check scenarios/walker-nearside.yaml --staged scenarios/staged/walker-nearside.csv

    The CSV names movers and triggers; quantities are `station`, `x`, `y` (of a mover's start mark) and
    `latency` (of a trigger), values carry their unit.
    """
    from choreo.commands.checks import check_files, check_plan, check_staging
    from choreo.commands.faults import faults_reported

    if (plan_file or staged) and len(files) != 1:
        raise click.UsageError("--plan and --staged look at one scenario: name one file.")
    with faults_reported(as_json=as_json):
        if staged is not None:
            code = check_staging(files[0], plan_file, staged, as_json=as_json)
        elif plan_file is not None:
            code = check_plan(files[0], plan_file, as_json=as_json)
        else:
            code = check_files(files, as_json=as_json)
    sys.exit(code)
