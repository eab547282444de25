"""Answers don't hang on the last bit: the same text with noise of 1e-12 in every number of a scenario."""

import io
import random
import re
from pathlib import Path

import pytest
from rich.console import Console

from choreo.case import whole_answer
from choreo.report import content_of, print_content
from choreo.scenario import Scenario, load, loads

FOLDER = Path(__file__).resolve().parents[2] / "scenarios"
NUMBER = re.compile(r"(?<![\w.$-])(\d+(?:\.\d+)?)(?= (?:m|km/h|s|ms|m/s2|m/s3|g)\b)")
NOISE = 1e-12


def noisy(text: str) -> str:
    """Every quantity of the movers and what follows them, up or down by the noise; paths keep their joints."""
    source = random.Random(7)
    head, movers, rest = text.partition("\nmovers:")
    assert movers

    def stirred(match: re.Match[str]) -> str:
        value = float(match[1])
        return repr(value * (1 + source.choice((-NOISE, NOISE)))) if value else match[1]

    stirred_rest, count = NUMBER.subn(stirred, rest)
    assert count > 5
    return head + movers + stirred_rest


def told(scenario: Scenario) -> str:
    """All that a terminal shows of a scenario's plan."""
    found = whole_answer(scenario)
    stream = io.StringIO()
    console = Console(width=200, file=stream, highlight=False, markup=False, emoji=False)
    print_content(content_of(found.scenario, found.plan, full=True), console)
    return stream.getvalue()


@pytest.mark.parametrize("name", ["walker-nearside", "two-encounters", "running-child-parked-vans"])
def test_same_text_with_noise_in_every_number(name: str) -> None:
    file = FOLDER / f"{name}.yaml"
    text = file.read_text(encoding="utf-8")
    assert told(load(file)) == told(loads(noisy(text), str(file), file.parent))
