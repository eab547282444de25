"""What a search has decided so far."""

from __future__ import annotations

from choreo.linear.curves import Interval
from choreo.words.records import dataclass

# A choice of which no way is taken yet: one that holds by itself needs none.
OPEN = -1


@dataclass(frozen=True, slots=True)
class Node:
    """What has been decided: a way for each choice (OPEN: none yet), a spot for each of the first looks, and the
    intervals of the curves that this makes.
    """

    chosen: tuple[int, ...] = ()
    spots: tuple[int, ...] = ()
    intervals: tuple[Interval, ...] = ()

    @property
    def depth(self) -> int:
        """How much is decided."""
        return len(self.chosen) - self.chosen.count(OPEN) + len(self.spots)


def with_interval(node: Node, number: int, interval: Interval) -> Node:
    """Give a node whose curve of a number has another interval."""
    intervals = list(node.intervals)
    intervals[number] = interval
    return Node(node.chosen, node.spots, tuple(intervals))
