"""From runs as scored to the errors of movers and the latencies of triggers: mean, spread, and how sure both are.

A spread over runs holds the uncertainty of measuring each run too: its square is taken off, but no more than to the
lower end of the spread's interval. Fewer than three runs have no spread. Intervals: of the mean by
Student's t, of the spread by chi-squared (textbook, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from scipy.special import chdtri

from choreo.learning.wander import Wander, WanderOf
from choreo.scoring.against import Aspect, Off
from choreo.scoring.estimators import LEVEL, Estimate, estimate
from choreo.scoring.score import RunScore
from choreo.words.kinds import Unit
from choreo.words.records import dataclass

# What is learnt, in the order of the keys under `errors`; a latency is a trigger's.
LEARNT: tuple[Aspect, ...] = (
    "speed held",
    "start along",
    "start beside",
    "path offset",
    "achieved acceleration",
    "achieved braking",
    "launch",
    "latency",
)
# Those that are written as they are, not as by how much they are off.
WHOLE: frozenset[Aspect] = frozenset({"achieved acceleration", "achieved braking", "latency"})
# In whose mean of a run what wanders is too.
WANDERS_IN: Mapping[WanderOf, Aspect] = {
    "speed wander": "speed held",
    "path wander": "path offset",
}


@dataclass(frozen=True, slots=True)
class Learnt:
    """One source of error as runs show it, SI; unit None: a ratio. found: of the values as measured.

    spread: without what measuring adds; None of fewer than three runs. spread_low, spread_high: its interval.
    """

    aspect: Aspect
    owner: str
    unit: Unit | None
    found: Estimate
    spread: float | None
    spread_low: float | None
    spread_high: float | None


def without_wander(found: Sequence[Learnt], wanders: Sequence[Wander]) -> list[Learnt]:
    """Take off a held speed's and a path's spread what their wander adds to the mean of a run."""
    added = {(one.owner, WANDERS_IN[one.what]): one.mean_size for one in wanders}
    changed = []
    for one in found:
        size = added.get((one.owner, one.aspect))
        if size is not None and one.spread is not None and one.spread_low is not None:
            least = min(one.spread_low, one.spread)
            one = replace(one, spread=math.sqrt(max(one.spread**2 - size**2, least**2)))
        changed.append(one)
    return changed


def learn(scores: Sequence[RunScore]) -> list[Learnt]:
    """Give all that runs show, by owner in the order in which they appear."""
    values: dict[tuple[str, Aspect], list[tuple[float, float]]] = {}
    units: dict[tuple[str, Aspect], Unit | None] = {}
    for score in scores:
        of_run: dict[tuple[str, Aspect], list[Off]] = {}
        for one in score.off:
            if one.aspect in LEARNT:
                of_run.setdefault((one.owner, one.aspect), []).append(one)
        for key, found in of_run.items():
            units[key] = found[0].unit
            whole = key[1] in WHOLE
            mean = sum(one.recorded if whole else one.off for one in found) / len(found)
            if key[1] == "start beside":
                # What a mover is beside its path all the way is told as that, and not twice.
                mean -= sum(one.off for one in of_run.get((key[0], "path offset"), []))
            u = math.sqrt(sum(one.u**2 for one in found)) / len(found)
            values.setdefault(key, []).append((mean, u))
    owners = list(dict.fromkeys(owner for owner, _ in values))
    ordered = [
        (owner, aspect) for owner in owners for aspect in LEARNT if (owner, aspect) in values
    ]
    return [_learnt(key, values[key], units[key]) for key in ordered]


def _learnt(
    key: tuple[str, Aspect], values: list[tuple[float, float]], unit: Unit | None
) -> Learnt:
    found = estimate([value for value, _ in values])
    owner, aspect = key
    if found.spread is None:
        return Learnt(aspect, owner, unit, found, None, None, None)
    measured = float(np.mean([u**2 for _, u in values]))
    free, tail = found.count - 1, (1.0 - LEVEL) / 2.0
    low, high = (
        found.spread * math.sqrt(free / float(chdtri(free, share))) for share in (tail, 1.0 - tail)
    )
    own = math.sqrt(max(found.spread**2 - measured, min(low, high) ** 2))
    return Learnt(aspect, owner, unit, found, own, low, high)
