"""`choreo rules`: sets, families, a family's rules with clauses, the published matrix as a campaign."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from choreo.campaigns.reading import load_campaign
from choreo.commands.entry import group
from choreo.rules.campaign import SCENARIO, values_of
from choreo.rules.reading import bundled, bundled_names

SCENARIOS = Path(__file__).parents[3] / "scenarios"


def ran(*args: str, code: int = 0) -> Result:
    result = CliRunner().invoke(group, ["rules", *args])
    assert result.exit_code == code, result.output
    return result


def test_sets_and_families_are_listed() -> None:
    text = ran().output
    assert len(bundled_names()) >= 9
    assert [name for name in bundled_names() if name not in text] == []
    families = ran("fmvss-127").output
    assert "3 s before lead brakes" in families
    assert "This is not the newest version." in families


def test_rules_of_a_family_are_told_with_their_clauses() -> None:
    text = ran("en-fc-1.1", "braking", "lead", "--width", "160").output
    row = next(line for line in text.splitlines() if line.lstrip().startswith("FC-B10 "))
    assert "target: time gap" in row
    assert "+0.1 / -0 s about 1 s" in row
    assert "4.3.2" in row
    assert "12-pole phaseless Butterworth, 10 Hz" in text
    # Windows that no band of the family uses are none of its rules.
    assert "before braking" in text
    assert "in the turn" not in text
    house = ran(str(SCENARIOS / "rules" / "house.yaml"), "stationary lead").output
    assert "on top of en-fc-1.1" in house


def test_json_is_one_document() -> None:
    whole = json.loads(ran("--json").output)
    assert {one["set"] for one in whole["sets"]} == set(bundled_names())
    family = json.loads(ran("un-r152", "stationary car", "--json").output)["families"][0]
    band = next(rule for rule in family["rules"] if rule["id"] == "R152-B1")
    assert (band["lower"], band["upper"]) == (pytest.approx(-2 / 3.6), 0.0)
    assert family["cells"] == 4


def test_the_matrix_is_a_campaign_for_the_users_scenario(tmp_path: Path) -> None:
    target = tmp_path / "campaign.yaml"
    ran("en-fc-1.1", "crossing pedestrian", "--matrix", "-o", str(target))
    text = target.read_text()
    assert "test_speed: [10 km/h, 20 km/h" in text
    own = (SCENARIOS / "walker-by-rules.yaml").read_text()
    needed = values_of(bundled("en-fc-1.1").families["crossing pedestrian"])
    assert set(needed) == {"test_speed", "target_speed", "overlap"}
    assert [name for name in needed if f"{name}:" not in own] == []
    path = SCENARIOS / "walker-by-rules.yaml"
    target.write_text(text.replace(SCENARIO, str(path)))
    campaign = load_campaign(target)
    assert campaign.most == 120
    assert campaign.day is not None


def test_a_matrix_that_isnt_known_and_misspelt_names_are_refused() -> None:
    assert (
        "no cells of turn into cyclist are known"
        in ran("en-fc-1.1", "turn into cyclist", "--matrix", code=2).output
    )
    assert "Did you mean `en-fc-1.1`?" in ran("en-fc-1.2", code=2).output
    assert "Did you mean `braking lead`?" in ran("en-fc-1.1", "breaking lead", code=2).output
    assert "add --matrix" in ran("en-fc-1.1", "braking lead", "-o", "x.yaml", code=2).output
