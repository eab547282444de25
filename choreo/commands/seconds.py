"""How long a command looks for what would help."""

from __future__ import annotations

import click

SECONDS = 20.0

seconds_option = click.option(
    "--seconds",
    type=click.FloatRange(min=0.0, min_open=True),
    default=SECONDS,
    show_default=True,
    metavar="S",
    help="Look for what would help, or for the room left, no longer than this much computing. "
    "Whether there is a plan is looked for up to 60 s of computing, or this if it is more.",
)
