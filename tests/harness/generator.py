"""Random scenarios: a family makes a roomy one, then one limit is laid round what it needs.

Variants: `roomy` stays as made (possible by construction where the family is); `possible` has one limit laid
with some slack; `impossible` has one limit far beyond what can be, half of them planted by an elementary bound
(a runway under v^2 / 2a, a time under way / speed); `edge` has one limit within 1 mm..1 m, or 1 ms..0.3 s, of
the least that works.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from tests.harness import families
from tests.harness.judge import slack_of
from tests.harness.knobs import Knob
from tests.harness.records import Case

VARIANTS = ("roomy", "possible", "impossible", "edge", "edge")
MOST_STEPS = 60
NEAR = {"m": (0.001, 1.0), "s": (0.001, 0.3), "ratio": (0.0002, 0.1)}


@dataclass(frozen=True)
class Edge:
    """A knob's value at which the slack passes zero."""

    knob: Knob
    value: float


def make(seed: int) -> Case:
    """The scenario of a seed."""
    names = list(families.FAMILIES)
    family = names[seed % len(names)]
    variant = VARIANTS[seed // len(names) % len(VARIANTS)]
    rng = np.random.default_rng([seed, 20_260])
    for _ in range(20):
        case, knobs = families.FAMILIES[family](rng)
        case = replace(case, variant=variant, seed=seed)
        if variant == "roomy":
            return case
        if variant == "impossible" and rng.random() < 0.5:
            plants = [knob for knob in knobs if knob.broken is not None]
            knob = plants[int(rng.integers(len(plants)))]
            value = float(knob.broken or 0.0)
            return replace(knob.put(case, value), note=f"{knob.what} = {value} by a bound")
        edge = _edge(case, knobs, rng)
        if edge is not None:
            return _beside(case, edge, variant, rng)
    return replace(case, variant="roomy")


def _edge(case: Case, knobs: list[Knob], rng: np.random.Generator) -> Edge | None:
    """The edge of a random knob: by halving, the judge's slack tells the side."""
    knob = knobs[int(rng.integers(len(knobs)))]
    easy, hard = knob.easy, knob.hard
    room, short = slack_of(knob.put(case, easy)), slack_of(knob.put(case, hard))
    if room <= 0 or short >= 0:
        return None
    for step in range(MOST_STEPS):
        # The slack is nearly linear by stretches: its chord and halving in turn.
        share = room / (room - short) if step % 3 < 2 else 0.5
        middle = easy + (hard - easy) * min(max(share, 0.001), 0.999)
        slack = slack_of(knob.put(case, middle))
        if slack > 0:
            easy, room = middle, slack
        else:
            hard, short = middle, slack
        if abs(easy - hard) < 1e-7 or abs(slack) < 1e-9:
            easy = middle
            break
    return Edge(knob, easy)


def _beside(case: Case, edge: Edge, variant: str, rng: np.random.Generator) -> Case:
    knob = edge.knob
    towards = math.copysign(1.0, knob.easy - knob.hard)
    low, high = NEAR[knob.unit]
    if variant == "edge":
        away = math.exp(rng.uniform(math.log(low), math.log(high)))
        away *= towards * (1 if rng.random() < 0.5 else -1)
    else:
        reach = abs(knob.easy - edge.value if variant == "possible" else edge.value - knob.hard)
        away = min(reach, high * 10) * rng.uniform(0.2, 1.0)
        away *= towards if variant == "possible" else -towards
    if knob.unit == "ratio" and variant == "edge":
        away *= edge.value
    value = edge.value + away
    if (value - knob.hard) * towards < 0 or (value - knob.easy) * towards > 0:
        value = edge.value + (knob.hard - edge.value if away * towards < 0 else 0.0) / 2
    value = round(value, 6)
    note = f"{knob.what} = {value}, edge at {edge.value:.6f}"
    return replace(knob.put(case, value), note=note)
