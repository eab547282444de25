"""A scenario that names rules: what it leaves out comes from them, what is less strict is told with its clause."""

from pathlib import Path

import pytest

from choreo.rules.applied import applied
from choreo.scenario import Gap, Scenario, load, loads
from choreo.words import CATALOGUE, ChoreoError

SCENARIOS = Path(__file__).parents[3] / "scenarios"
FAULTY = sorted((SCENARIOS / "faulty").glob("rules.*.yaml"))
# Codes that a rule set's own file or a command has, and those of a set that is used.
ELSEWHERE = {"rules.same-id", "rules.no-matrix"}
NOTES = {
    "rules.filled",
    "rules.no-start-of-test",
    "rules.outdated",
    "rules.second-hand",
    "rules.off-grid",
    "rules.wider",
    "rules.settle",
    "rules.not-steady",
    "rules.late-start-of-test",
    "rules.condition",
    "rules.surroundings",
    "rules.one-sided",
}
WALKER = (SCENARIOS / "walker-by-rules.yaml").read_text()
LEAD = (SCENARIOS / "braking-lead-time-gap.yaml").read_text()
KMH = 1 / 3.6


def by_rules(text: str, old: str = "", new: str = "") -> Scenario:
    assert old in text
    return applied(loads(text.replace(old, new, 1), "own.yaml", SCENARIOS))


def told(scenario: Scenario, code: str) -> list[str]:
    return [note.text for note in scenario.notes if note.code == code]


@pytest.mark.parametrize("path", FAULTY, ids=lambda path: path.stem)
def test_a_fault_is_at_its_line(path: Path) -> None:
    with pytest.raises(ChoreoError) as caught:
        applied(load(path))
    (finding,) = caught.value.findings
    assert finding.code == path.stem
    assert finding.origin is not None
    lines = path.read_text().splitlines()
    assert lines[finding.origin.line - 1].endswith("# here")
    assert finding.advice


def test_every_code_of_rules_is_known_here() -> None:
    codes = {code for code in CATALOGUE if code.startswith("rules.")}
    assert codes == {path.stem for path in FAULTY} | ELSEWHERE | NOTES


def test_what_is_left_out_comes_from_the_set() -> None:
    scenario = by_rules(WALKER)
    subject, walker = scenario.tolerances["subject"], scenario.tolerances["walker"]
    assert subject.speed_mps == (0.0, pytest.approx(1.0 * KMH))
    assert subject.beside_m == (-0.05, 0.05)
    assert walker.speed_mps == (pytest.approx(-0.2 * KMH), pytest.approx(0.2 * KMH))
    assert walker.since is not None
    assert walker.since.name == "T0"
    assert scenario.instants["T0"].by_s == -0.5
    assert scenario.movers["walker"].programme[2].settle_s == 0.5
    assert scenario.movers["subject"].programme[1].settle_s == 2.0
    (note,) = told(scenario, "rules.filled")
    assert "settle of walker 0.5 s (EN-FC v1.1, 1.5.1)" in note
    assert applied(scenario) is scenario


def test_a_contact_takes_its_tolerance_from_the_set() -> None:
    federal = by_rules(WALKER, "en-fc-1.1", "fmvss-127")
    assert federal.encounters["contact"].tolerance_m == 0.15
    assert (
        "tolerance of contact 0.15 m (49 CFR 571.127, S8.1.2)" in told(federal, "rules.filled")[0]
    )
    own = by_rules(
        WALKER.replace("overlap: $overlap", "overlap: $overlap, tolerance: 0.2 m"),
        "en-fc-1.1",
        "fmvss-127",
    )
    assert own.encounters["contact"].tolerance_m == 0.2
    (wide,) = told(own, "rules.wider")
    assert wide == (
        "the tolerance of contact is 0.2 m; the rules allow 0.15 m (49 CFR 571.127, S8.1.2)"
    )


def test_values_off_the_published_grid_are_noted() -> None:
    assert told(by_rules(WALKER), "rules.off-grid") == []
    (speed,) = told(
        by_rules(WALKER, "test_speed: 40 km/h", "test_speed: 45 km/h"), "rules.off-grid"
    )
    assert "subject speed of subject is 45 km/h" in speed
    assert "EN-FC v1.1, 3.2" in speed
    (place,) = told(by_rules(WALKER, "overlap: 50 %", "overlap: 40 %"), "rules.off-grid")
    assert "40 %" in place


def test_a_time_gap_needs_room_inside_its_range() -> None:
    text = LEAD.replace("choreo: 1", "choreo: 1\nrules: {set: en-fc-1.1, family: braking lead}")
    (wide,) = told(by_rules(text), "rules.wider")
    assert wide == "gap is 1 s +/- 0.1 s; the rules allow 1..1.1 s (EN-FC v1.1, 4.3.2)"
    inside = text.replace("time gap: 1.0 s", "time gap: 1.05 s").replace(", tolerance: 0.1 s", "")
    scenario = by_rules(inside)
    assert told(scenario, "rules.wider") == []
    gap = scenario.encounters["gap"]
    assert isinstance(gap, Gap)
    assert gap.tolerance == pytest.approx(0.05)
    assert scenario.instants["T0"].by_s == 1.0


def test_settle_tolerances_and_site_are_held_against_the_set() -> None:
    text = WALKER.replace("en-fc-1.1", "fmvss-127")
    scenario = by_rules(
        text,
        "path: {offset: 0.01 m}}",
        "path: {offset: 0.01 m}}\n    tolerances: {speed: 0.6 km/h}",
    )
    (short,) = told(scenario, "rules.settle")
    assert short == "subject is steady for 2 s; the rules ask for 4 s (49 CFR 571.127, S8.3.4)"
    assert any("walker's speed is +/- 0.6 km/h" in one for one in told(scenario, "rules.wider"))
    (track,) = told(scenario, "rules.condition")
    assert track == "peak friction of strip is 0.95; the rules ask for 1.02 (49 CFR 571.127, S6.2)"


def test_house_rules_ask_for_more() -> None:
    scenario = applied(load(SCENARIOS / "house-rules.yaml"))
    assert scenario.movers["subject"].programme[1].settle_s == 6.0
    speed = scenario.tolerances["subject"].speed_mps
    assert speed == (0.0, pytest.approx(0.8 * KMH))
    assert str(SCENARIOS / "rules" / "house.yaml") in scenario.source_files
    assert any("version 1.2" in one for one in told(scenario, "rules.outdated"))


def test_a_speed_about_a_constant_counts_from_the_planned_one() -> None:
    text = (SCENARIOS / "slower-lead.yaml").read_text()
    text = text.replace("choreo: 1", "choreo: 1\nrules: {set: fmvss-127, family: slower lead}")
    lead = by_rules(text).tolerances["lead"]
    assert lead.speed_mps == (pytest.approx(-1.6 * KMH), pytest.approx(1.6 * KMH))


def test_a_start_of_test_that_isnt_there_is_told() -> None:
    text = (SCENARIOS / "head-on-lane-departure.yaml").read_text()
    text = text.replace("choreo: 1", "choreo: 1\nrules: {set: en-ld-1.1, family: oncoming car}")
    scenario = by_rules(text)
    assert "T0" not in scenario.instants
    assert told(scenario, "rules.no-start-of-test") == [
        "the scenario has no moment that is the start of test of oncoming car: steering begins (en-ld-1.1)"
    ]
