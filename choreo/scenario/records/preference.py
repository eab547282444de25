"""What an author prefers besides the shortest, the gentlest or the quickest."""

from __future__ import annotations

from choreo.words.kinds import Which
from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class Extreme:
    """The open quantity that is wanted as high or as low as it can be, by its name."""

    which: Which
    name: str
