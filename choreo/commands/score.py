"""choreo score: was a recorded run valid, what happened, what was off the plan, what to set next."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from choreo.scoring.onsets import Reading


@click.command(
    "score", short_help="Judge recorded runs: valid or not, what happened, what was off."
)
@click.argument("scenario_file", metavar="SCENARIO", type=click.Path(path_type=Path))
@click.argument("recording", metavar="RECORDING", type=click.Path(path_type=Path))
@click.option(
    "--run",
    "runs",
    multiple=True,
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Only this file of the recording; more than once for several.",
)
@click.option(
    "--plan",
    "plan_file",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="The saved plan that was driven; left out, the scenario is planned.",
)
@click.option(
    "--simple", is_flag=True, help="Compare with bounds as they are, without a guard band."
)
@click.option(
    "--filter",
    "reading",
    type=click.Choice(["each pass", "overall"]),
    default="each pass",
    show_default=True,
    help="What the cut-off of a rule's filter is that of: of each pass, or of both together (-3 dB).",
)
@click.option(
    "--without",
    multiple=True,
    metavar="RULE",
    help="Leave a rule of the set out, by its id; more than once for several.",
)
@click.option(
    "--next", "wants_next", is_flag=True, help="Give the corrected setting for the next run."
)
@click.option(
    "--foreseen", is_flag=True, help="Compare the spread of several runs with what stress foresees."
)
@click.option(
    "-o",
    "--output",
    "page",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Write a page of one run over its plan: both play, charts with bands, all rulings.",
)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON document instead of text.")
@click.option(
    "--csv",
    "table",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Also write a row a run; `-` prints that instead of text.",
)
@click.option("--width", type=click.IntRange(40, 400), help="Columns to use.")
def command(
    scenario_file: Path,
    recording: Path,
    runs: tuple[Path, ...],
    plan_file: Path | None,
    simple: bool,
    reading: Reading,
    without: tuple[str, ...],
    wants_next: bool,
    foreseen: bool,
    page: Path | None,
    as_json: bool,
    table: Path | None,
    width: int | None,
) -> None:
    """Judge the runs that RECORDING describes (`choreo recording: 1`) by SCENARIO: each is valid, invalid or not
    decidable, with the worst value of every rule, what happened, and what was off the plan.

    \b
    Examples:
      choreo stress scenarios/walker-nearside.yaml --record runs --runs 5
      choreo score scenarios/walker-nearside.yaml runs/recording.yaml
      choreo score scenarios/walker-nearside.yaml runs/recording.yaml --run runs/simulated-002.csv --next
      choreo score scenarios/walker-nearside.yaml runs/recording.yaml --run runs/simulated-002.csv -o run.html
      choreo score scenarios/walker-nearside.yaml runs/recording.yaml --csv scores.csv

    Exit code 0: all valid, 1: an invalid run, 2: a file that can't be read, 3: a run that can't be decided.
    """
    from choreo.commands.faults import faults_reported
    from choreo.commands.scores import Wanted, score_runs
    from choreo.scoring.score import Options

    options = Options(simple, reading, without)
    wanted = Wanted(runs, plan_file, options, wants_next, foreseen, as_json, table, page, width)
    if as_json and wanted.prints_table:
        raise click.UsageError("--json and --csv - can't both be printed: give one of them a file.")
    with faults_reported(as_json=as_json, otherwise="nothing was scored"):
        code = score_runs(scenario_file, recording, wanted)
    sys.exit(code)
