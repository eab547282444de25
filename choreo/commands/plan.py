"""choreo plan: solve, verify, tell, save."""

from __future__ import annotations

import sys
from functools import partial
from pathlib import Path

import click

from choreo.commands.exits import code_of
from choreo.commands.seconds import seconds_option


@click.command("plan", short_help="Solve a scenario, verify the plan and print it.")
@click.argument("scenario_file", metavar="SCENARIO", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print the plan document instead of text.")
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Also save the plan document, whatever the verdict; `-` prints it instead of text.",
)
@click.option(
    "--width",
    type=click.IntRange(40, 400),
    help="Columns to use (default: the terminal's, 100 in a pipe).",
)
@seconds_option
@click.option(
    "--picture", "drawn", is_flag=True, help="Add a plan view and a time strip in characters."
)
@click.option("--all", "full", is_flag=True, help="Print long lists and the caution to their end.")
@click.option(
    "--verbose", is_flag=True, help="Also say what the solver tried, where nothing was decided."
)
def command(
    scenario_file: Path,
    as_json: bool,
    output: Path | None,
    width: int | None,
    seconds: float,
    drawn: bool,
    full: bool,
    verbose: bool,
) -> None:
    """Solve SCENARIO, verify the plan by simulation and print start marks, launches, triggers, each mover's
    programme and places, the room that it takes.

    \b
    Examples:
      choreo plan scenarios/walker-nearside.yaml
      choreo plan scenarios/walker-nearside.yaml -o plan.json
      choreo plan scenarios/walker-nearside.yaml --json | python -m json.tool
    """
    from choreo.case import patience_of, whole_answer
    from choreo.commands.faults import failure_of, faults_reported, report_not_saved
    from choreo.commands.progress import progress_on
    from choreo.commands.screen import screen
    from choreo.export.files import check_target, is_standard_output, save_plan
    from choreo.plans.document import to_text
    from choreo.repair import BEST, Patience, explain
    from choreo.report import content_of, print_content
    from choreo.report.picture import picture_of
    from choreo.scenario import load

    if output is not None and is_standard_output(output):
        as_json, output = True, None
    with faults_reported(as_json=as_json, otherwise="nothing was planned"):
        scenario = load(scenario_file)
        if output is not None:
            check_target(output, scenario.source_files)
        with progress_on(quiet=as_json) as progress:
            looking = patience_of(progress, seconds)
            answer = whole_answer(scenario, progress=progress, patience=looking)
            plan = answer.plan
            if plan.verdict == "infeasible":
                plan = explain(answer, patience=Patience(seconds, tell=progress), most=BEST).plan
        failure = None
        if output is not None:
            failure = failure_of(partial(save_plan, plan, output, scenario.source_files))
        if as_json:
            click.echo(to_text(plan), nl=False)
        else:
            console = screen(width)
            content = content_of(answer.scenario, plan, full=full, verbose=verbose)
            print_content(content, console)
            site = answer.scenario.site
            anchor = None if site is None else site.anchor
            drawing = picture_of(plan, answer.paths, console.width, anchor) if drawn else ()
            for line in drawing:
                click.echo(line)
        report_not_saved(failure)
    if output is not None:
        click.echo(f"plan saved to {output}", err=True)
    sys.exit(code_of(plan.verdict, fails_checks=plan.fails_checks))
