"""choreo laps: a circuit with excursions."""

from __future__ import annotations

import sys
from pathlib import Path

import click


@click.command(
    "laps", short_help="Plan laps of a circuit: kinds of lap, excursions, sequence, exposure."
)
@click.argument("file", metavar="CIRCUIT", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print one JSON document instead of text.")
@click.option("--all", "full", is_flag=True, help="Print the whole sequence, however long it is.")
@click.option(
    "--page",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Write a page on which every kind of lap plays.",
)
@click.option(
    "--sheet",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Write the sheet: the sequence by the clock, and every kind of lap.",
)
@click.option("--width", type=click.IntRange(40, 400), help="Columns to use.")
def command(
    file: Path,
    as_json: bool,
    full: bool,
    page: Path | None,
    sheet: Path | None,
    width: int | None,
) -> None:
    """Plan the laps of CIRCUIT at the quickest speed that its limits and windows allow: every kind of lap once, each
    simulated, which lap comes when, distance by surface, a driver's exposure, stops from any instant.

    \b
    Examples:
      choreo laps scenarios/circuits/stone-setts.yaml
      choreo laps scenarios/circuits/stone-setts.yaml --page laps.html --sheet laps-sheet.html
    """
    from choreo.circuits.planning import plan_circuit
    from choreo.circuits.reading import load_circuit
    from choreo.circuits.shown import page_of_circuit, sheet_of_circuit
    from choreo.circuits.told import content_of_circuit, text_of_circuit
    from choreo.commands.exits import NO, WELL
    from choreo.commands.faults import faults_reported
    from choreo.commands.progress import progress_on
    from choreo.commands.screen import screen
    from choreo.export.files import check_target, write_whole
    from choreo.report import print_content

    with faults_reported(as_json=as_json, otherwise="nothing was planned"):
        circuit = load_circuit(file)
        files = circuit.base.source_files
        for target in (page, sheet):
            if target is not None:
                check_target(target, files)
        with progress_on(quiet=as_json) as progress:
            plan = plan_circuit(circuit, progress)
        if page is not None:
            write_whole(page, page_of_circuit(plan), files)
        if sheet is not None:
            write_whole(sheet, sheet_of_circuit(plan), files)
    if as_json:
        click.echo(text_of_circuit(plan), nl=False)
    else:
        print_content(content_of_circuit(plan, full=full), screen(width))
        for what, target in (("page", page), ("sheet", sheet)):
            if target is not None:
                click.echo(f"{what} saved to {target}", err=True)
    sys.exit(WELL if plan.well else NO)
