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
    if not file.is_file():
        from choreo.scenario.text.document import read_text

        # A mistyped name; all other faults are for the page.
        with faults_reported(as_json=False, otherwise="nothing is served"):
            read_text(file)
    if CAMPAIGN.search(file.read_bytes()):
        click.echo(
            f"{file}: --live is for one scenario, this is a campaign; name one of its scenarios",
            err=True,
        )
        return BAD_INPUT
    return asyncio.run(_served(file, sliders, port))


async def _served(file: Path, sliders: tuple[str, ...], port: int | None) -> int:
    from choreo.live.serving import Live

    try:
        live = Live(file, sliders, lambda line: click.echo(line, err=True), port)
    except OSError as error:
        click.echo(
            f"port {port} can't be served on: {error.strerror or error}; leave --port out", err=True
        )
        return BAD_INPUT
    click.echo(live.address)
    click.echo("The page follows the file. Ctrl-C ends it.", err=True)
    refused = await live.serve()
    for fault in refused:
        click.echo(f"{file}: error: {fault['text']}\n    {fault['advice']}", err=True)
    return BAD_INPUT if refused else WELL
