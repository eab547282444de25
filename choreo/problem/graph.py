"""The event graph: what couples movers, and what its shape alone says before any solving.

Nodes are events (phase ends, triggers, encounters, instants); an edge A -> B says that B cannot be known
before A. A loop is a scenario in which everybody waits for everybody.
"""

from __future__ import annotations

from collections.abc import Mapping

import networkx as nx

from choreo.problem.records import (
    ContactPoint,
    ContactTrack,
    EventRef,
    GapAt,
    Hold,
    MoverProblem,
    PassAt,
    Problem,
    Ramp,
    TriggerProblem,
    Wait,
)
from choreo.words import Finding
from choreo.words.origin import Origin

GO = "go"
SAME_INSTANT_S = 1e-9


def event_graph(problem: Problem) -> nx.DiGraph:
    """Give the directed graph of events; edges carry `kind` and `label` (which a person understands)."""
    graph = nx.DiGraph()
    graph.add_node(GO)
    for mover in problem.movers:
        _add_phases(graph, mover)
    for trigger in problem.triggers:
        _add_trigger(graph, problem, trigger)
    for encounter in problem.encounters:
        node = f"encounter {encounter.name}"
        for name in _pair(encounter):
            graph.add_edge(
                _meets_at(problem, name, encounter.name),
                node,
                kind="encounter",
                label=encounter.name,
            )
    for instant in problem.instants:
        node, before = f"instant {instant.name}", node_of(instant.before)
        graph.add_edge(before, node, kind="instant", label=instant.name)
    return graph


def _add_phases(graph: nx.DiGraph, mover: MoverProblem) -> None:
    previous = f"{mover.name} launch"
    graph.add_edge(GO, previous, kind="launch", label=f"launch of {mover.name}")
    for index, phase in enumerate(mover.phases):
        start, end = _ends(mover.name, phase.name)
        if index > 0 or not isinstance(phase, Wait):
            graph.add_edge(previous, start, kind="phase", label=f"{mover.name} {phase.name}")
        graph.add_edge(start, end, kind="phase", label=f"{mover.name} {phase.name}")
        if isinstance(phase, Wait) and index == 0:
            # A first wait ends with the launch, so the trigger's edge goes there.
            graph.remove_node(start)
            graph.add_edge(previous, end, kind="phase", label=f"{mover.name} {phase.name}")
        previous = end


def _ends(mover: str, phase: str) -> tuple[str, str]:
    return f"start of {mover}.{phase}", f"end of {mover}.{phase}"


def _add_trigger(graph: nx.DiGraph, problem: Problem, trigger: TriggerProblem) -> None:
    node = f"trigger {trigger.name}"
    graph.add_node(node)
    if trigger.condition != "time":
        watched = problem.mover(trigger.watch)
        source = f"{watched.name} launch"
        if trigger.during_phase is not None:
            phase = watched.phases[trigger.during_phase]
            source = _ends(watched.name, phase.name)[0]
        graph.add_edge(
            source, node, kind="watch", label=f"trigger {trigger.name} watches {trigger.watch}"
        )
    for mover in problem.movers:
        for index, phase in enumerate(mover.phases):
            if not _waits_for(phase, trigger.name):
                continue
            target = f"{mover.name} launch" if index == 0 else _ends(mover.name, phase.name)[1]
            label = f"{mover.name} waits for trigger {trigger.name}"
            graph.add_edge(node, target, kind="trigger", label=label)


def _waits_for(phase: Wait | Ramp | Hold, trigger: str) -> bool:
    if isinstance(phase, Wait):
        return phase.trigger == trigger
    if isinstance(phase, Hold) and phase.until is not None:
        return phase.until.kind == "trigger" and phase.until.name == trigger
    return False


def _pair(encounter: ContactPoint | ContactTrack | GapAt | PassAt) -> tuple[str, str]:
    if isinstance(encounter, PassAt):
        return encounter.first, encounter.second
    return encounter.a, encounter.b


def _meets_at(problem: Problem, mover: str, encounter: str) -> str:
    one = problem.mover(mover)
    hold = one.hold_until(encounter)
    return f"{mover} launch" if hold is None else _ends(mover, one.phases[hold].name)[1]


def node_of(ref: EventRef) -> str:
    """Give the graph's name of an event."""
    if ref.kind == "launch":
        return f"{ref.mover} launch"
    if ref.kind in ("encounter", "trigger", "instant"):
        return f"{ref.kind} {ref.name}"
    edge = "start" if ref.kind.endswith("start") else "end"
    return f"{edge} of {ref.mover}.{ref.name}"


def structural_findings(problem: Problem) -> list[Finding]:
    """Find what the graph alone shows: loops, movers coupled to nothing, too many couplings."""
    graph = event_graph(problem)
    loops = _loops(graph, problem)
    if loops:
        return loops
    return [*_loose_movers(problem), *_too_many_couplings(problem)]


def _loops(graph: nx.DiGraph, problem: Problem) -> list[Finding]:
    findings = []
    for component in nx.strongly_connected_components(graph):
        if len(component) < 2:
            continue
        cycle = nx.find_cycle(graph.subgraph(component))
        labels = list(dict.fromkeys(graph.edges[edge[:2]]["label"] for edge in cycle))
        origins = _trigger_origins(problem, labels)
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


def _trigger_origins(problem: Problem, labels: list[str]) -> list[Origin]:
    origins = []
    for trigger in problem.triggers:
        if trigger.origin is not None and any(
            f"trigger {trigger.name}" in label for label in labels
        ):
            origins.append(trigger.origin)
    return origins


def _loose_movers(problem: Problem) -> list[Finding]:
    moving = [mover for mover in problem.movers if mover.phases]
    if len(moving) < 2:
        return []
    coupled = {name for encounter in problem.encounters for name in _pair(encounter)}
    coupled |= {trigger.watch for trigger in problem.triggers}
    findings = []
    for mover in moving:
        waits = any(isinstance(phase, Wait) for phase in mover.phases)
        if mover.name not in coupled and not waits:
            findings.append(
                Finding("problem.loose-mover", "warning", mover.origin, {"mover": mover.name}, ())
            )
    return findings


def _too_many_couplings(problem: Problem) -> list[Finding]:
    """Match every coupling with something it can still move; one that is left over has nothing to solve.

    Consistent numbers can still satisfy it, so this is a warning, with the coupling's name.
    """
    graph = nx.Graph()
    couplings, freedoms = _couplings_and_freedoms(problem)
    for coupling, movers in couplings.items():
        for freedom, owner in freedoms.items():
            if owner in movers:
                graph.add_edge(("coupling", coupling), ("free", freedom))
        graph.add_node(("coupling", coupling))
    tops = [node for node in graph if node[0] == "coupling"]
    matching = nx.bipartite.hopcroft_karp_matching(graph, top_nodes=tops)
    over = sorted(name for kind, name in tops if (kind, name) not in matching)
    origins = {encounter.name: encounter.origin for encounter in problem.encounters}
    return [
        Finding(
            "problem.too-many-ties",
            "warning",
            origins.get(name.split(":")[0]),
            {"tie": name, "others": ", ".join(sorted(set(couplings) - {name})) or "nothing else"},
            (),
        )
        for name in over
    ]


def _couplings_and_freedoms(problem: Problem) -> tuple[dict[str, set[str]], dict[str, str]]:
    """Couplings: equations between movers, with the movers they can move. Freedoms: unknowns, with owner."""
    freedoms: dict[str, str] = {}
    for mover in problem.movers:
        for name in _mover_freedoms(mover):
            freedoms[f"{mover.name}: {name}"] = mover.name
    couplings: dict[str, set[str]] = {}
    for encounter in problem.encounters:
        first, second = _pair(encounter)
        movers = _reach(problem, first) | _reach(problem, second)
        if isinstance(encounter, ContactPoint):
            couplings[f"{encounter.name}: {first} is there"] = _reach(problem, first)
            couplings[f"{encounter.name}: {second} is there at the same time"] = movers
        elif not isinstance(encounter, ContactTrack) and encounter.wanted.fixed:
            couplings[f"{encounter.name}: {encounter.measure}"] = movers
    for trigger in problem.triggers:
        if not trigger.setting.fixed:
            freedoms[f"trigger {trigger.name}: setting"] = trigger.watch
    return couplings, freedoms


def _reach(problem: Problem, mover: str) -> set[str]:
    """A mover and those whose motion decides when it launches."""
    reach = {mover}
    for phase in problem.mover(mover).phases:
        for trigger in problem.triggers:
            if _waits_for(phase, trigger.name):
                reach.add(trigger.watch)
    return reach


def _mover_freedoms(mover: MoverProblem) -> list[str]:
    names = [] if mover.start.fixed else ["start station"]
    first = mover.phases[0] if mover.phases else None
    if first is not None and not isinstance(first, Wait):
        names.append("launch")
    for phase in mover.phases:
        if isinstance(phase, Hold) and phase.for_s is None and phase.for_m is None:
            names.append(f"{phase.name} duration")
        elif isinstance(phase, Ramp) and not phase.rated:
            names.append(f"{phase.name} shape")
            if not phase.to.fixed:
                names.append(f"{phase.name} speed")
    return names


def critical_chain(problem: Problem, times_s: Mapping[str, float]) -> list[str]:
    """Give the events from go to the last encounter that leave no slack: each waits for the one before.

    times_s: solved time by node name of the event graph.
    """
    graph = event_graph(problem)
    known = graph.subgraph([node for node in graph if node in times_s]).copy()
    for first, last in known.edges:
        # The addend lets events of the same instant count, so that the chain ends at the encounter.
        known.edges[first, last]["weight"] = (
            max(0.0, times_s[last] - times_s[first]) + SAME_INSTANT_S
        )
    encounters = [f"encounter {encounter.name}" for encounter in problem.encounters]
    ends = [node for node in encounters if node in known]
    if not ends:
        return []
    last = max(ends, key=lambda node: times_s[node])
    inside = known.subgraph(nx.ancestors(known, last) | {last})
    return list(nx.dag_longest_path(inside, weight="weight"))
