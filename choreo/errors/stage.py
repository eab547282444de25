"""What is the same in every run of a plan: who is on stage, what each does and in which order things happen."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import replace
from functools import cached_property
from itertools import combinations
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from choreo.errors.actors import Actor, actor_of
from choreo.errors.in_step import stepping_of
from choreo.errors.passes import Zone, zone_of
from choreo.geometry import Path
from choreo.plans.record import Plan
from choreo.scenario import Pass, Scenario
from choreo.track.motion import motion_of
from choreo.words.kinds import ErrorKind
from choreo.words.records import dataclass

Floats = NDArray[np.float64]

# Pairs that aren't to touch are looked at this often (s) by plan.
CLOCK_S = 0.05
# An encounter can fail in so many ways.
OF_ENCOUNTER = 3
# Errors that move one along its path, its speed, or it beside its path; and those of its rates.
SPEEDS: frozenset[ErrorKind] = frozenset(("speed held", "speed wander"))
ASIDE: frozenset[ErrorKind] = frozenset(("start beside", "path offset", "path wander"))
RATES: frozenset[ErrorKind] = frozenset(("achieved acceleration", "achieved braking"))
ALONG: frozenset[ErrorKind] = SPEEDS | RATES | {"start along", "position", "launch"}


@dataclass(frozen=True, slots=True)
class Happening:
    """A trigger that acts, or an encounter up to which somebody's phase lasts; time_s: by plan."""

    kind: Literal["trigger", "encounter"]
    name: str
    time_s: float


@dataclass(frozen=True, eq=False)
class Bystanders:
    """Two movers that aren't to touch. times_s, apart_m: their separation by plan, shape (times,)."""

    a: str
    b: str
    times_s: Floats
    apart_m: Floats


@dataclass(frozen=True, eq=False)
class Stage:
    """A plan, ready to be run many times. happenings: in the order of the plan. zones: of passes, by name."""

    scenario: Scenario
    plan: Plan
    actors: Mapping[str, Actor]
    happenings: tuple[Happening, ...]
    bystanders: tuple[Bystanders, ...]
    zones: Mapping[str, Zone | None]

    @property
    def conditions(self) -> tuple[str, ...]:
        """Everything by which a run can fail, in words; outcomes name them by their index here."""
        found: list[str] = []
        for name in self.scenario.encounters:
            found += [f"{name} missed", f"{name} outside its tolerance", f"{name} on another face"]
        found += [f"{one.a} touches {one.b}" for one in self.bystanders]
        found += [words for words, _, _ in self._kept]
        return tuple(found)

    @cached_property
    def _kept(self) -> tuple[tuple[str, str, frozenset[ErrorKind]], ...]:
        """What movers have to keep, in the order of `keeping.kept`: in words, whose, which errors it can be due to."""
        found = []
        for name, actor in self.actors.items():
            if actor.moves:
                found.append((f"{name} leaves its path", name, ALONG))
            if actor.on_stroke:
                found.append((f"{name} comes to the end of its stroke", name, ALONG))
        for name, one in self.scenario.tolerances.items():
            if one.speed_mps is not None:
                found.append((f"{name} off its speed", name, SPEEDS | RATES | {"launch"}))
            if one.beside_m is not None:
                found.append((f"{name} too far beside its path", name, ASIDE))
            if one.limits_ratio is not None:
                found.append((f"{name} over its limits", name, RATES | SPEEDS))
        return tuple(found)

    def due_to(self, condition: int) -> tuple[str, frozenset[ErrorKind]] | None:
        """Give the mover and the kinds of its errors that one of `conditions` can be due to; None: any."""
        first = len(self.conditions) - len(self._kept)
        return None if condition < first else self._kept[condition - first][1:]

    def encounter_of(self, condition: int) -> str | None:
        """Name the encounter that one of `conditions`, by its index, is about; None where it is about none."""
        names = [name for name in self.scenario.encounters for _ in range(OF_ENCOUNTER)]
        return names[condition] if condition < len(names) else None

    def leans_on(self, one: Happening) -> frozenset[str]:
        """Give the movers on whose motion it depends when something happens."""
        if one.kind == "encounter":
            met = self.scenario.encounters[one.name]
            return frozenset((met.of, met.with_))
        return frozenset(self.plan.triggers[one.name].watched)

    def changed_by(self, one: Happening) -> frozenset[str]:
        """Give the movers whose motion it changes that something happens, and who goes in step with these."""
        changed = {
            name
            for name, actor in self.actors.items()
            if one.name in (actor.awaits if one.kind == "trigger" else actor.lasts_until)
        }
        for _ in self.actors:
            changed |= {name for name, actor in self.actors.items() if actor.lead in changed}
        return frozenset(changed)

    @cached_property
    def order(self) -> tuple[str, ...]:
        """All movers, whoever goes in step after the one whom it goes in step with."""
        found: list[str] = []
        while len(found) < len(self.actors):
            found += [
                name
                for name, actor in self.actors.items()
                if name not in found and (actor.lead is None or actor.lead in found)
            ]
        return tuple(found)


def stage_of(scenario: Scenario, paths: Mapping[str, Path], plan: Plan) -> Stage:
    """Set up a feasible plan. scenario: as its ground lets it be driven; paths: by mover."""
    actors = {
        name: replace(
            actor_of(name, mover, paths[name], plan.movers[name]),
            stepping=stepping_of(scenario, plan, name),
        )
        for name, mover in scenario.movers.items()
    }
    lasting = {name for actor in actors.values() for name in actor.lasts_until}
    happenings = [Happening("trigger", name, one.acts_at_s) for name, one in plan.triggers.items()]
    happenings += [
        Happening("encounter", name, plan.encounters[name].time_s) for name in sorted(lasting)
    ]
    ordered = tuple(sorted(happenings, key=lambda one: one.time_s))
    zones = {
        name: zone_of(actors, one)
        for name, one in scenario.encounters.items()
        if isinstance(one, Pass)
    }
    pairs = tuple(_bystanders(actors, plan))
    return Stage(scenario, plan, actors, ordered, pairs, zones)


def _bystanders(actors: Mapping[str, Actor], plan: Plan) -> Iterator[Bystanders]:
    """All pairs that aren't to touch, of which one moves at least."""
    intended = {one.pair for one in plan.encounters.values() if one.touches}
    motions = {name: motion_of(one) for name, one in plan.movers.items()}
    end_s = max((one.end_s for one in motions.values()), default=0.0)
    times = np.linspace(0.0, max(end_s, CLOCK_S), max(2, math.ceil(end_s / CLOCK_S) + 1))
    placed = {
        name: actor.shape.place(motions[name].states(times)[0]) for name, actor in actors.items()
    }
    for a, b in combinations(actors, 2):
        if frozenset((a, b)) in intended or not (actors[a].moves or actors[b].moves):
            continue
        apart = actors[a].shape.separation_m(placed[a], actors[b].shape, placed[b])
        yield Bystanders(a, b, times, apart)
