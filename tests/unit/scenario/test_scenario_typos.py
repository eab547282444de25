"""A slip of one letter, anywhere: it is refused with the word that was meant, or nothing hangs on it."""

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from choreo.scenario import Scenario, load, loads
from choreo.scenario import loading as loading_module
from choreo.scenario.records.plain_data import as_json
from choreo.words import ChoreoError, Finding
from tests.unit.scenario.example import EVERYTHING, write_everything

SIGHT = """\
sights:
  glimpse: {from: subject, to: lead, share: 50 %, first seen at: 2 s to collision, moving: van, within: 9 m}
safety: {clearance: 1 m, abort margin: 0.5 m, keep out: 8 m}
"""
TEXT = EVERYTHING + SIGHT
# Not the units behind a number: `m` and `mm` both mean something.
WORD = re.compile(r"(?<![0-9/])(?<![0-9] )\b[A-Za-z_][A-Za-z_0-9-]*")
# Lines of text for people.
FREE_TEXT = ("title:", "about:", "  Costs")


@dataclass(frozen=True)
class Slip:
    """A text with one letter wrong, in the word at `line`."""

    line: int
    word: str
    wrong: str
    text: str


def slips(text: str) -> Iterator[Slip]:
    """Slips in every word, at every second letter: by turns a letter too few, a wrong one, one too many."""
    number = 0
    for match in WORD.finditer(text):
        begin = text.rfind("\n", 0, match.start()) + 1
        if text[begin:].startswith(FREE_TEXT):
            continue
        word = match[0]
        for at in range(0, len(word), 2):
            other = "q" if word[at] != "q" else "x"
            wrong = (
                word[:at] + word[at + 1 :],
                word[:at] + other + word[at + 1 :],
                word[:at] + word[at] + word[at:],
            )[number % 3]
            number += 1
            rest = text[: match.start()] + wrong + text[match.end() :]
            yield Slip(text.count("\n", 0, match.start()) + 1, word, wrong, rest)


def outcome_of(text: str, folder: Path) -> tuple[tuple[Finding, ...], Scenario | None]:
    """The scenario, or the faults that it is refused for."""
    try:
        return (), loads(text, "a.yaml", folder)
    except ChoreoError as error:
        return error.findings, None


def meaning_of(scenario: Scenario, wrong: str = "", word: str = "") -> str:
    """All that decides a plan, as text; a name that was only spelt otherwise everywhere counts as the same."""
    text = json.dumps(scenario.meaning(), default=as_json)
    return re.sub(rf'"{re.escape(wrong)}"', f'"{word}"', text) if wrong else text


def names_what_was_meant(findings: tuple[Finding, ...], word: str) -> bool:
    return any(re.search(rf"\b{re.escape(word)}\b", one.text + one.advice) for one in findings)


def test_every_slip_of_one_letter_is_refused_with_the_word_meant_or_changes_nothing(
    tmp_path: Path,
) -> None:
    write_everything(tmp_path)
    meant = meaning_of(loads(TEXT, "a.yaml", tmp_path))
    refused, unnamed, harmless, changed = [], [], set(), []
    for slip in slips(TEXT):
        faults, scenario = outcome_of(slip.text, tmp_path)
        if scenario is None:
            refused.append(slip)
            unnamed += [] if names_what_was_meant(faults, slip.word) else [slip]
        else:
            harmless.add(slip.word)
            changed += [] if meaning_of(scenario, slip.wrong, slip.word) == meant else [slip]
    assert len(refused) > 600
    assert unnamed == []
    assert changed == []
    # Names that nothing in this file refers to.
    assert harmless == {"other_way", "survey", "near", "pass", "T1", "glimpse"}


@pytest.mark.parametrize("key", ["of", "with"])
@pytest.mark.parametrize(
    "kind",
    [
        "kind: contact, {}, overlap: 50 %",
        "kind: gap, {}, distance: 5 m, at: T0",
        "kind: pass, {}, time: 1 s, first: lead",
    ],
)
def test_encounter_of_a_mover_that_is_not_there_is_refused_with_the_nearest(
    kind: str, key: str, tmp_path: Path
) -> None:
    movers = {"of": "subject", "with": "lead"} | {key: "leaad" if key == "with" else "subjct"}
    both = f"of: {movers['of']}, with: {movers['with']}"
    text = EVERYTHING.replace("encounters:\n", f"encounters:\n  other: {{{kind.format(both)}}}\n")
    write_everything(tmp_path)
    with pytest.raises(ChoreoError) as caught:
        loads(text, "a.yaml", tmp_path)
    (finding,) = caught.value.findings
    assert finding.code == "scenario.unknown-name"
    right = "subject" if key == "of" else "lead"
    assert finding.advice == f"Did you mean `{right}`?"


def test_what_is_written_but_was_not_made_is_a_fault(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whatever the making of records overlooks: no entry is left out in silence."""
    monkeypatch.setattr(loading_module, "encounter_of", lambda *_: None)
    monkeypatch.setattr(loading_module, "check_triggers", lambda _, triggers, *__: triggers)
    with pytest.raises(ChoreoError) as caught:
        load(write_everything(tmp_path))
    assert {(one.code, one.values["name"]) for one in caught.value.findings} == {
        ("scenario.left-out", "contact"),
        ("scenario.left-out", "near"),
        ("scenario.left-out", "pass"),
    }


def test_a_misspelt_file_is_refused_with_the_nearest_beside_it(tmp_path: Path) -> None:
    write_everything(tmp_path)
    with pytest.raises(ChoreoError) as caught:
        loads(EVERYTHING.replace("site.yaml", "sight.yaml"), "a.yaml", tmp_path)
    (finding,) = caught.value.findings
    assert finding.code == "input.missing-file"
    assert finding.origin is not None
    assert finding.origin.line == 6
    assert "`site.yaml`" in finding.advice
