"""Campaign files: what is varied, what the variants are called, and every fault of a matrix at its place."""

import shutil
from pathlib import Path

import pytest

from choreo.campaigns.leaving_out import without_of
from choreo.campaigns.reading import load_campaign
from choreo.campaigns.solving import Asked, Walk
from choreo.campaigns.sweeping import Swept
from choreo.campaigns.table import table_of
from choreo.case import case_of
from choreo.scenario import load, loads
from choreo.words import ChoreoError

SCENARIOS = Path(__file__).parents[3] / "scenarios"
CAMPAIGN = """\
choreo campaign: 1
title: Two runs
runs:
  near:
    scenario: walker-nearside.yaml
    vary: {test_speed: 10..60 km/h by 10 km/h, step_out latency: [40 ms, 60 ms]}
    repeats: 3
  lead:
    scenario: stationary-target.yaml
    together: {test_speed: [50 km/h, 80 km/h], subject braking: [6 m/s2, 5 m/s2]}
    without: [{test_speed: 80 km/h}]
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A copy of the bundled scenarios that campaigns here name."""
    for name in ("walker-nearside.yaml", "stationary-target.yaml", "sites", "fleet"):
        one = SCENARIOS / name
        (shutil.copytree if one.is_dir() else shutil.copy)(one, tmp_path / name)
    return tmp_path


def written(folder: Path, text: str) -> Path:
    file = folder / "week.yaml"
    file.write_text(text, encoding="utf-8")
    return file


def test_variants_have_stable_names_and_the_scenarios_that_they_say(folder: Path) -> None:
    campaign = load_campaign(written(folder, CAMPAIGN))
    variants = list(campaign.variants())
    assert [one.name for one in variants][:3] == [
        "near/test_speed=10 km/h,step_out latency=40 ms",
        "near/test_speed=10 km/h,step_out latency=60 ms",
        "near/test_speed=20 km/h,step_out latency=40 ms",
    ]
    assert [one.name for one in variants][12:] == ["lead/test_speed=50 km/h,subject braking=6 m/s2"]
    assert {one.repeats for one in variants[:12]} == {3}
    scenario = campaign.scenario_of(variants[2])
    assert scenario.movers["subject"].programme[0].to.lo == pytest.approx(20 / 3.6)
    assert scenario.triggers["step_out"].latency_s == 0.04
    # By its text alone it is the same scenario.
    text = (folder / "walker-nearside.yaml").read_text(encoding="utf-8")
    text = text.replace("test_speed: 40 km/h", "test_speed: 20 km/h").replace("60 ms", "40 ms")
    (folder / "alone.yaml").write_text(text, encoding="utf-8")
    assert load(folder / "alone.yaml").meaning() == scenario.meaning()


@pytest.mark.parametrize(
    ("name", "key", "old", "new"),
    [
        ("walker-nearside", "overlap", "50 %", "25 %"),
        ("motorcycle-into-flank", "side", "90 %", "80 %"),
        ("reversing-car", "overlap", "75 %", "70 %"),
    ],
)
def test_where_a_contact_lies_is_varied_by_its_name(
    name: str, key: str, old: str, new: str, tmp_path: Path
) -> None:
    text = (SCENARIOS / f"{name}.yaml").read_text(encoding="utf-8")
    assert text.count(f"{key}: {old}") == 1
    meant = loads(text.replace(f"{key}: {old}", f"{key}: {new}"), "meant.yaml", SCENARIOS)
    whole = f"choreo campaign: 1\ntitle: Places\nruns:\n  a: {{scenario: {SCENARIOS}/{name}.yaml, "
    file = written(tmp_path, f"{whole}vary: {{contact {key}: [{new}]}}}}\n")
    campaign = load_campaign(file)
    (variant,) = campaign.variants()
    assert campaign.scenario_of(variant).encounters == meant.encounters
    file = written(tmp_path, f"{whole}vary: {{contact {key}: [{new}, 250 %]}}}}\n")
    with pytest.raises(ChoreoError) as caught:
        load_campaign(file)
    assert "more than 200 %" in caught.value.findings[0].text


def test_a_scenario_is_a_campaign_of_its_own_vary(folder: Path) -> None:
    campaign = load_campaign(folder / "stationary-target.yaml")
    names = [one.name for one in campaign.variants()]
    assert names[0] == "stationary-target/test_speed=20 km/h"
    assert len(names) == campaign.most == 5


FAULTS = [
    # what is written otherwise, where its first fault is, what it says
    ("10..60 km/h by 10 km/h", "10..65 km/h by 10 km/h", 6, "end at `60 km/h`"),
    ("10..60 km/h by 10 km/h", "60..10 km/h by 10 km/h", 6, "ends below its beginning"),
    ("10..60 km/h by 10 km/h", "10..60 km/h by 0 km/h", 6, "more than zero"),
    ("10..60 km/h by 10 km/h", "10..60 km/h", 6, "without steps"),
    ("10..60 km/h by 10 km/h", "10..60 km/h by ten", 6, "can't be read as steps"),
    ("10..60 km/h by 10 km/h", "10..60 km/h by 3 m/s", 6, "several units"),
    ("10..60 km/h by 10 km/h", "0..60 km/h by 0.001 km/h", 6, "60001 values"),
    ("10..60 km/h by 10 km/h", "[10 km/h, 20 m]", 6, "is a length"),
    ("10..60 km/h by 10 km/h", "[10 km/h, 20]", 6, "not a quantity with a unit"),
    ("10..60 km/h by 10 km/h", "[36 km/h, 10 m/s]", 6, "in the list already"),
    ("10..60 km/h by 10 km/h", "[]", 6, "the list is empty"),
    ("10..60 km/h by 10 km/h", "[20 km/h, 400 km/h]", 6, "no variant with `test_speed: 400 km/h`"),
    ("test_speed: 10", "test_sped: 10", 6, "test_sped"),
    ("step_out latency", "step_out latencies", 6, "step_out latencies"),
    ("step_out latency: [40 ms, 60 ms]", "subject speed: [40 km/h]", 6, "which is varied too"),
    ("[40 ms, 60 ms]", "[40 ms, 60 m]", 6, "is not a time"),
    ("repeats: 3", "repeats: often", 7, "doesn't say how often"),
    ("repeats: 3", "repeat: 3", 7, "`repeat` is not known"),
    ("[6 m/s2, 5 m/s2]", "[6 m/s2]", 10, "not of one length"),
    (
        "[50 km/h, 80 km/h], subject braking: [6 m/s2, 5",
        "[80 km/h, 80 km/h], subject braking: [5 m/s2, 5",
        10,
        "say the same",
    ),
    ("together: {", "vary: {test_speed: [20 km/h]}\n    together: {", 11, "varied already"),
    ("[{test_speed: 80 km/h}]", "[{test_speed: 90 km/h}]", 11, "no value of"),
    ("[{test_speed: 80 km/h}]", "[{speed: 80 km/h}]", 11, "`speed`"),
    ("[{test_speed: 80 km/h}]", "[{}]", 11, "everything"),
    ("[{test_speed: 80 km/h}]", "[{test_speed: 80 km/h}, {test_speed: 50 km/h}]", 11, "left"),
    (
        "[{test_speed: 80 km/h}]",
        "[{test_speed: 80 km/h, subject braking: 6 m/s2}]",
        11,
        "never together",
    ),
    ("scenario: stationary-target.yaml", "scenario: stationary-targets.yaml", 9, "no file"),
]


@pytest.mark.parametrize(("old", "new", "line", "words"), FAULTS)
def test_fault_of_a_matrix_is_told_at_its_place(
    folder: Path, old: str, new: str, line: int, words: str
) -> None:
    assert CAMPAIGN.count(old) == 1
    with pytest.raises(ChoreoError) as caught:
        load_campaign(written(folder, CAMPAIGN.replace(old, new)))
    found = caught.value.findings
    assert words in found[0].text, found[0].text
    origin = found[0].origin
    assert origin is not None
    assert origin.line == line


def test_a_value_that_works_nowhere_is_refused_with_what_leaves_it_out(folder: Path) -> None:
    text = CAMPAIGN.replace("10..60 km/h by 10 km/h", "[20 km/h, 0 km/h]")
    text = text.replace("80 km/h], sub", "500 km/h], sub")
    text = text.replace("    without: [{test_speed: 80 km/h}]\n", "")
    with pytest.raises(ChoreoError) as caught:
        load_campaign(written(folder, text))
    places = [(one.origin.line, one.origin.column) for one in caught.value.findings if one.origin]
    assert places == [(6, 34), (6, 34), (10, 38)]
    leaves = ["[{test_speed: 0 km/h}]", "[{test_speed: 500 km/h, subject braking: 5 m/s2}]"]
    assert leaves[0] in caught.value.findings[0].advice
    assert leaves[1] in caught.value.findings[2].advice
    # As it says, and the rest is read.
    text = text.replace("    repeats: 3", f"    without: {leaves[0]}")
    campaign = load_campaign(written(folder, f"{text}    without: {leaves[1]}\n"))
    assert len(list(campaign.variants())) == 3


def test_falling_steps_are_answered_with_the_same_ones_rising(folder: Path) -> None:
    text = CAMPAIGN.replace("10..60 km/h by 10 km/h", "60..20 km/h by 10 km/h")
    with pytest.raises(ChoreoError) as caught:
        load_campaign(written(folder, text))
    assert "`20..60 km/h by 10 km/h`" in caught.value.findings[0].advice


def test_runs_without_the_word_that_it_is_a_campaign_are_told_what_is_missing(folder: Path) -> None:
    for head in ("choreo: 1\n", ""):
        text = CAMPAIGN.replace("choreo campaign: 1\n", head)
        with pytest.raises(ChoreoError) as caught:
            load_campaign(written(folder, text))
        (fault,) = caught.value.findings
        assert fault.advice == "Begin it with `choreo campaign: 1`."


def test_values_that_only_together_make_no_scenario_are_told_as_variants(folder: Path) -> None:
    """The first variants of both lists make none; each value works with another one."""
    file = folder / "walker-nearside.yaml"
    text = file.read_text(encoding="utf-8").replace("values:\n", "values:\n  top: 90 km/h\n")
    text = text.replace("like: midsize\n", "like: midsize\n    limits: {speed: $top}\n")
    file.write_text(text, encoding="utf-8")
    varied = "{top: [50 km/h, 90 km/h, 100 km/h], test_speed: [60 km/h, 30 km/h]}"
    text = (
        f"choreo campaign: 1\ntitle: a\nruns:\n  near: {{scenario: {file.name}, vary: {varied}}}\n"
    )
    campaign = load_campaign(written(folder, text))
    rows = list(Walk(campaign, Asked()).rows(campaign.variants()))
    assert [row.verdict for row in rows] == [None, *["feasible"] * 5]
    assert without_of(rows) == [{"top": "50 km/h", "test_speed": "60 km/h"}]
    lines = " ".join(table_of(Swept(campaign, tuple(rows), 6), 200))
    assert "`without: [{top: 50 km/h, test_speed: 60 km/h}]`" in lines
    lines = " ".join(table_of(Swept(campaign, (rows[0],), 1), 200))
    assert "none of these values makes a scenario" in lines
    assert "without" not in lines
    # Where a value is all that the faulty ones have in common, it is enough to name it.
    assert without_of([rows[0], *rows[2:]]) == [{"top": "50 km/h"}]


def test_a_scenario_whose_vary_names_no_quantity_is_refused_alone_too(folder: Path) -> None:
    file = folder / "stationary-target.yaml"
    text = file.read_text(encoding="utf-8")
    lines = text.replace("  test_speed: [20", "  subject sped: [20")
    assert lines != text
    file.write_text(lines, encoding="utf-8")
    with pytest.raises(ChoreoError) as caught:
        case_of(load(file))
    assert "subject speed" in caught.value.findings[0].advice
    origin = caught.value.findings[0].origin
    assert origin is not None
    assert origin.line == 18


def test_all_faults_are_told_at_once(folder: Path) -> None:
    text = CAMPAIGN.replace("by 10 km/h", "by 7 km/h").replace("80 km/h}]", "81 km/h}]")
    with pytest.raises(ChoreoError) as caught:
        load_campaign(written(folder, text + "days: {}\n"))
    assert len(caught.value.findings) == 3


def test_a_fault_hides_no_other_one(folder: Path) -> None:
    text = CAMPAIGN.replace("[40 ms, 60 ms]", "[40 m, 40]").replace("repeats: 3", "repeats: 0")
    text = text.replace("80 km/h], sub", "80 km/h, 90 km/h], sub")
    text = text.replace("[{test_speed: 80 km/h}]", "[{speed: 80 km/h}]")
    day = "{from: 08:00, to: 25:00, pauses: [13:00..12:00], first: [far], nobody: {battery: 2 km}, days: 0}"
    with pytest.raises(ChoreoError) as caught:
        load_campaign(written(folder, f"{text}day: {day}\n"))
    told = [one.text for one in caught.value.findings]
    words = ["is not a time", "`40` is not a quantity", "`0` doesn't say", "not of one length"]
    words += ["varied name named `speed`", "`25:00`", "13:00..12:00", "mover named `nobody`"]
    words += ["`swap` is missing", "`0` is no number of days"]
    assert [[word for word in words if word in one] for one in told] == [[word] for word in words]
    # A run with faults is still one that may be named.
    with pytest.raises(ChoreoError) as caught:
        load_campaign(written(folder, f"{text}day: {{first: [near, lead], valid: 0 %}}\n"))
    assert [one.text[:11] for one in caught.value.findings][-1] == "day > valid"
    with pytest.raises(ChoreoError) as caught:
        load_campaign(written(folder, CAMPAIGN.replace("test_speed: 10", "test_sped: 10")))
    assert len(caught.value.findings) == 1
    day = "{from: 08:00, to: 12:00, pauses: [08:00..10:00, 10:00..12:00]}"
    with pytest.raises(ChoreoError) as caught:
        load_campaign(written(folder, f"{CAMPAIGN}day: {day}\n"))
    assert "no time of the day" in caught.value.findings[0].text
