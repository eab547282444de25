"""The event graph: which events of a problem wait for which, before any of them has a time.

Nodes are events (launches, phase starts and ends, triggers, encounters, instants) and go; an edge A -> B says that B
cannot be known before A. A loop is a scenario in which everybody waits for everybody.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final, Literal, assert_never

import networkx as nx

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


def event_graph(problem: Problem) -> nx.DiGraph:
    """Give the directed graph of events; edges carry a `label` that a person understands."""
    graph = nx.DiGraph()
    graph.add_node(GO)
    for mover in problem.movers:
        _add_phases(graph, mover)
    for trigger in problem.triggers:
        _add_trigger(graph, problem, trigger)
    for encounter in problem.encounters:
        node = Event("encounter", encounter.name)
        for name in encounter.pair:
            graph.add_edge(_meets_at(problem, name, encounter.name), node, label=encounter.name)
    for instant in problem.instants:
        graph.add_edge(instant.before, Event("instant", instant.name), label=instant.name)
    return graph


def _add_phases(graph: nx.DiGraph, mover: MoverProblem) -> None:
    previous = launch_of(mover.name)
    graph.add_edge(GO, previous, label=f"launch of {mover.name}")
    for index, phase in enumerate(mover.phases):
        if phase.name == AT_GO:
            continue  # nobody wrote it: the launch follows on go anyway
        label = f"{mover.name} {phase.name}"
        start, end = start_of(mover.name, phase.name), end_of(mover.name, phase.name)
        if index == 0 and isinstance(phase, Wait):
            # A first wait ends with the launch, so what it waits for leads there.
            graph.add_edge(previous, end, label=label)
        else:
            graph.add_edge(previous, start, label=label)
            graph.add_edge(start, end, label=label)
        previous = end


def _add_trigger(graph: nx.DiGraph, problem: Problem, trigger: TriggerProblem) -> None:
    node = Event("trigger", trigger.name)
    graph.add_node(node)
    if not CONDITIONS[trigger.condition].by_clock:
        watched = problem.mover(trigger.watch)
        source = launch_of(watched.name)
        if trigger.during_phase is not None:
            source = start_of(watched.name, watched.phases[trigger.during_phase].name)
        graph.add_edge(source, node, label=f"trigger {trigger.name} watches {trigger.watch}")
    for mover in problem.movers:
        for index, phase in enumerate(mover.phases):
            if waits_for(phase, trigger.name):
                launches = index == 0 and isinstance(phase, Wait)
                target = launch_of(mover.name) if launches else end_of(mover.name, phase.name)
                graph.add_edge(node, target, label=f"{mover.name} waits for trigger {trigger.name}")


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
    graph = event_graph(problem)
    known = graph.subgraph([node for node in graph if node in times_s]).copy()
    for first, last in known.edges:
        lasts_s = max(0.0, times_s[last] - times_s[first])
        known.edges[first, last]["weight"] = lasts_s + SAME_INSTANT_S
    encounters = [Event("encounter", encounter.name) for encounter in problem.encounters]
    ends = [node for node in encounters if node in known]
    if not ends:
        return []
    last = max(ends, key=lambda node: times_s[node])
    before = nx.ancestors(known, last) | {last}
    # Taken out, not looked at through a set: what waits equally long then comes in the author's order, in every run.
    known.remove_nodes_from([node for node in known if node not in before])
    return list(nx.dag_longest_path(known, weight="weight"))
