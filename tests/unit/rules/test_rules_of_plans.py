"""A plan held against its rules, the sheet's tables of them, and what a campaign takes from them."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from choreo.campaigns.reading import load_campaign
from choreo.commands.stresses import document_of
from choreo.page.sheet_rules import conditions_html, limits_html
from choreo.rules.planned import findings_of_plan
from tests.answers import whole

SCENARIOS = Path(__file__).parents[3] / "scenarios"
CAMPAIGN = """\
choreo campaign: 1
title: By the rules
runs:
  near: {scenario: walker.yaml, vary: {test_speed: [20 km/h, 40 km/h]}}
  often: {scenario: walker.yaml, repeats: 5}
day: {to: 16:00}
"""


def test_a_plan_is_held_against_its_rules() -> None:
    answer = whole("walker-by-rules")
    plan, scenario, paths = answer.plan, answer.scenario, answer.paths
    assert plan.verdict == "feasible"
    assert findings_of_plan(scenario, paths, plan, []) == ()
    ramp_end = next(e.time_s for e in plan.movers["walker"].events if e.name == "end of ramp")
    assert plan.instants["T0"].time_s == pytest.approx(ramp_end + 0.5, abs=1e-6)
    early = replace(plan.instants["T0"], time_s=ramp_end - 1.0)
    found = findings_of_plan(scenario, paths, replace(plan, instants={"T0": early}), [])
    (late,) = found
    assert late.code == "rules.not-steady"
    assert late.text == (
        f"walker still changes its speed until {ramp_end:.3f} s; T0 is at {ramp_end - 1:.3f} s "
        "(EN-FC v1.1, 4.3.2)"
    )


def test_a_test_that_starts_at_the_contact_is_warned_of() -> None:
    answer = whole("walker-by-rules")
    plan = answer.plan
    at = plan.encounters["contact"].time_s
    for t0_s, codes in ((at - 0.1, []), (at, ["rules.late-start-of-test"])):
        t0 = replace(plan.instants["T0"], time_s=t0_s)
        changed = replace(plan, instants={"T0": t0})
        found = findings_of_plan(answer.scenario, answer.paths, changed, [])
        assert [one.code for one in found] == codes


def test_an_obstacle_beside_the_way_is_warned_of() -> None:
    answer = whole("walker-by-rules")
    box = np.array([[440.0, 4.0], [442.0, 4.0], [442.0, 6.0], [440.0, 6.0]])
    args = (answer.scenario, answer.paths, answer.plan)
    (near,) = findings_of_plan(*args, [box])
    assert near.code == "rules.surroundings"
    assert "is 4 m beside the way of subject; the rules want 5 m free (EN-FC v1.1, 2)" in near.text
    assert findings_of_plan(*args, [box + np.array([0.0, 1.5])]) == ()


def test_the_sheet_has_conditions_and_limits_with_clauses() -> None:
    scenario = whole("walker-by-rules").scenario
    conditions, limits = conditions_html(scenario), limits_html(scenario)
    assert "Rules: EN-FC v1.1" in conditions
    assert "Rules: EN-FC v1.1" in limits
    assert "5..40 degC" in conditions
    assert "three stops from 72 km/h" in conditions
    assert "walker: speed" in limits
    assert "from T0 to automatic braking or warning or intervention" in limits
    without = whole("walker-nearside").scenario
    assert (conditions_html(without), limits_html(without)) == ("", "")


def test_a_campaign_has_repeats_and_spacing_of_the_rules(tmp_path: Path) -> None:
    text = (SCENARIOS / "walker-by-rules.yaml").read_text()
    for folder in ("sites", "fleet"):
        (tmp_path / folder).symlink_to(SCENARIOS / folder)
    (tmp_path / "walker.yaml").write_text(text)
    (tmp_path / "c.yaml").write_text(CAMPAIGN)
    campaign = load_campaign(tmp_path / "c.yaml")
    assert [run.repeats for run in campaign.runs.values()] == [1, 5]
    assert campaign.day is not None
    assert (campaign.day.rules.least_gap_s, campaign.day.rules.most_gap_s) == (90.0, 600.0)
    assert campaign.day.spacing_by == "EN-FC v1.1, 4.3.1"
    other = text.replace("en-fc-1.1", "un-r152")
    (tmp_path / "walker.yaml").write_text(other)
    campaign = load_campaign(tmp_path / "c.yaml")
    assert [run.repeats for run in campaign.runs.values()] == [2, 5]
    assert campaign.day is not None
    assert campaign.day.spacing_by == ""


def test_runs_with_errors_say_what_comes_from_the_rules() -> None:
    document = document_of(whole("walker-by-rules"), None, None)
    assert isinstance(document["rules"], list)
    assert any("walker may be off: speed +/- 0.2 km/h" in one for one in document["rules"])
    assert document_of(whole("walker-nearside"), None, None)["rules"] == []
