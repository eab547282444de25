"""Changes that keep two from colliding: no row tells how far, so shares are tried, least first."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from choreo.case import Case, Quantity
from choreo.problem.patience import Patience
from choreo.repair.changes import Repair, confirmed

# Shares of a quantity's size that are tried, up and down.
SHARES = (0.02, 0.05, 0.1, 0.2, 0.4, 0.8, 1.6)


def sidesteps(
    case: Case, quantities: Sequence[Quantity], patience: Patience, most: int
) -> Iterator[Repair]:
    """Give no more than `most` repairs of one quantity each, smallest shares first; each was planned and simulated."""
    helped: set[str] = set()
    for share in SHARES:
        for one in quantities:
            for sign in one.helps:
                if patience.over or len(helped) >= most:
                    return
                value = one.value + sign * share * one.size
                if one.name in helped or not one.low <= value <= one.high:
                    continue
                patience.step(f"simulating a change: {one.name}")
                repair = confirmed(
                    case, ((one, value),), linear=True, patience=patience.quiet(), tries=1
                )
                if repair is not None:
                    helped.add(one.name)
                    yield repair
