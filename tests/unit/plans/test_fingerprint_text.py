"""A fingerprint is told of the whole meaning as one text, whatever is remembered of its parts."""

import hashlib
import json
from pathlib import Path

from choreo.plans.fingerprint import LETTERS, fingerprint_of
from choreo.scenario import load
from choreo.scenario.records.plain_data import as_json

SCENARIOS = Path(__file__).parents[3] / "scenarios"


def test_a_fingerprint_is_that_of_the_whole_text_the_first_time_and_again() -> None:
    meant, whole = [], []
    for name in (
        "cut-out-reveals-stationary",
        "junction-crossing",
        "errors-smallest",
        "door-opens-before-cyclist",
    ):
        meaning = load(SCENARIOS / f"{name}.yaml").meaning()
        text = json.dumps(meaning, sort_keys=True, default=as_json, separators=(",", ":"))
        whole += [hashlib.sha256(text.encode()).hexdigest()[:LETTERS]] * 2
        meant += [fingerprint_of(meaning), fingerprint_of(meaning)]
    assert meant == whole
    assert len(set(meant)) == 4
