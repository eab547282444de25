"""Hostile YAML is refused before it can cost memory, stack or time."""

from pathlib import Path

import pytest

from choreo.scenario import loads
from choreo.words import ChoreoError

# Of all scenarios that may be read the shortest: somebody stands somewhere.
SOMEBODY = """
movers:
  target:
    kind: obstacle
    stand: {at: [0 m, 0 m], heading: 0 deg}
    body: {length: 4 m, width: 2 m}
"""


def code_of(text: str) -> str:
    with pytest.raises(ChoreoError) as caught:
        loads(text, "a.yaml", Path())
    return caught.value.findings[0].code


@pytest.mark.parametrize(
    "text",
    [
        "[" * 1_000_000,
        "{a: " * 100_000,
        "[" * 100_000 + "]" * 100_000,
        "- " * 100_000 + "a",
        "? " * 100_000 + "a",
        "\n".join(" " * i + "a:" for i in range(2000)),
    ],
)
def test_deep_nesting_is_refused(text: str) -> None:
    assert code_of(text) == "input.too-deep"


def test_alias_inside_its_own_anchor_is_refused() -> None:
    assert code_of("a: &a [*a]") == "input.too-deep"


def test_more_entries_than_any_scenario_has_are_refused() -> None:
    assert code_of(f"a: [{'1,' * 500_000}1]") == "input.too-many-entries"


def test_aliases_used_with_measure_are_accepted() -> None:
    text = f"choreo: 1\ntitle: &t a\nabout: *t\n{SOMEBODY}"
    assert loads(text, "a.yaml", Path()).about == "a"


def test_words_that_yaml_likes_to_change_stay_as_written() -> None:
    text = f"choreo: 1\ntitle: on\nabout: 1e3\n{SOMEBODY}"
    scenario = loads(text, "a.yaml", Path())
    assert (scenario.title, scenario.about) == ("on", "1e3")


SYNTAX = [
    ("a: b: c", "`:`", 5),
    ("a: @x", "backquote", 4),
    ("a: - b", "no list can begin", 4),
    ("a: *b", "names nothing", 4),
    ("files: *.csv", "needs quotes, like `'*.csv'`", None),
    ("a: 'x", "never closed", None),
    ("a: 1\nb\n", "`key: value` line", 1),
]


@pytest.mark.parametrize(("text", "told", "column"), SYNTAX)
def test_syntax_fault_is_told_in_plain_words(text: str, told: str, column: int | None) -> None:
    with pytest.raises(ChoreoError) as caught:
        loads(text, "a.yaml", Path())
    (finding,) = caught.value.findings
    assert told in finding.text
    assert finding.origin is not None
    assert column is None or finding.origin.column == column


def test_raw_control_character_is_told_at_its_place() -> None:
    with pytest.raises(ChoreoError) as caught:
        loads("choreo: 1\ntitle: a\x1bb\n", "a.yaml", Path())
    (finding,) = caught.value.findings
    assert finding.code == "input.control-character"
    assert str(finding.origin) == "a.yaml:2:9"
