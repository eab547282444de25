"""How long a search goes on, and a word for each of its steps."""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from copy import copy
from typing import TypeVar

Clock = Callable[[], float]
Asked = TypeVar("Asked")
Found = TypeVar("Found")


class TimeUp(Exception):
    """A search is broken off in the middle."""


class TriedEnough(Exception):
    """A search has solved as many problems as it may."""


class Patience:
    """A search asks it between steps: what is not begun when the time is up is left out, and told."""

    def __init__(
        self,
        seconds: float = math.inf,
        *,
        tell: Callable[[str], None] | None = None,
        clock: Clock = time.process_time,
    ) -> None:
        """seconds: of computing from now on, however busy the machine is. tell: called with a word for each step."""
        self.seconds = seconds
        self._tell = tell
        self._clock = clock
        self._until = clock() + seconds
        self._left = math.inf

    @property
    def over(self) -> bool:
        """Whether the time is up."""
        return self._clock() >= self._until

    def check(self) -> None:
        """Raises TimeUp when the time is up."""
        if self.over:
            raise TimeUp

    def step(self, what: str) -> None:
        """Say what comes next."""
        if self._tell is not None:
            self._tell(what)

    def quiet(self) -> Patience:
        """Give the same patience, that says nothing."""
        other = copy(self)
        other._tell = None
        return other

    def part(self, share: float) -> Patience:
        """Give one that has a share of the time that is left."""
        other = copy(self)
        left = self._until - self._clock()
        if math.isfinite(left):
            other._until = self._until - (1.0 - share) * max(left, 0.0)
        return other

    def counted(self, most: int) -> Patience:
        """Give one whose solvers solve so many problems together."""
        other = copy(self)
        other._left = most
        return other

    def limited(self, solve: Callable[[Asked], Found]) -> Callable[[Asked], Found]:
        """Give a solver that raises TimeUp instead of beginning when the time is up, TriedEnough beyond its number."""

        def within(asked: Asked) -> Found:
            self.check()
            if self._left <= 0:
                raise TriedEnough
            self._left -= 1
            return solve(asked)

        return within
