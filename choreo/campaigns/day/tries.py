"""How often a run is driven until enough of its tries were valid: on average, and to be nearly sure."""

from __future__ import annotations

import math
from collections.abc import Sequence

# The cautious number is enough this often.
SURE = 0.95


def expected(needed: int, valid: float) -> float:
    """Give the mean number of tries until so many were valid. valid: the chance of one."""
    return needed / valid


def cautious(needed: int, valid: float, sure: float = SURE) -> int:
    """Give the least number of tries among which, with a chance of `sure`, at least so many are valid.

    The tries until the needed one is valid have a negative binomial distribution: its terms are summed.
    """
    if needed == 0:
        return 0
    if valid >= 1.0:
        return needed
    logarithm = needed * math.log(valid)
    total, tries = math.exp(logarithm), needed
    while total < sure:
        tries += 1
        logarithm += math.log1p(-valid) + math.log((tries - 1) / (tries - needed))
        total += math.exp(logarithm)
    return tries


def shared(total: int, needed: Sequence[int]) -> list[int]:
    """Share tries among runs in proportion to how often each is needed, whole ones, in order; each at least that."""
    everything = sum(needed)
    shares, given, so_far = [], 0, 0
    for one in needed:
        so_far += one
        upto = total if so_far == everything else (total * so_far) // everything
        shares.append(max(upto - given, one))
        given += shares[-1]
    return shares
