"""Rule sets are read, with what a house changes of them; faults tell file, line and what to write."""

from pathlib import Path

import pytest

from choreo.rules.campaign import campaign_of
from choreo.rules.numbers import Bounds, bounds_of, told_bounds
from choreo.rules.reading import bundled, rule_set
from choreo.rules.records import Band, BetweenRuns, EventRef, Settle, named
from choreo.words import ChoreoError
from choreo.words.quantities import QuantityError

KMH = 1 / 3.6
HOUSE = """\
choreo rules: 1
title: House rules
document: House rules of an invented test centre
version: "3"
builds on: en-fc-1.1
bands:
  FC-B1: {within: +0.5 / -0 km/h}
  H1: {of: walker, signal: lateral deviation, within: +/- 0.03 m, window: first reaction, clause: page 4}
settles:
  H2: {before: T0, lasting: 2 s}
families:
  crossing pedestrian: {rules: [H1, H2], without: [FC-B9]}
"""


def written(folder: Path, text: str) -> str:
    (folder / "house.yaml").write_text(text)
    return "house.yaml"


def faults(folder: Path, text: str) -> list[str]:
    with pytest.raises(ChoreoError) as caught:
        rule_set(written(folder, text), folder)
    return [f"{one.origin.line if one.origin else 0} {one.text}" for one in caught.value.findings]


def test_an_instant_that_may_be_kept_instead_is_another_one_of_the_file(tmp_path: Path) -> None:
    text = HOUSE.replace(
        "settles:",
        "instants:\n  H3: {at: contact, of: walker, signal: impact offset, within: +/- 1 m, or else: OTHER}\nsettles:",
    )
    (fault,) = faults(tmp_path, text.replace("OTHER", "H3"))
    assert "H3" in fault


def test_bounds_as_people_write_them() -> None:
    assert bounds_of("+/- 0.05 m", "m") == Bounds(-0.05, 0.05)
    assert bounds_of("+1.0 / -0 km/h", "m/s") == Bounds(0.0, pytest.approx(KMH))
    assert bounds_of("12..40 m", "m") == Bounds(12.0, 40.0)
    assert bounds_of("at least 0.9", "1") == Bounds(0.9, None)
    assert bounds_of("at most 40 degC", "degC") == Bounds(None, 40.0)
    assert bounds_of("-0.5 g..-0.3 g", "m/s2") == Bounds(
        pytest.approx(-4.903325), pytest.approx(-2.941995)
    )
    for text, unit in (("+/- 1 m", "m/s"), ("1 km/h", "m/s"), ("", "m"), ("40..12 m", "m")):
        with pytest.raises(QuantityError):
            bounds_of(text, unit)


def test_bounds_are_told_as_they_are_written() -> None:
    texts = ("+/- 0.05 m", "+1 / -0 km/h", "at least 0.9", "12..40 m")
    units = ("m", "m/s", "1", "m")
    told = [
        told_bounds(bounds_of(t, u).lower, bounds_of(t, u).upper, u)
        for t, u in zip(texts, units, strict=True)
    ]
    assert told == list(texts)
    assert told_bounds(None, None, "m") == "no bound"
    assert told_bounds(-0.15, 0.15, "m/s", "lateral velocity") == "+/- 0.15 m/s"


def test_rules_of_a_family() -> None:
    family = bundled("en-fc-1.1").families["braking lead"]
    assert family.t0 == EventRef("lead brakes", -1.0)
    gap = family.bands["FC-B10"]
    assert (gap.signal, gap.reference.value, gap.lower, gap.upper) == ("time gap", 1.0, 0.0, 0.1)
    assert gap.source.words == "EN-FC v1.1, 4.3.2"
    between = next(family.of(BetweenRuns))
    assert (between.lower, between.upper) == (90.0, 600.0)
    assert family.windows["first reaction"].ends[0] == EventRef("automatic braking")


def test_house_rules_change_and_add(tmp_path: Path) -> None:
    rules = rule_set(written(tmp_path, HOUSE), tmp_path)
    family = rules.families["crossing pedestrian"]
    changed, kept, own = (family.bands[name] for name in ("FC-B1", "FC-B7a", "H1"))
    assert (changed.lower, changed.upper) == (0.0, pytest.approx(0.5 * KMH))
    assert changed.source.document == "House rules of an invented test centre"
    assert kept.source.document == "EN-FC"
    assert own.source.clause == "page 4"
    assert "FC-B9" not in family.bands
    assert [one.lasting_s for one in family.of(Settle)] == [0.5, 2.0]
    assert rules.builds_on == "en-fc-1.1"
    assert (rules.newest, rules.on_newest) == (True, False)
    other = rules.families["stationary lead"]
    assert other.bands["FC-B1"].upper == pytest.approx(0.5 * KMH)
    assert "H1" not in other.bands
    assert len(family.matrix) == 4
    before = bundled("en-fc-1.1").families["crossing pedestrian"].bands["FC-B1"]
    assert isinstance(before, Band)
    assert before.upper == pytest.approx(KMH)


def test_impact_speeds_are_as_many_as_speeds(tmp_path: Path) -> None:
    text = (
        "choreo rules: 1\ntitle: Mine\ndocument: House\nfamilies:\n  wall:\n    movers: [subject]\n"
        "    impact speeds: {of: subject speed, unit: km/h, speeds: [20, 10], at most: {all: [0]}}\n"
    )
    with pytest.raises(ChoreoError) as caught:
        rule_set(written(tmp_path, text), tmp_path)
    told = [f"{one.origin.line if one.origin else 0} {one.text}" for one in caught.value.findings]
    assert any(
        "7 families > wall > impact speeds > speeds: the speeds don't rise" in one for one in told
    )
    assert any("1 impact speeds for 2 speeds" in one for one in told)


def test_a_house_set_is_as_new_as_it_says_and_its_base_is_told_apart(tmp_path: Path) -> None:
    path = tmp_path / "mine.yaml"
    path.write_text(
        "choreo rules: 1\ntitle: Mine\ndocument: House\nversion: '2'\nbuilds on: en-fc-1.1\n"
        "families: {crossing pedestrian: {}}\n"
    )
    mine = rule_set(str(path), tmp_path)
    assert (mine.newest, mine.on_newest) == (True, False)
    assert mine.named == "House v2"
    assert named("ISO 22733-1", "2021") == "ISO 22733-1:2021"
    family = mine.families["crossing pedestrian"]
    assert "set: house/mine.yaml, family" in campaign_of(mine, family, "house/mine.yaml")


def test_a_band_takes_its_window_along(tmp_path: Path) -> None:
    text = HOUSE.replace(
        "bands:\n", "windows:\n  HW: {starts: T0, ends: [contact], clause: page 5}\nbands:\n"
    )
    text = text.replace("window: first reaction", "window: HW")
    family = rule_set(written(tmp_path, text), tmp_path).families["crossing pedestrian"]
    assert family.bands["H1"].window == "HW"
    assert "HW" in family.windows


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("within: +/- 0.03 m", "within: +/- 3 km/h", "8 bands > H1 > within: `km/h` isn't a unit"),
        ("window: first reaction", "window: first", "8 there is no window named `first`"),
        ("signal: lateral deviation", "signal: sway", "8 bands > H1 > signal: `sway`"),
        ("before: T0", "before: TO", "10 settles > H2 > before: `TO` is no moment of a run"),
        ("rules: [H1, H2]", "rules: [H1, H3]", "12 there is no rule named `H3`"),
        ("without: [FC-B9]", "without: [FC-B99]", "12 there is no rule named `FC-B99`"),
        ("builds on: en-fc-1.1", "builds on: en-fc-1.3", "5 there is no bundled rule set"),
        ("builds on: en-fc-1.1", "builds on: house.yaml", "sets build on each other in a circle"),
        ("lasting: 2 s", "lasting: 2 s, for: 3 s", "10 `for` is not known in settles > H2"),
        ("H2: {before", "H1: {before", "10 `H1` is the id of another rule already"),
        ("choreo rules: 1", "choreo: 1", "1 "),
        ("FC-B1: {", "FC-B99: {", "7 there is no rule named `FC-B99`"),
        (
            "crossing pedestrian: {",
            "crossing pedestrians: {",
            "12 families > crossing pedestrians: it isn't said",
        ),
    ],
)
def test_a_fault_is_told_at_its_place(old: str, new: str, told: str, tmp_path: Path) -> None:
    text = HOUSE.replace(old, new)
    assert text != HOUSE
    found = faults(tmp_path, text)
    assert any(told in one for one in found), found
    assert all("Traceback" not in one for one in found)
    # A slip of an id or of a family is one fault, and not one for each key that it lacks.
    assert len(found) == 1 or not ("FC-B99: {" in new or "pedestrians" in new), found


def test_a_set_that_has_changed_is_read_anew(tmp_path: Path) -> None:
    first = rule_set(written(tmp_path, HOUSE), tmp_path)
    assert rule_set("house.yaml", tmp_path) is first
    again = rule_set(written(tmp_path, HOUSE.replace("+0.5 / -0", "+0.75 / -0")), tmp_path)
    upper = again.families["crossing pedestrian"].bands["FC-B1"].upper
    assert upper == pytest.approx(0.75 * KMH)
