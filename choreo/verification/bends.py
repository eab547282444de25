"""Where a path is bent, and how much at most."""

from __future__ import annotations

from functools import lru_cache

from choreo.geometry import Path
from choreo.words.records import dataclass

# What is known of so many paths is kept: variants of a scenario have the same ones.
SAME_PATHS = 64


@dataclass(frozen=True, slots=True)
class Bends:
    """Of a path: between which stations in m it is bent, and its greatest curvature in 1/m."""

    from_m: float
    until_m: float
    tightest_per_m: float


@lru_cache(maxsize=SAME_PATHS)
def bends_of(path: Path) -> Bends | None:
    """Give where a path is bent, None of a straight one."""
    bent = [one for one in path.stretches() if one[2] != 0.0 or one[3] != 0.0]
    if not bent:
        return None
    tightest = max(max(abs(k_0), abs(k_1)) for _, _, k_0, k_1 in bent)
    return Bends(bent[0][0], bent[-1][1], tightest)
