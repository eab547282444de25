"""What the shape of the event graph says before any solving."""

from pathlib import Path

import pytest

from choreo.problem import build_staging, critical_chain, event_graph, structural_findings
from choreo.problem.graph import GO, end_of, launch_of, node_words, start_of
from choreo.scenario import Event, loads
from choreo.words import ChoreoError
from tests.answers import timing_of
from tests.hand_made import hold, mover, ramp, stop, walker_problem

TWO_WAITERS = """
choreo: 1
title: two that wait for each other
paths:
  lane: {start: [0 m, 0 m], pieces: [{line: 400 m}]}
  side: {start: [200 m, -100 m], heading: 90 deg, pieces: [{line: 200 m}]}
movers:
  subject:
    path: lane
    body: {length: 4 m, width: 2 m}
    limits: {speed: 100 km/h, accelerate: 3 m/s2, brake: 6 m/s2}
    programme: [{wait: {for: second}}, {ramp: {to: 30 km/h}}, {hold: {until: contact}}, {stop: {}}]
  target:
    path: side
    body: {length: 4 m, width: 2 m}
    limits: {speed: 100 km/h, accelerate: 3 m/s2, brake: 6 m/s2}
    programme: [{wait: {for: first}}, {ramp: {to: 30 km/h}}, {hold: {until: contact}}, {stop: {}}]
triggers:
  first: {watch: subject, when: {distance: free}}
  second: {watch: target, when: {distance: free}}
encounters:
  contact: {kind: contact, of: subject, with: target, overlap: 50 %}
"""


def test_trigger_loop_is_an_error_that_prints_the_loop() -> None:
    with pytest.raises(ChoreoError) as caught:
        timing_of(loads(TWO_WAITERS, "loop.yaml", Path()))
    (finding,) = caught.value.findings
    assert finding.code == "problem.trigger-loop"
    for word in ("first", "second", "subject", "target"):
        assert word in finding.text
    assert finding.origin is not None
    assert finding.origin.line > 1


def test_loop_is_reported_at_its_own_triggers_alone() -> None:
    """`se` watches the subject, for nobody in the loop, and its name begins another trigger's."""
    third = "  third:\n    path: side\n    body: {length: 4 m, width: 2 m}\n"
    third += "    limits: {speed: 100 km/h, accelerate: 3 m/s2, brake: 6 m/s2}\n"
    third += "    programme: [{wait: {for: se}}, {ramp: {to: 30 km/h}}, {stop: {}}]\n"
    text = TWO_WAITERS.replace(
        "triggers:\n", f"{third}triggers:\n  se: {{watch: subject, when: {{time: 1 s}}}}\n"
    )
    problem = build_staging(loads(text, "loop.yaml", Path())).problem
    (finding,) = structural_findings(problem)
    places = {finding.origin, *finding.related}
    assert places == {problem.trigger(name).origin for name in ("first", "second")}


ROLLING = """
choreo: 1
title: rolling, until a trigger of its own
paths:
  lane: {start: [0 m, 0 m], pieces: [{line: 400 m}]}
movers:
  subject:
    path: lane
    body: {length: 4 m, width: 2 m}
    limits: {speed: 100 km/h, accelerate: 3 m/s2, brake: 6 m/s2}
    start: {station: 0 m, speed: 30 km/h}
    programme: [{hold: {until: slow}}, {stop: {}}]
triggers:
  slow: {watch: subject, when: {station: 50 m}}
"""


def test_rolling_start_held_until_an_own_trigger_is_no_loop() -> None:
    plan = timing_of(loads(ROLLING, "rolling.yaml", Path()))
    assert plan.verdict == "feasible"
    assert plan.triggers["slow"].station_m == pytest.approx(50.0, abs=1e-6)


def test_chain_of_triggers_without_a_loop_is_no_error() -> None:
    text = TWO_WAITERS.replace("{wait: {for: second}}, ", "").replace(
        "second: {watch: target, when: {distance: free}}", ""
    )
    staging = build_staging(loads(text, "chain.yaml", Path()))
    codes = [finding.code for finding in structural_findings(staging.problem)]
    assert "problem.trigger-loop" not in codes


def test_mover_tied_to_nothing_is_a_warning() -> None:
    problem = walker_problem()
    loose = mover("loose", (ramp(5.0, 2.0, 4.0), hold(1.0, None), stop(2.0, 4.0)))
    problem = type(problem)(
        problem.prefer, (*problem.movers, loose), problem.triggers, problem.encounters, ()
    )
    (finding,) = structural_findings(problem)
    assert finding.code == "problem.loose-mover"
    assert finding.severity == "warning"
    assert "loose" in finding.text


def test_scenario_with_everything_given_is_told_to_have_too_many_ties() -> None:
    text = TWO_WAITERS.replace("{wait: {for: second}}, ", "").replace(
        "second: {watch: target, when: {distance: free}}", ""
    )
    text = text.replace("when: {distance: free}", "when: {distance: 50 m}")
    fixed = "start: {station: 0 m}\n    programme: [{ramp: {to: 30 km/h, accelerate: 3 m/s2}}, {hold: {for: 10 s}}"
    text = text.replace("programme: [{ramp: {to: 30 km/h}}, {hold: {until: contact}}", fixed)
    target = (
        "start: {station: 0 m}\n    programme: [{wait: {for: first}}, "
        "{ramp: {to: 30 km/h, accelerate: 3 m/s2}}, {hold: {for: 10 s}}"
    )
    text = text.replace(
        "programme: [{wait: {for: first}}, {ramp: {to: 30 km/h}}, {hold: {until: contact}}", target
    )
    staging = build_staging(loads(text, "tied.yaml", Path()))
    findings = structural_findings(staging.problem)
    assert [finding.code for finding in findings] == ["problem.too-many-ties"]
    assert "contact" in findings[0].text


def test_graph_orders_the_trigger_before_whom_it_launches() -> None:
    graph = event_graph(walker_problem())
    step_out = Event("trigger", "step_out")
    assert graph.has_edge(step_out, launch_of("walker"))
    assert graph.has_edge(start_of("subject", "hold"), step_out)


def test_critical_chain_runs_from_go_to_the_last_encounter() -> None:
    times = {
        GO: 0.0,
        launch_of("subject"): 0.0,
        start_of("subject", "ramp"): 0.0,
        end_of("subject", "ramp"): 4.0,
        start_of("subject", "hold"): 4.0,
        end_of("subject", "hold"): 9.0,
        Event("encounter", "contact"): 9.0,
    }
    chain = critical_chain(walker_problem(), times)
    assert [node_words(node) for node in chain] == [
        "go",
        "subject launch",
        "start of subject.ramp",
        "end of subject.ramp",
        "start of subject.hold",
        "end of subject.hold",
        "encounter contact",
    ]
