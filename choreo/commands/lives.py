"""What `choreo show --live` does: serve the page of a scenario until it is interrupted."""

from __future__ import annotations

import asyncio
import re
from importlib.util import find_spec
from pathlib import Path

import click

from choreo.commands.exits import BAD_INPUT, WELL
from choreo.commands.faults import faults_reported

# How the key of a campaign file stands in it, at a line's beginning.
CAMPAIGN = re.compile(rb"^choreo campaign\s*:", re.MULTILINE)


def show_live(file: Path, sliders: tuple[str, ...], port: int | None) -> int:
    """Serve until interrupted; returns the exit code."""
    if find_spec("tornado") is None:
        click.echo(
            "show --live needs a package that isn't installed: pip install 'choreo[live]'", err=True
        )
        return BAD_INPUT
    from choreo.live.serving import Live

    try:
        written = file.read_bytes()
    except OSError:
        from choreo.scenario.text.document import read_text

        # A mistyped name, say; faults within the file are for the page.
        with faults_reported(as_json=False, otherwise="nothing is served"):
            written = read_text(file).encode()
    if CAMPAIGN.search(written):
        click.echo(
            f"{file}: --live is for one scenario, this is a campaign; name one of its scenarios",
            err=True,
        )
        return BAD_INPUT
    try:
        live = Live(file, sliders, lambda line: click.echo(line, err=True), port)
    except OSError as error:
        why = error.strerror or str(error)
        click.echo(f"port {port} can't be served on: {why}; leave --port out", err=True)
        return BAD_INPUT
    click.echo(live.address)
    click.echo("The page follows the file. Ctrl-C ends it.", err=True)
    refused = asyncio.run(live.serve())
    for fault in refused:
        click.echo(f"{file}: error: {fault['text']}\n    {fault['advice']}", err=True)
    return BAD_INPUT if refused else WELL
