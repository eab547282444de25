"""A word of progress on standard error, only where a person looks and only when it takes a while."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

# How often the time left is told anew (s).
TOLD_EVERY_S = 0.2


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


class Countdown:
    """Tells how many are done, of how many, and how long the rest takes at this pace."""

    def __init__(
        self, show: Callable[[str], None], clock: Callable[[], float] = time.monotonic
    ) -> None:
        self.show = show
        self.clock = clock
        self.began_s = self.last_s = clock()
        self.known: int | None = None

    def __call__(self, done: int, of: int) -> None:
        """Show the line anew, unless it was just shown; what was done at the first call took no time."""
        now_s = self.clock()
        self.known = done if self.known is None else self.known
        if now_s - self.last_s < TOLD_EVERY_S:
            return
        self.last_s = now_s
        left_s = (now_s - self.began_s) / max(done - self.known, 1) * (of - done)
        self.show(f"[{'#' * (20 * done // of):<20}] {done} of {of}, {_duration(left_s)} left")


def _duration(seconds: float) -> str:
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes} min {rest} s" if minutes else f"{rest} s"
