"""choreo learn: what recorded runs say of errors and latencies, written into a copy of the fleet file."""

from __future__ import annotations

import sys
from pathlib import Path

import click


@click.command(
    "learn",
    short_help="Learn errors and latencies from recorded runs, into a copy of the fleet file.",
)
@click.argument("scenario_file", metavar="SCENARIO", type=click.Path(path_type=Path))
@click.argument("recording", metavar="RECORDING", type=click.Path(path_type=Path))
@click.option(
    "--plan",
    "plan_file",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="The saved plan that was driven; left out, the scenario is planned.",
)
@click.option(
    "-o",
    "output",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Write a copy of the scenario's fleet file with what was learnt.",
)
@click.option(
    "--limits",
    "with_limits",
    is_flag=True,
    help="With -o: write the acceleration, braking and jerk that were achieved as limits too.",
)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON document instead of text.")
@click.option("--width", type=click.IntRange(40, 400), help="Columns to use.")
def command(
    scenario_file: Path,
    recording: Path,
    plan_file: Path | None,
    output: Path | None,
    with_limits: bool,
    as_json: bool,
    width: int | None,
) -> None:
    """Say what the runs that RECORDING describes show of SCENARIO's movers and triggers: mean, spread, how sure both
    are, and of how many runs. With -o they stand in a copy of the fleet file, comments kept; plan with that.

    \b
    Examples:
      choreo learn scenarios/walker-nearside.yaml runs/recording.yaml --plan runs/plan.json
      choreo learn scenarios/walker-nearside.yaml runs/recording.yaml -o fleet.yaml
      choreo learn scenarios/walker-nearside.yaml runs/recording.yaml -o fleet.yaml --limits
    """
    from choreo.commands.faults import faults_reported
    from choreo.commands.learns import Wanted, learn_runs

    if with_limits and output is None:
        raise click.UsageError("--limits says what -o writes: name a file with -o FILE.")
    wanted = Wanted(plan_file, output, with_limits, as_json, width)
    with faults_reported(as_json=as_json, otherwise="nothing was learnt"):
        code = learn_runs(scenario_file, recording, wanted)
    sys.exit(code)
