"""choreo show: a page that plays the plan, or the run sheet for the crew."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import click

from choreo.commands.exits import code_of
from choreo.commands.seconds import SECONDS


@click.command("show", short_help="Write a page that plays the plan, or a run sheet to print.")
@click.argument("scenario_file", metavar="SCENARIO", type=click.Path(path_type=Path))
@click.argument("other", metavar="[OTHER]", required=False, type=click.Path(path_type=Path))
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Where to write (default: the scenario's name with .html, in the current folder).",
)
@click.option("--sheet", is_flag=True, help="Write the run sheet (A4) instead of the page.")
@click.option("--stress", is_flag=True, help="With a section of what `choreo stress` tells.")
@click.option(
    "--store",
    type=click.Path(path_type=Path, dir_okay=False, exists=True),
    metavar="FILE",
    help="Of a campaign: the run store of `choreo sweep`; what is in it is not planned again.",
)
@click.option(
    "--live",
    is_flag=True,
    help="Serve the page on this machine; it follows the file, with sliders for what-if.",
)
@click.option(
    "--slider",
    "sliders",
    multiple=True,
    metavar="NAME[=LOW..HIGH UNIT]",
    help="With --live: a slider for a quantity that `choreo why` lists, or a named value.",
)
@click.option("--port", type=click.IntRange(1, 65535), help="With --live: the port to serve on.")
@click.option("--json", "as_json", is_flag=True, help="Print what was written as one document.")
def command(
    scenario_file: Path,
    other: Path | None,
    output: Path | None,
    sheet: bool,
    stress: bool,
    store: Path | None,
    live: bool,
    sliders: tuple[str, ...],
    port: int | None,
    as_json: bool,
) -> None:
    """Plan SCENARIO and write one HTML file that needs no network: the plan to scale, playing, with
    charts, tables and budgets. Its print view is the run sheet. Of a campaign: its matrix as a map, each
    variant's plan, and its day; with --sheet the sheets of the whole day in one print.
    Of two, scenarios or saved plans (`.json`): the second played over the first, with what differs.

    \b
    Examples:
      choreo show scenarios/walker-nearside.yaml -o plan.html
      choreo show scenarios/walker-nearside.yaml --sheet -o sheet.html
      choreo show scenarios/errors-too-large.yaml --stress
      choreo show plan.json scenarios/walker-nearside.yaml -o both.html
      choreo show scenarios/campaigns/week-of-crossings.yaml --store week.sqlite
      choreo show scenarios/walker-nearside.yaml --live --slider "walker speed"
    """
    if live:
        from choreo.commands.lives import show_live

        if other or output or sheet or stress or store or as_json:
            raise click.UsageError(
                "--live serves one scenario's page: no OTHER, -o, --sheet, --stress, --store, --json."
            )
        sys.exit(show_live(scenario_file, sliders, port))
    if sliders or port is not None:
        raise click.UsageError("--slider and --port go with --live.")
    from choreo.campaigns.reading import is_campaign
    from choreo.case import whole_answer
    from choreo.commands.faults import faults_reported
    from choreo.commands.progress import progress_on
    from choreo.commands.stresses import seen_of
    from choreo.export.files import check_target, write_whole
    from choreo.page import page_of, sheet_of
    from choreo.repair import BEST, Patience, explain
    from choreo.scenario import load

    if sheet and stress:
        raise click.UsageError("--stress is a section of the page, a run sheet has none.")
    if other is not None:
        if sheet or stress:
            raise click.UsageError("--sheet and --stress are of one plan, not of two.")
        from choreo.commands.comparisons import show_compared

        target = output or Path(f"{other.stem}-compared.html")
        with faults_reported(as_json=as_json, otherwise="nothing was written"):
            sys.exit(show_compared(scenario_file, other, target, as_json=as_json))
    target = output or Path(f"{scenario_file.stem}{'-sheet' if sheet else ''}.html")
    with faults_reported(as_json=as_json, otherwise="nothing was written"):
        if is_campaign(scenario_file):
            from choreo.commands.days import show_campaign

            sys.exit(show_campaign(scenario_file, target, store, sheet=sheet, as_json=as_json))
        if store is not None:
            raise click.UsageError("--store goes with a campaign.")
        scenario = load(scenario_file)
        check_target(target, scenario.source_files)
        with progress_on(quiet=as_json) as progress:
            answer = whole_answer(scenario, progress=progress)
            scenario, plan, paths = answer.scenario, answer.plan, answer.paths
            if plan.verdict == "infeasible":
                plan = explain(answer, patience=Patience(SECONDS, tell=progress), most=BEST).plan
            seen = seen_of(answer, progress) if stress and answer.feasible else None
        written: Path | None = target
        if sheet and plan.verdict != "feasible":
            written = None
        elif sheet:
            write_whole(target, sheet_of(scenario, plan, paths, answer.ground))
        else:
            page = page_of(scenario, plan, paths, answer.ground, errors=seen)
            write_whole(target, page)
    if as_json:
        document = {"file": None if written is None else str(written), "verdict": plan.verdict}
        click.echo(json.dumps(document, indent=2))
    elif written is None:
        click.echo(
            f"{plan.verdict}: there is no run to print a sheet for; nothing written", err=True
        )
    else:
        verdict = f"{plan.verdict}, not clear" if plan.fails_checks else plan.verdict
        click.echo(f"{verdict}: {'run sheet' if sheet else 'page'} saved to {written}", err=True)
    sys.exit(code_of(plan.verdict, fails_checks=plan.fails_checks))
