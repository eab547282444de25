"""Moments that depend on themselves are told with the way round, not met by the solver."""

from pathlib import Path

import pytest

from choreo.scenario import loads
from choreo.words import ChoreoError, Finding
from tests.unit.scenario.example import WALKER

GAP = "{kind: gap, of: subject, with: walker, distance: 3 m, at: AT}"


def faults_of(encounters: str, instants: str = "", hold: str = "contact") -> list[Finding]:
    text = WALKER.replace("until: contact}", f"until: {hold}}}", 1)
    text = text.replace("latency: 60 ms", "latency: 60 ms, to: contact")
    text = text.replace("encounters:\n", f"encounters:\n{encounters}")
    with pytest.raises(ChoreoError) as caught:
        loads(f"{text}\n{instants}", "a.yaml", Path())
    return list(caught.value.findings)


def gap(name: str, at: str) -> str:
    return f"  {name}: {GAP.replace('AT', at)}\n"


LOOPS = [
    (gap("one", "one"), "", "contact", "one -> one"),
    (gap("one", "two") + gap("two", "one"), "", "contact", "one -> two -> one"),
    (gap("one", "T1"), "instants: {T1: {before: one, by: 1 s}}", "contact", "one -> T1 -> one"),
    (gap("one", "end of subject.hold"), "", "one", "one -> end of subject.hold -> one"),
]


@pytest.mark.parametrize(("encounters", "instants", "hold", "loop"), LOOPS)
def test_gap_at_a_moment_that_it_decides_is_told_once_with_the_loop(
    encounters: str, instants: str, hold: str, loop: str
) -> None:
    (finding,) = faults_of(encounters, instants, hold)
    assert finding.code == "scenario.encounter-loop"
    assert finding.text.endswith(loop)
    assert finding.origin is not None
    assert finding.origin.line > 1


def test_instant_before_the_end_of_the_hold_that_it_ends_is_an_instant_loop() -> None:
    (finding,) = faults_of("", "instants: {T1: {before: end of subject.hold, by: 1 s}}", "T1")
    assert finding.code == "scenario.instant-loop"
    assert "T1 -> end of subject.hold -> T1" in finding.text


def test_chain_of_moments_that_ends_at_a_contact_is_fine() -> None:
    text = WALKER.replace("encounters:\n", "encounters:\n" + gap("one", "T1"))
    text = text.replace("latency: 60 ms", "latency: 60 ms, to: contact")
    text += "\ninstants:\n  T1: {before: T2, by: 1 s}\n  T2: {before: contact, by: 1 s}\n"
    assert set(loads(text, "a.yaml", Path()).instants) == {"T1", "T2"}


def test_hold_until_a_gap_at_the_start_of_the_next_phase_is_fine() -> None:
    text = WALKER.replace("until: contact}", "until: one}", 1)
    text = text.replace("latency: 60 ms", "latency: 60 ms, to: contact")
    text = text.replace("encounters:\n", "encounters:\n" + gap("one", "start of subject.stop"))
    assert "one" in loads(text, "a.yaml", Path()).encounters
