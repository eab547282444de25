"""A word of progress on standard error, only where a person looks and only when it takes a while."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager


@contextmanager
def progress_on(*, quiet: bool) -> Iterator[Callable[[str], None] | None]:
    """Give a callback that shows the present step on one line and wipes it at the end."""
    if quiet or not sys.stderr.isatty():
        yield None
        return

    def show(step: str) -> None:
        sys.stderr.write(f"\r\x1b[2K{step} ...")
        sys.stderr.flush()

    try:
        yield show
    finally:
        sys.stderr.write("\r\x1b[2K")
        sys.stderr.flush()
