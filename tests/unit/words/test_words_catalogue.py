"""The catalogue against the source: every code in use has words, every word fits its values."""

import re
from pathlib import Path
from string import Formatter

import pytest

import choreo
from choreo.words import CATALOGUE, ChoreoError, Finding, Origin
from choreo.words.nearest import nearest_word, suggestion

PACKAGE = Path(choreo.__file__).parent
AREAS = sorted({code.split(".")[0] for code in CATALOGUE})
# Names of files, `campaign.css`, `plan.json`, are no codes.
CODE = re.compile(
    rf'"((?:{"|".join(AREAS)})\.(?!(?:css|js|html|json|yaml)")[a-z]+(?:-[a-z0-9]+)*)"'
)


def codes_in_source() -> set[str]:
    texts = (
        path.read_text(encoding="utf-8")
        for path in PACKAGE.rglob("*.py")
        if "catalogue" not in path.parts
    )
    return {code for text in texts for code in CODE.findall(text)}


def test_every_code_in_the_source_is_in_the_catalogue() -> None:
    assert codes_in_source() - set(CATALOGUE) == set()


@pytest.mark.parametrize("area", ["input", "scenario"])
def test_every_code_of_an_area_is_used_somewhere(area: str) -> None:
    codes = {code for code in CATALOGUE if code.startswith(f"{area}.")}
    assert codes - codes_in_source() == set()


def test_every_entry_has_title_meaning_and_template() -> None:
    assert len(CATALOGUE) > 100
    for code, entry in CATALOGUE.items():
        assert re.fullmatch(r"[a-z]+\.[a-z]+(-[a-z0-9]+)*", code)
        assert entry.title, code
        assert entry.meaning, code
        assert entry.template, code
        names = [name for _, name, _, _ in Formatter().parse(entry.template + entry.advice)]
        assert [name for name in names if name is not None and not name.isidentifier()] == [], code


def test_finding_makes_its_sentence_from_its_values() -> None:
    values = {"key": "accelerat", "where": "limits", "suggestion": "Did you mean `accelerate`?"}
    finding = Finding("scenario.unknown-key", "error", Origin("a.yaml", 3, 5), values)
    assert finding.text == "`accelerat` is not known in limits"
    assert finding.advice == "Did you mean `accelerate`?"
    assert str(finding.origin) == "a.yaml:3:5"


def test_error_carries_every_finding() -> None:
    findings = [Finding("input.empty", "error", None), Finding("input.tag", "error", None)]
    assert ChoreoError(findings).findings == tuple(findings)


def test_nearest_word_ignores_case_and_gives_none_when_nothing_is_like_it() -> None:
    known = ["brake", "jerk", "time to collision"]
    assert nearest_word("Break", known) == "brake"
    assert nearest_word("time to colision", known) == "time to collision"
    assert nearest_word("xyz", known) is None


def test_suggestion_lists_what_is_known_when_nothing_is_near() -> None:
    assert suggestion("xyz", ["brake", "jerk"]) == "Known here: `brake`, `jerk`."
    assert "There is none" in suggestion("xyz", [])
    assert suggestion("xyz", [f"name{i}" for i in range(20)]).endswith("and 4 more.")
