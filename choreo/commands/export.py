"""choreo export: places to stake out, and the keep-out area for a map."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import click


@click.command(
    "export", short_help="Give the places to stake out, and the keep-out area for a map."
)
@click.argument("scenario_file", metavar="SCENARIO", type=click.Path(path_type=Path))
@click.option(
    "--marks",
    "marks_file",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Write the places as CSV; `-` prints it instead of the table.",
)
@click.option(
    "--grid",
    metavar="EPSG:CODE",
    help="Add eastings and northings of this grid, like EPSG:25832.",
)
@click.option(
    "--keep-out",
    "keep_out_file",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Write the keep-out area as GeoJSON (longitude, latitude).",
)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON document instead of text.")
@click.option("--width", type=click.IntRange(40, 400), help="Columns to use.")
def command(
    scenario_file: Path,
    marks_file: Path | None,
    grid: str | None,
    keep_out_file: Path | None,
    as_json: bool,
    width: int | None,
) -> None:
    """Plan SCENARIO and give its start marks, trigger points, encounters and places on the way for staking
    out: in the site frame, with tape and bumper distances, and on earth where the site has an anchor.

    \b
    Examples:
      choreo export scenarios/walker-nearside.yaml
      choreo export scenarios/walker-nearside.yaml --marks marks.csv --grid EPSG:25832
      choreo export scenarios/walker-nearside.yaml --keep-out keep-out.geojson
    """
    from choreo.commands.exports import export
    from choreo.commands.faults import faults_reported

    if (
        marks_file is not None
        and keep_out_file is not None
        and os.path.realpath(marks_file) == os.path.realpath(keep_out_file)
    ):
        raise click.UsageError("--marks and --keep-out name the same file.")
    with faults_reported(as_json=as_json, otherwise="nothing was written"):
        code = export(scenario_file, marks_file, grid, keep_out_file, as_json=as_json, width=width)
    sys.exit(code)
