"""The work that long faulty files make is bounded: by what is compared, not by a clock."""

from difflib import get_close_matches
from pathlib import Path

import pytest

from choreo.scenario import loads
from choreo.words import ChoreoError, nearest
from choreo.words.quantities import QuantityError, parse
from tests.unit.scenario.example import WALKER

HOLD = "      - hold: {until: contact}\n"
POST = "{stand: {at: [0 m, 0 m]}, body: {length: 1 m, width: 1 m}}"


def test_thousands_of_phases_are_told_like_a_few() -> None:
    # Names that were counted from 2 for each phase anew took minutes here.
    text = WALKER.replace(HOLD, HOLD.replace("contact", "contcat") * 5000)
    with pytest.raises(ChoreoError) as caught:
        loads(text, "a.yaml", Path())
    assert len(caught.value.findings) > 90


def test_a_misspelt_name_is_compared_with_few_however_many_there_are(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    compared = []

    def counted(word: str, known: list[str], n: int, cutoff: float) -> list[str]:
        compared.append(len(known))
        return get_close_matches(word, known, n, cutoff)

    monkeypatch.setattr(nearest, "get_close_matches", counted)
    posts = "".join(f"  post{i}: {POST}\n" for i in range(300))
    bad = "".join(f"  t{i}: {{watch: posst{i}, when: {{station: 1 m}}}}\n" for i in range(30))
    with pytest.raises(ChoreoError):
        loads(WALKER.replace("\ntriggers:\n", f"{posts}\ntriggers:\n{bad}"), "a.yaml", Path())
    assert max(compared) == nearest.MOST_COMPARED


def test_the_nearest_of_very_many_words_is_still_found() -> None:
    assert nearest.nearest_word("lanee7", [*(f"lane{i}" for i in range(3000)), "other"]) is not None
    assert nearest.nearest_word("speeed", [*(f"v{i}" for i in range(3000)), "speed"]) == "speed"


@pytest.mark.parametrize("text", ["6" * 100_000 + " " * 50_000 + "q", "6-" * 50_000 + " ms"])
def test_a_page_pasted_into_a_value_is_not_looked_through(text: str) -> None:
    # A pattern went over the blanks once for every one of them: 20 s.
    with pytest.raises(QuantityError) as caught:
        parse(text, "time")
    assert caught.value.instead == "Write a time, like `2 s`."
    assert len(caught.value.wrong) < 100
