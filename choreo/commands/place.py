"""choreo place: where the whole scenario fits on a site, or how small a rectangle would do."""

from __future__ import annotations

import sys
from pathlib import Path

import click


@click.command(
    "place", short_help="Find where a scenario fits on a site, or how small a rectangle would do."
)
@click.argument("scenario_file", metavar="SCENARIO", type=click.Path(path_type=Path))
@click.option(
    "--site",
    "site_file",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="The site file to place it on (default: the scenario's own site).",
)
@click.option("--smallest", is_flag=True, help="Give the smallest rectangle that would do instead.")
@click.option(
    "--margin",
    "margin_text",
    metavar="LENGTH",
    help="With --smallest: room on all sides; on a site: the margin a place must have (default: 0 m).",
)
@click.option(
    "--not-towards",
    "not_towards",
    multiple=True,
    metavar="RANGE",
    help="Headings of the subject that are left out, like '235 deg +/- 30 deg', counter-clockwise from the "
    "site's x axis; may be repeated.",
)
@click.option(
    "--not-bearing",
    "not_bearing",
    multiple=True,
    metavar="RANGE",
    help="The same as compass bearings, into the low sun say; the site needs an anchor.",
)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON document instead of text.")
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Also save the JSON document; `-` prints it instead of text.",
)
@click.option(
    "--width",
    type=click.IntRange(40, 400),
    help="Columns to use (default: the terminal's, 100 in a pipe).",
)
@click.option("--no-picture", is_flag=True, help="Leave out the picture in characters.")
def command(
    scenario_file: Path,
    site_file: Path | None,
    smallest: bool,
    margin_text: str | None,
    not_towards: tuple[str, ...],
    not_bearing: tuple[str, ...],
    as_json: bool,
    output: Path | None,
    width: int | None,
    no_picture: bool,
) -> None:
    """Plan SCENARIO and find the pose on a site at which everything that it sweeps, by plan or by a stop
    from any instant, lies inside the drivable area with the largest margin; or the statement that none
    exists.

    \b
    Examples:
      choreo place scenarios/walker-nearside.yaml --site scenarios/sites/junction.yaml
      choreo place scenarios/walker-nearside.yaml --not-towards '180 deg +/- 30 deg'
      choreo place scenarios/walker-nearside.yaml --smallest --margin 2m

    Exit codes: 0 found, 1 none exists, 2 bad input or usage, 3 none found but not excluded.
    """
    from choreo.commands.faults import faults_reported
    from choreo.commands.places import place_on_site, smallest_rectangle
    from choreo.export.files import is_standard_output

    if smallest and (site_file or not_towards or not_bearing):
        raise click.UsageError("--smallest looks at no site: leave out --site and directions.")
    if output is not None and is_standard_output(output):
        as_json, output = True, None
    with faults_reported(as_json=as_json, otherwise="nothing was placed"):
        if smallest:
            code = smallest_rectangle(
                scenario_file, margin_text, output, as_json=as_json, width=width
            )
        else:
            code = place_on_site(
                scenario_file,
                site_file,
                margin_text,
                (not_towards, not_bearing),
                output,
                as_json=as_json,
                width=width,
                drawn=not no_picture,
            )
    if output is not None:
        click.echo(f"placement saved to {output}", err=True)
    sys.exit(code)
