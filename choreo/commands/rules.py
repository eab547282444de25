"""choreo rules: what published protocols and a house ask of a run."""

from __future__ import annotations

from pathlib import Path

import click


@click.command("rules", short_help="List rule sets, print a family's rules, write its matrix.")
@click.argument("name", metavar="[SET]", required=False)
@click.argument("family", metavar="[FAMILY]", nargs=-1)
@click.option(
    "--matrix", "matrix", is_flag=True, help="Give the published matrix as a campaign file."
)
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Write the campaign to a file instead of standard output; with --matrix.",
)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON document instead of text.")
@click.option("--width", type=click.IntRange(40, 400), help="Columns to use.")
def command(
    name: str | None,
    family: tuple[str, ...],
    matrix: bool,
    output: Path | None,
    as_json: bool,
    width: int | None,
) -> None:
    """List the bundled rule sets; the families of SET, a bundled one or a file of your own; the rules of FAMILY with
    their clauses, as a scenario names them: `rules: {set: en-fc-1.1, family: crossing pedestrian}`.

    \b
    Examples:
      choreo rules
      choreo rules en-fc-1.1
      choreo rules en-fc-1.1 crossing pedestrian
      choreo rules en-fc-1.1 crossing pedestrian --matrix -o campaign.yaml
    """
    from choreo.commands.faults import faults_reported
    from choreo.commands.rule_sets import Asked, show_rules

    asked = Asked(name, " ".join(family) or None, matrix=matrix, output=output, as_json=as_json)
    if (matrix or output is not None) and asked.family is None:
        raise click.UsageError("--matrix is of one family: `choreo rules SET FAMILY --matrix`.")
    if output is not None and not matrix:
        raise click.UsageError("-o writes the matrix: add --matrix.")
    if matrix and as_json:
        raise click.UsageError("--matrix or --json, not both.")
    with faults_reported(as_json=as_json, otherwise="nothing was written" if matrix else ""):
        show_rules(asked, width)
