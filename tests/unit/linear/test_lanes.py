"""Who of one path is behind whom, as the linear stage takes it before it looks for room between them."""

from pathlib import Path

import pytest

from choreo.case import case_at
from choreo.linear.lanes import Ends, Lanes
from choreo.linear.writing import model_of
from choreo.scenario import loads

FOLDER = Path(__file__).parents[3] / "scenarios"
BUNDLED = (FOLDER / "lead-brakes-at-a-gap.yaml").read_text(encoding="utf-8")
GAP = "when: {gap: $headway, to: lead}"
CONTACT = "contact: {kind: contact, of: subject, with: lead, overlap: 50 %}"
ELSEWHERE = "contact: {kind: contact, of: subject, with: walker, overlap: 50 %}"
WALKER = """
  walker:
    like: adult-on-belt
    path: belt-from-right
    programme:
      - ramp: {to: 5 km/h}
      - hold: {until: contact}
      - stop: {}

triggers:
"""


@pytest.mark.parametrize(
    ("when", "pairs"),
    [
        (GAP, [("subject", "lead")]),
        ("when: {station: 300 m}", []),
    ],
)
def test_a_trigger_by_gap_says_who_is_behind(when: str, pairs: list[tuple[str, str]]) -> None:
    """Both may start anywhere, and no encounter is between them."""
    text = BUNDLED
    for old, new in (
        (GAP, when),
        (CONTACT, ELSEWHERE),
        ("    start: {station: 300 m}\n", ""),
        ("\ntriggers:\n", WALKER),
    ):
        assert text.count(old) == 1
        text = text.replace(old, new)
    if when != GAP:
        text = text.replace("  headway: 25 m\n", "")
    staging = case_at(loads(text, "lanes.yaml", FOLDER), None).staging
    ends = {name: Ends(3.0, 1.0) for name in ("subject", "lead", "walker")}
    lanes = Lanes(model_of(staging.problem, {}), staging.paths, ends)
    assert [(pair.behind, pair.ahead) for pair in lanes.pairs] == pairs
