"""A plan performed many times at once, each time with other errors: triggers, motions, encounters.

What happens is worked out in the order of the plan; where a later happening can change what an earlier one leans on,
all is gone through again until nothing changes. `traces` gives what anybody would have recorded of it.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from choreo.errors.actors import Actor
from choreo.errors.crossing import Watched, acts_of
from choreo.errors.draws import Draws
from choreo.errors.in_step import Company
from choreo.errors.laying import Spans, lay, off_of
from choreo.errors.meetings import Met, meeting
from choreo.errors.motions import NEVER_S, RunMotion
from choreo.errors.stage import Happening, Stage
from choreo.words.records import dataclass

Floats = NDArray[np.float64]

# Times that differ by less than this (s) are the same.
SAME_S = 1e-12
MOST_ROUNDS = 6


@dataclass(frozen=True, eq=False)
class Performed:
    """Many runs: motions and phases by mover, when triggers saw their setting and acted, and how encounters went."""

    draws: Draws
    motions: dict[str, RunMotion]
    spans: dict[str, Spans]
    crossings_s: dict[str, Floats]
    acts_s: dict[str, Floats]
    met: dict[str, Met]


def perform(stage: Stage, draws: Draws) -> Performed:
    """Run a plan as often as there are draws."""
    off = {name: off_of(actor, draws) for name, actor in stage.actors.items()}
    done = Performed(draws, {}, {}, {}, {}, {})
    companies: dict[str, Company] = {}

    def lay_anew(names: frozenset[str], since_s: Floats) -> None:
        meets = {who: met.time_s for who, met in done.met.items()}
        for name in stage.order:
            if name in names:
                company = _company(stage.actors[name], done, companies, since_s)
                laid = lay(stage.actors[name], off[name], done.acts_s, meets, company)
                done.motions[name], done.spans[name] = laid

    lay_anew(frozenset(stage.actors), np.zeros(draws.runs))
    for _ in range(MOST_ROUNDS):
        for one in stage.happenings:
            lay_anew(stage.changed_by(one), _happen(stage, one, done))
        if not _turned_round(stage, done):
            break
    for name in stage.scenario.encounters:
        if name not in done.met:
            done.met[name] = meeting(stage, name, done.motions, done.spans, done.acts_s)
    return done


def _company(
    actor: Actor, done: Performed, companies: dict[str, Company], since_s: Floats
) -> Company | None:
    """Who goes in step with its lead as that moves. since_s: from when on it moves otherwise than before, (runs,)."""
    if actor.stepping is None or actor.lead is None:
        return None
    lead = done.motions[actor.lead]
    company = companies.setdefault(actor.name, Company(actor.stepping, lead))
    if company.lead is not lead:
        company.moved(lead, since_s)
    return company


def _happen(stage: Stage, one: Happening, done: Performed) -> Floats:
    """Work out one happening; give from when on that changes motions, shape (runs,)."""
    if one.kind == "trigger":
        crossed, acts = acts_of(stage, one.name, done.draws, Watched(done.motions, done.spans))
        done.crossings_s[one.name], done.acts_s[one.name] = crossed, acts
        return acts
    met = meeting(stage, one.name, done.motions, done.spans, done.acts_s)
    done.met[one.name] = met
    return met.time_s


def _turned_round(stage: Stage, done: Performed) -> bool:
    """Whether in some run something came before what it was worked out after, and could have changed that."""

    def seen_s(one: Happening) -> Floats:
        return done.crossings_s[one.name] if one.kind == "trigger" else done.met[one.name].time_s

    for earlier, later in combinations(stage.happenings, 2):
        if stage.leans_on(earlier) & stage.changed_by(later):
            time_s = seen_s(earlier)
            if ((time_s < NEVER_S) & (time_s > seen_s(later) + SAME_S)).any():
                return True
    return False
