"""What the shape of a problem says before any solving: loops, movers coupled to nothing, too many couplings."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from graphlib import CycleError, TopologicalSorter
from typing import TYPE_CHECKING, assert_never

from choreo.problem.graph import Node, event_graph, waits_for, waits_of
from choreo.problem.records import (
    ContactPoint,
    ContactTrack,
    GapAt,
    Hold,
    MoverProblem,
    PassAt,
    Phase,
    Problem,
    Ramp,
    Wait,
)
from choreo.scenario import Event
from choreo.words import Finding
from choreo.words.later import loaded_later
from choreo.words.origin import Origin
from choreo.words.records import dataclass

if TYPE_CHECKING:
    import networkx as nx
else:
    # Only what is faulty is looked at more closely.
    nx = loaded_later("networkx")


@dataclass(frozen=True, slots=True)
class Coupling:
    """An equation between movers: its name for people, where it was written, whose motion can satisfy it."""

    label: str
    origin: Origin | None
    movers: frozenset[str]


def structural_findings(problem: Problem) -> list[Finding]:
    """Find what the event graph alone shows: loops, movers coupled to nothing, too many couplings."""
    loops = _loops(problem)
    if loops:
        return loops
    return [*_loose_movers(problem), *_too_many_couplings(problem)]


def all_given(problem: Problem) -> bool:
    """Whether every start, launch, hold, ramp and setting is given, so that there is one motion only."""
    return next(_freedoms(problem), None) is None


def _loops(problem: Problem) -> list[Finding]:
    waits = waits_of(problem)
    return [] if _in_order(tuple(waits.edges)) else _told_loops(problem)


@lru_cache(maxsize=64)
def _in_order(edges: tuple[tuple[Node, Node], ...]) -> bool:
    """Whether nobody waits for itself in the end; variants of a scenario have the same edges."""
    before: dict[Node, list[Node]] = {}
    for first, last in edges:
        before.setdefault(last, []).append(first)
    try:
        TopologicalSorter(before).prepare()
    except CycleError:
        return False
    return True


def _told_loops(problem: Problem) -> list[Finding]:
    graph = event_graph(problem)
    findings = []
    for component in nx.strongly_connected_components(graph):
        if len(component) < 2:
            continue
        first = next(node for node in graph if node in component)
        cycle = nx.find_cycle(graph.subgraph(component), first)
        labels = list(dict.fromkeys(graph.edges[edge]["label"] for edge in cycle))
        inside = {node for edge in cycle for node in edge}
        origins = [
            trigger.origin
            for trigger in problem.triggers
            if trigger.origin is not None and Event("trigger", trigger.name) in inside
        ]
        findings.append(
            Finding(
                "problem.trigger-loop",
                "error",
                origins[0] if origins else None,
                {"loop": " -> ".join([*labels, labels[0]])},
                tuple(origins[1:]),
            )
        )
    return findings


def loose_movers(problem: Problem) -> list[MoverProblem]:
    """Give the movers that take part in nothing: no encounter, trigger or wait ties them to the others."""
    moving = [mover for mover in problem.movers if mover.phases]
    if len(moving) < 2:
        return []
    coupled = {name for encounter in problem.encounters for name in encounter.pair}
    coupled |= {name for trigger in problem.triggers for name in trigger.watched}
    return [
        mover
        for mover in moving
        if mover.name not in coupled and not any(isinstance(one, Wait) for one in mover.phases)
    ]


def _loose_movers(problem: Problem) -> list[Finding]:
    return [
        Finding("problem.loose-mover", "warning", mover.origin, {"mover": mover.name}, ())
        for mover in loose_movers(problem)
    ]


def _each_has_its_own(couplings: list[Coupling], owners: list[str]) -> bool:
    """Whether each coupling, taken in turn, finds a freedom that is left; False proves nothing."""
    left = list(owners)
    for coupling in sorted(couplings, key=lambda one: len(one.movers)):
        mine = next((owner for owner in left if owner in coupling.movers), None)
        if mine is None:
            return False
        left.remove(mine)
    return True


def _too_many_couplings(problem: Problem) -> list[Finding]:
    """Match every coupling with something it can still move; one that is left over has nothing to solve.

    Consistent numbers can still satisfy it, so this is a warning, with the coupling's name.
    """
    couplings = list(_couplings(problem))
    owners = list(_freedoms(problem))
    if _each_has_its_own(couplings, owners):
        return []
    graph = nx.Graph()
    tops = [("coupling", index) for index in range(len(couplings))]
    graph.add_nodes_from(tops)
    for top, coupling in zip(tops, couplings, strict=True):
        for index, owner in enumerate(owners):
            if owner in coupling.movers:
                graph.add_edge(top, ("freedom", index))
    matching = nx.bipartite.hopcroft_karp_matching(graph, top_nodes=tops)
    over = [one for top, one in zip(tops, couplings, strict=True) if top not in matching]
    labels = {coupling.label for coupling in couplings}
    return [
        Finding(
            "problem.too-many-ties",
            "warning",
            one.origin,
            {"tie": one.label, "others": ", ".join(sorted(labels - {one.label})) or "nothing else"},
            (),
        )
        for one in sorted(over, key=lambda coupling: coupling.label)
    ]


def _couplings(problem: Problem) -> Iterator[Coupling]:
    for encounter in problem.encounters:
        first, second = encounter.pair
        movers = _reach(problem, first) | _reach(problem, second)
        name, origin = encounter.name, encounter.origin
        match encounter:
            case ContactPoint():
                yield Coupling(f"{name}: {first} is there", origin, _reach(problem, first))
                yield Coupling(f"{name}: {second} is there at the same time", origin, movers)
            case ContactTrack():
                pass  # where along the lane is open
            case GapAt() | PassAt():
                if encounter.wanted.fixed:
                    yield Coupling(f"{name}: {encounter.measure}", origin, movers)
            case _:
                assert_never(encounter)


def _freedoms(problem: Problem) -> Iterator[str]:
    """Whatever is left to solve, each by the mover whose motion it changes."""
    for mover in problem.movers:
        for _ in range(_freedoms_of(mover)):
            yield mover.name
    for trigger in problem.triggers:
        if not trigger.setting.fixed:
            yield trigger.watch


def _reach(problem: Problem, mover: str) -> frozenset[str]:
    """A mover and those whose motion decides when it launches."""
    watched = {
        name
        for phase in problem.mover(mover).phases
        for trigger in problem.triggers
        if waits_for(phase, trigger.name)
        for name in trigger.watched
    }
    return frozenset({mover} | watched)


def _freedoms_of(mover: MoverProblem) -> int:
    """How many of its start, launch, open holds, ramp shapes and open speeds are to be solved for."""
    free = 0 if mover.start.fixed else 1
    if mover.phases and not isinstance(mover.phases[0], Wait):
        free += 1
    return free + sum(_freedoms_in(phase) for phase in mover.phases)


def _freedoms_in(phase: Phase) -> int:
    match phase:
        case Wait():
            return 0
        case Hold():
            return 1 if phase.for_s is None and phase.for_m is None else 0
        case Ramp():
            shape = 0 if phase.rated else 1
            return shape if phase.to.fixed else 2 * shape
