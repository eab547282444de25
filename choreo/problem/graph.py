"""The event graph: which events of a problem wait for which, before any of them has a time.

Nodes are events (launches, phase starts and ends, triggers, encounters, instants) and go; an edge A -> B says that B
cannot be known before A. A loop is a scenario in which everybody waits for everybody.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from graphlib import TopologicalSorter
from typing import TYPE_CHECKING, Final, Literal, assert_never

from choreo.problem.records import (
    AT_GO,
    Hold,
    MoverProblem,
    Phase,
    Problem,
    Ramp,
    TriggerProblem,
    Wait,
)
from choreo.scenario import Event
from choreo.words.kinds import CONDITIONS
from choreo.words.later import loaded_later
from choreo.words.records import dataclass

if TYPE_CHECKING:
    import networkx as nx
else:
    nx = loaded_later("networkx")

GO: Final = "go"
Node = Event | Literal["go"]

# What each edge of a chain counts beside its time (s), so that events of one instant count as well and the chain ends
# at the encounter. Far below any time of a plan.
SAME_INSTANT_S = 1e-9


def launch_of(mover: str) -> Event:
    """Give the event of a mover's launch."""
    return Event("launch", None, mover)


def start_of(mover: str, phase: str) -> Event:
    """Give the event at which a phase starts."""
    return Event("phase start", phase, mover)


def end_of(mover: str, phase: str) -> Event:
    """Give the event at which a phase ends."""
    return Event("phase end", phase, mover)


def node_words(node: Node) -> str:
    """Name an event as plans and reports do."""
    if isinstance(node, str):
        return node
    match node.kind:
        case "launch":
            return f"{node.mover} launch"
        case "encounter" | "trigger" | "instant":
            return f"{node.kind} {node.name}"
        case "phase start" | "mark start":
            return f"start of {node.mover}.{node.name}"
        case "phase end" | "mark end":
            return f"end of {node.mover}.{node.name}"
        case _:
            assert_never(node.kind)


@dataclass(frozen=True)
class Waits:
    """Who waits for whom: the nodes of the event graph and its edges (first, last) with a label, in order."""

    nodes: dict[Node, None] = field(default_factory=dict)
    edges: dict[tuple[Node, Node], str] = field(default_factory=dict)

    def add(self, first: Node, last: Node, label: str) -> None:
        """Add an edge and the nodes that it needs."""
        self.nodes.setdefault(first)
        self.nodes.setdefault(last)
        self.edges[first, last] = label

    def before(self) -> dict[Node, list[Node]]:
        """Give each node with those that it waits for itself, in order of the nodes."""
        found: dict[Node, list[Node]] = {node: [] for node in self.nodes}
        for first, last in self.edges:
            found[last].append(first)
        place = {node: number for number, node in enumerate(self.nodes)}
        return {node: sorted(those, key=place.__getitem__) for node, those in found.items()}


def waits_of(problem: Problem) -> Waits:
    """Give the event graph as plain nodes and edges; the labels are what a person understands."""
    waits = Waits({GO: None})
    for mover in problem.movers:
        _add_phases(waits, mover)
    for trigger in problem.triggers:
        _add_trigger(waits, problem, trigger)
    for encounter in problem.encounters:
        node = Event("encounter", encounter.name)
        for name in encounter.pair:
            waits.add(_meets_at(problem, name, encounter.name), node, encounter.name)
    for instant in problem.instants:
        waits.add(instant.before, Event("instant", instant.name), instant.name)
    return waits


def event_graph(problem: Problem) -> nx.DiGraph:
    """Give the directed graph of events; edges carry a `label` that a person understands."""
    waits = waits_of(problem)
    graph = nx.DiGraph()
    graph.add_nodes_from(waits.nodes)
    for (first, last), label in waits.edges.items():
        graph.add_edge(first, last, label=label)
    return graph


def _add_phases(waits: Waits, mover: MoverProblem) -> None:
    previous = launch_of(mover.name)
    waits.add(GO, previous, f"launch of {mover.name}")
    for index, phase in enumerate(mover.phases):
        if phase.name == AT_GO:
            continue  # nobody wrote it: the launch follows on go anyway
        label = f"{mover.name} {phase.name}"
        start, end = start_of(mover.name, phase.name), end_of(mover.name, phase.name)
        if index == 0 and isinstance(phase, Wait):
            # A first wait ends with the launch, so what it waits for leads there.
            waits.add(previous, end, label)
        else:
            waits.add(previous, start, label)
            waits.add(start, end, label)
        previous = end


def _add_trigger(waits: Waits, problem: Problem, trigger: TriggerProblem) -> None:
    node = Event("trigger", trigger.name)
    waits.nodes.setdefault(node)
    if not CONDITIONS[trigger.condition].by_clock:
        watched = problem.mover(trigger.watch)
        source = launch_of(watched.name)
        if trigger.during_phase is not None:
            source = start_of(watched.name, watched.phases[trigger.during_phase].name)
        waits.add(source, node, f"trigger {trigger.name} watches {trigger.watch}")
    for mover in problem.movers:
        for index, phase in enumerate(mover.phases):
            if waits_for(phase, trigger.name):
                launches = index == 0 and isinstance(phase, Wait)
                target = launch_of(mover.name) if launches else end_of(mover.name, phase.name)
                waits.add(node, target, f"{mover.name} waits for trigger {trigger.name}")


def waits_for(phase: Phase, trigger: str) -> bool:
    """Say whether a trigger ends a phase."""
    match phase:
        case Wait():
            return phase.trigger == trigger
        case Hold():
            return phase.until == Event("trigger", trigger)
        case Ramp():
            return False


def _meets_at(problem: Problem, mover: str, encounter: str) -> Event:
    one = problem.mover(mover)
    hold = one.hold_until(encounter)
    return launch_of(mover) if hold is None else end_of(mover, one.phases[hold].name)


def critical_chain(problem: Problem, times_s: Mapping[Node, float]) -> list[Node]:
    """Give the events from go to the last encounter that leave no slack: each waits for the one before.

    times_s: solved times by event; events without one are left out.
    """
    waits = waits_of(problem).before()
    ends = [
        node
        for node in (Event("encounter", encounter.name) for encounter in problem.encounters)
        if node in waits and node in times_s
    ]
    if not ends:
        return []
    last = max(ends, key=lambda node: times_s[node])
    known = {
        node: [first for first in those if first in times_s]
        for node, those in waits.items()
        if node in times_s
    }
    return _longest(_leading_to(known, last), times_s, last)


def _leading_to(before: Mapping[Node, list[Node]], last: Node) -> dict[Node, list[Node]]:
    found: dict[Node, list[Node]] = {}
    ahead = [last]
    while ahead:
        node = ahead.pop()
        if node not in found:
            found[node] = before[node]
            ahead += before[node]
    return found


def _longest(
    before: Mapping[Node, list[Node]], times_s: Mapping[Node, float], last: Node
) -> list[Node]:
    """Give the longest way to `last`; of ways equally long the one that comes first in the author's order."""
    lasts_s: dict[Node, float] = {}
    chosen: dict[Node, Node] = {}
    for node in TopologicalSorter(before).static_order():
        lasts_s[node] = 0.0
        for first in before[node]:
            lasting_s = max(0.0, times_s[node] - times_s[first]) + SAME_INSTANT_S
            if lasts_s[first] + lasting_s > lasts_s[node]:
                lasts_s[node], chosen[node] = lasts_s[first] + lasting_s, first
    chain = [last]
    while chain[-1] in chosen:
        chain.append(chosen[chain[-1]])
    return chain[::-1]
