"""The chain of events that sets a plan's time, in words."""

from __future__ import annotations

from choreo.plans.record import Plan
from choreo.problem import Problem, critical_chain
from choreo.problem.graph import GO, Node, end_of, launch_of, node_words, start_of
from choreo.scenario import Event


def chain_of(problem: Problem, plan: Plan) -> tuple[str, ...]:
    """Give the events from go to the last encounter that leave no slack, as plans name them."""
    return tuple(node_words(node) for node in critical_chain(problem, _node_times(plan)))


def _node_times(plan: Plan) -> dict[Node, float]:
    """Solved times of the event graph's events."""
    times: dict[Node, float] = {GO: 0.0}
    for name, mover in plan.movers.items():
        times[launch_of(name)] = mover.launch_s
        if mover.phases and mover.phases[0].kind == "wait":
            times[end_of(name, mover.phases[0].name)] = mover.launch_s
        for event in mover.events:
            if event.phase is not None:
                times[end_of(name, mover.phases[event.phase].name)] = event.time_s
        for piece in mover.pieces:
            times.setdefault(start_of(name, piece.phase), piece.start_s)
    for name, trigger in plan.triggers.items():
        times[Event("trigger", name)] = trigger.acts_at_s
    for name, encounter in plan.encounters.items():
        times[Event("encounter", name)] = encounter.time_s
    return times
