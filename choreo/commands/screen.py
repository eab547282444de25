"""The console that answers are printed on."""

from __future__ import annotations

import sys

from rich.console import Console

WIDTH_IN_A_PIPE = 100


def screen(width: int | None) -> Console:
    """Give a console of that width: the terminal's own, or a fixed one where there is none."""
    if width is None and not sys.stdout.isatty():
        width = WIDTH_IN_A_PIPE
    return Console(width=width, highlight=False, markup=False, emoji=False, soft_wrap=False)
