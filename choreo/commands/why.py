"""choreo why: what doesn't fit, the least change that helps, or the room that a plan leaves."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from choreo.commands.seconds import seconds_option


@click.command("why", short_help="Tell what doesn't fit and the least change that helps.")
@click.argument("scenario_file", metavar="SCENARIO", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print one JSON document instead of text.")
@click.option(
    "--apply",
    "number",
    type=int,
    metavar="N",
    help="Write the scenario with repair N applied (with -o).",
)
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Where --apply writes; comments and order of the file stay.",
)
@click.option(
    "--over",
    multiple=True,
    metavar="NAME=LOW..HIGH UNIT",
    help="Twice: map where the scenario can be done over two quantities.",
)
@seconds_option
@click.option("--width", type=click.IntRange(40, 400), help="Columns to use.")
def command(
    scenario_file: Path,
    as_json: bool,
    number: int | None,
    output: Path | None,
    over: tuple[str, ...],
    seconds: float,
    width: int | None,
) -> None:
    """Explain SCENARIO's verdict.

    Infeasible or undecided: the budget that doesn't fit, and for every quantity that a planner may change the least
    change of it alone that works. Feasible: how much each could shrink before the plan breaks. What was not looked at
    in time is told.

    \b
    Examples:
      choreo why scenarios/impossible/runway-too-short-for-the-trigger.yaml
      choreo why scenarios/impossible/side-road-too-short.yaml --apply 1 -o fixed.yaml
      choreo why scenarios/walker-nearside.yaml
      choreo why scenarios/walker-nearside.yaml --over "subject speed=20..120 km/h" --over "step_out latency=10..500 ms"
    """
    from choreo.commands.faults import faults_reported
    from choreo.commands.whys import apply_repair, print_explanation, print_region

    if (number is None) != (output is None):
        raise click.UsageError("--apply N and -o FILE go together.")
    if over and len(over) != 2:
        raise click.UsageError("--over is given twice, once for each quantity.")
    with faults_reported(as_json=as_json):
        if over:
            code = print_region(scenario_file, over, as_json=as_json)
        elif number is not None and output is not None:
            code = apply_repair(scenario_file, number, output, seconds)
        else:
            code = print_explanation(scenario_file, as_json=as_json, width=width, seconds=seconds)
    sys.exit(code)
