"""choreo schema: the JSON Schema of scenario files."""

from __future__ import annotations

import json
from pathlib import Path

import click


@click.command("schema", short_help="Print the JSON Schema of scenario files, for editors.")
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Write to a file instead of standard output.",
)
def command(output: Path | None) -> None:
    """Print the JSON Schema of scenario files; an editor that knows it completes keys and marks faults.

    \b
    Example:
      choreo schema -o scenario.schema.json
    """
    from choreo.commands.faults import faults_reported
    from choreo.export.files import is_standard_output, write_whole
    from choreo.scenario import json_schema

    text = json.dumps(json_schema(), indent=2) + "\n"
    if output is None or is_standard_output(output):
        click.echo(text, nl=False)
        return
    with faults_reported(as_json=False):
        write_whole(output, text)
    click.echo(f"schema saved to {output}", err=True)
