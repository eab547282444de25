"""choreo stress: what happens when nothing is perfect, and how often a run is valid."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import click
from click.core import ParameterSource

from choreo.commands.recorder_options import MOST_RECORDED, RECORDED, named, recorder_options

# Fewer say nothing, more take days and tell nothing new.
LEAST_RUNS, RUNS, MOST_RUNS = 10, 20_000, 10_000_000
MOST_JOBS = 64
# For which --allow asks when nobody says.
USUAL_CHANCE = 0.95


def _recorded_runs(runs: int) -> int:
    """How many runs are recorded."""
    if click.get_current_context().get_parameter_source("runs") == ParameterSource.DEFAULT:
        return RECORDED
    if runs > MOST_RECORDED:
        raise click.UsageError(f"{runs} recordings fill a disk: write up to {MOST_RECORDED}.")
    return runs


def _runs(context: click.Context, _option: click.Parameter, value: int) -> int:
    if value < (1 if context.params.get("folder") else LEAST_RUNS):
        raise click.BadParameter(f"{value} runs say nothing: write at least {LEAST_RUNS}.")
    if value > MOST_RUNS:
        raise click.BadParameter(
            f"{value} runs take days and tell nothing more: write up to {MOST_RUNS}, which know a "
            "chance to 0.03 %."
        )
    return value


def _chance(_context: click.Context, _option: click.Parameter, value: str | None) -> float | None:
    from choreo.words.quantities import QuantityError, parse

    if value is None:
        return None
    try:
        ratio = parse(value, "ratio")
    except QuantityError as error:
        raise click.BadParameter(f"{error.wrong}. {error.instead}") from None
    if not 0.0 < ratio <= 1.0:
        raise click.BadParameter(f"`{value}` is no chance: write above 0 %, up to 100 %.")
    return ratio


@click.command("stress", short_help="Run a plan with errors: how often is it valid, and why not.")
@click.argument("scenario_file", metavar="SCENARIO", type=click.Path(path_type=Path))
@recorder_options
@click.option(
    "--runs",
    type=int,
    default=RUNS,
    show_default=True,
    callback=_runs,
    metavar="N",
    help="How many runs are drawn.",
)
@click.option(
    "--seed",
    type=click.IntRange(0, 2**32 - 1),
    default=1,
    show_default=True,
    metavar="N",
    help="The same seed gives the same runs.",
)
@click.option(
    "--jobs",
    type=click.IntRange(1, MOST_JOBS),
    default=1,
    show_default=True,
    metavar="N",
    help="Processes to use; they change no number.",
)
@click.option(
    "--quasi", is_flag=True, help="Draw by points of low discrepancy: same answer, smaller error."
)
@click.option(
    "--chance",
    callback=_chance,
    metavar='"95 %"',
    help="The chance that a run must have to be valid: below it the exit code is 1.",
)
@click.option(
    "--only-given", is_flag=True, help="Take what the file doesn't say is off for perfect."
)
@click.option(
    "--triggers",
    is_flag=True,
    help="Compare other ways of releasing each mover that a trigger sets off, on the same runs.",
)
@click.option(
    "--allow",
    is_flag=True,
    help="Say how large each error may be for --chance (95 % when left out).",
)
@click.option(
    "--frontier",
    is_flag=True,
    help="Show the plans between the shortest runway and the smallest error.",
)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON document instead of text.")
@click.option(
    "--csv",
    "table",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Also write every run: what was drawn, what came of it; `-` prints that instead of text.",
)
@click.option("--width", type=click.IntRange(40, 400), help="Columns to use.")
def command(
    scenario_file: Path,
    runs: int,
    seed: int,
    jobs: int,
    quasi: bool,
    chance: float | None,
    only_given: bool,
    triggers: bool,
    allow: bool,
    frontier: bool,
    as_json: bool,
    table: Path | None,
    width: int | None,
    folder: Path | None,
    **recording: Any,
) -> None:
    """Plan SCENARIO and run the plan many times with what may be off (`errors:` of movers, latencies of triggers):
    the chance of a valid run, what decides it, where the impacts fall, which start marks need care.

    \b
    Examples:
      choreo stress scenarios/walker-nearside.yaml
      choreo stress scenarios/walker-nearside.yaml --runs 100000 --jobs 2 --chance "90 %"
      choreo stress scenarios/walker-nearside.yaml --only-given --csv runs.csv
      choreo stress scenarios/errors-station-trigger.yaml --triggers
      choreo stress scenarios/errors-too-large.yaml --allow --chance "90 %"
      choreo stress scenarios/walker-nearside.yaml --record runs --runs 5 --record-noise "0.02 m"
    """
    from choreo.commands.faults import faults_reported
    from choreo.commands.stresses import Wanted, stress
    from choreo.errors.asking import Asked

    if folder is not None:
        from choreo.commands.recorder_options import kind_of_files, recorder_of
        from choreo.commands.recorders import record

        if as_json or table or allow or frontier or triggers or chance is not None:
            raise click.UsageError(
                "--record writes recordings and nothing else: leave the rest out."
            )
        wanted_recorder, kind = recorder_of(recording), kind_of_files(recording)
        asked = Asked(_recorded_runs(runs), seed, jobs, quasi, only_given)
        with faults_reported(as_json=False, otherwise="nothing was written"):
            sys.exit(record(scenario_file, folder, asked, wanted_recorder, kind))
    if named(recording):
        raise click.UsageError(f"{named(recording)[0]} is for --record DIR: name a folder.")
    asked = Asked(runs, seed, jobs, quasi, only_given)
    allow_ratio = (USUAL_CHANCE if chance is None else chance) if allow else None
    wanted = Wanted(chance, triggers, table, as_json, width, allow_ratio, frontier)
    if as_json and wanted.prints_table:
        raise click.UsageError("--json and --csv - can't both be printed: give one of them a file.")
    with faults_reported(as_json=as_json, otherwise="nothing was run"):
        code = stress(scenario_file, asked, wanted)
    sys.exit(code)
