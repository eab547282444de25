"""Whatever the bytes: a Scenario, or a ChoreoError whose every finding has its words."""

import tempfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from choreo.scenario import load, loads
from choreo.words import CATALOGUE, ChoreoError, Finding
from tests.unit.scenario.example import EVERYTHING, FLEET, WALKER

WORDS = [
    "", "x", "free", "40", "40 km/h", "$room", "$nothing", "contact", "{}", "[]", "[[[]]]", "null", "~", "yes",
    "1e999 m", "nan", "-1 m", "5..3 m", "..", "start of subject.ramp", "start of .", "launch of", "*a", "&a x",
    "!!int 3", "<<: {}", "? x", "'", '"', "\t", "\u202e", "{line: 1 m}", "{kind: gap}", "- - -", "#", "|", ">",
]  # fmt: skip


def findings_of(text: str) -> tuple[Finding, ...]:
    try:
        loads(text, "a.yaml", Path("/nonexistent"))
    except ChoreoError as error:
        return error.findings
    return ()


def assert_read_or_refused_in_words(text: str) -> None:
    for finding in findings_of(text):
        assert finding.code in CATALOGUE
        assert finding.text
        # What stands for an error of the models that has no words of its own, and types of Python.
        assert "something else" not in finding.text
        assert "tuple[" not in finding.text
        assert isinstance(finding.advice, str)
        assert finding.origin is not None
        assert finding.origin.line >= 1
        assert finding.origin.column >= 1


@settings(max_examples=150, deadline=None)
@given(st.binary(max_size=300))
def test_random_bytes_are_refused_in_words(raw: bytes) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "a.yaml"
        path.write_bytes(raw)
        with pytest.raises(ChoreoError) as caught:
            load(path)
    assert caught.value.findings
    assert all(finding.text for finding in caught.value.findings)


@settings(max_examples=150, deadline=None)
@given(st.text(max_size=200))
def test_random_text_is_refused_in_words(text: str) -> None:
    assert_read_or_refused_in_words(text)


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.sampled_from([WALKER, EVERYTHING, FLEET]),
    st.lists(
        st.tuples(
            st.floats(0, 1, exclude_max=True),
            st.integers(0, 25),
            st.one_of(st.sampled_from(WORDS), st.text(max_size=5)),
        ),
        min_size=1,
        max_size=4,
    ),
)
def test_mutated_scenario_is_read_or_refused_in_words(
    text: str, changes: list[tuple[float, int, str]]
) -> None:
    for where, length, new in changes:
        start = int(where * len(text))
        text = text[:start] + new + text[start + length :]
    assert_read_or_refused_in_words(text)


@settings(max_examples=200, deadline=None)
@given(st.sampled_from([WALKER, EVERYTHING]), st.integers(0, 500), st.sampled_from(WORDS))
def test_replaced_value_is_read_or_refused_in_words(text: str, which: int, new: str) -> None:
    """Swap one whole value: the structure stays, so that the models and the cross-checks are reached."""
    places = [index for index, letter in enumerate(text) if text[index : index + 2] == ": "]
    start = places[which % len(places)] + 2
    ends = [text.find(mark, start) for mark in (",", "}", "]", "\n")]
    end = min(end for end in ends if end >= 0)
    assert_read_or_refused_in_words(text[:start] + new + text[end:])
