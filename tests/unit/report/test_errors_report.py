"""What is said of many runs, in words and plain characters."""

from dataclasses import replace

import pytest

from choreo.plans.errors_record import Distribution
from choreo.report.effects import OUTCOMES, effect_words, per_cent, reading, small, spread_words
from choreo.report.errors import errors_content
from choreo.report.histogram import histogram_lines
from choreo.report.sections import Notes, Table
from tests.unit.page.shown import whole
from tests.unit.report.told_by_hand import SHARES, SOURCES, TOLD

CONTACT = TOLD.encounters["contact"]


@pytest.mark.parametrize(
    ("value", "unit", "words"),
    [
        (0.036, "m", "3.6 cm"),
        (-0.0004, "m", "-0.04 cm"),
        (1.25, "m", "1.2 m"),
        (0.0123, "s", "12 ms"),
        (1.5, "s", "1.5 s"),
        (0.3 / 3.6, "m/s", "0.30 km/h"),
        (-0.02, None, "-2.0 %"),
        (-1e-9, "m", "0.00 cm"),
    ],
)
def test_small_numbers_are_told_as_people_say_them(
    value: float, unit: str | None, words: str
) -> None:
    assert small(value, unit) == words  # type: ignore[arg-type]


def test_chance_is_never_rounded_to_all_or_nothing() -> None:
    assert [per_cent(one) for one in (0.0, 1e-5, 0.924, 0.99999, 1.0)] == [
        "0.0 %", "< 0.1 %", "92.4 %", "> 99.9 %", "100.0 %",
    ]  # fmt: skip


def test_effect_has_sign_and_unit_in_words() -> None:
    first, outcome = TOLD.first_order["contact"], OUTCOMES["overlap"]
    told = [effect_words(SOURCES[one.source], one.derivative, first, outcome) for one in SHARES]
    assert told == [
        "10 cm forward moves it 10 cm to the left",
        "1 % stronger moves it 0.75 cm to the right",
        "10 ms more moves it 1.4 cm to the right",
        "",
        "10 ms later moves it 1.4 cm to the right",
        "1 km/h faster does nothing",
        "10 cm forward does nothing",
    ]
    gap = OUTCOMES["time gap"]
    assert effect_words(SOURCES[5], 0.5, replace(first, unit="s"), gap) == (
        "10 ms more makes it 5.0 ms longer"
    )


def test_spread_tells_bias_shape_and_memory() -> None:
    assert [spread_words(SOURCES[index]) for index in (0, 3, 4, 6)] == [
        "0.30 km/h",
        "-2.0 % +/- 2.0 %",
        "0.07 km/h over 3 s",
        "2.9 ms, uniform",
    ]


def test_answer_is_told_with_what_failed_what_was_assumed_and_what_was_cut() -> None:
    plan = whole("walker-nearside").plan
    content = errors_content(plan, TOLD, wanted=0.9)
    assert content.verdict == "infeasible"
    assert content.headline == "VALID IN 83.9 %"
    assert content.summary == (
        "Valid in 83.9 % of runs (83.8 to 85.2), 1.19 tries a valid run. 10724 runs drawn, seed 1. "
        "Wanted: 90 %, which it is too rarely."
    )
    (shares,) = (one for one in content.sections if one.key == "shares")
    assert isinstance(shares, Table)
    assert [row[1] for row in shares.rows] == ["55.0 %", "25.0 %", "15.0 %", "4.5 %", "0.5 %"]
    assert [row[0][0] == "*" for row in shares.rows] == [True, False, False, False, False]
    (causes,) = (one for one in content.sections if one.key == "causes")
    assert isinstance(causes, Table)
    assert causes.rows[0][1:] == ("1724", "16.1 %", "walker: start mark along its path (1200 runs)")
    notes = {one.title: one.lines for one in content.sections if isinstance(one, Notes)}
    assert notes["start marks: which to measure with care"][0] == (
        "subject: along its path its start mark matters not at all"
    )
    assert notes["* assumed, common practice, no source"][0].endswith("2.0 cm: walker")
    assert "0.1 % of what is written can't be and was cut off" in notes["notes"][0]
    assert "believe the runs" in notes["notes"][1]


def test_histogram_tells_inside_from_outside_and_never_crosses_the_tolerance() -> None:
    values = CONTACT.values
    assert values is not None
    *bars, legend = histogram_lines(CONTACT, values, 80)[1:]
    assert max(map(len, bars)) <= 80
    assert legend == "# inside 0.0 +/- 5.0 cm, x outside; each line is 2.0 cm wide."
    inside = [float(line.split("|")[0]) for line in bars if "|#" in line]
    assert inside == [4.0, 2.0, 0.0, -2.0, -4.0]
    # Where it can't be otherwise, a line on the tolerance's edge says so.
    odd = Distribution("m", 0.0, 0.05, -0.2, 0.2, {}, (-0.2, -0.04, 0.12, 0.28), (1, 2, 1))
    lines = histogram_lines(CONTACT, odd, 80)
    assert "+ on its edge" in lines[-1]
    assert [line.split("|")[1][0] for line in lines[1:-1]] == ["x", "+", "+"]


def test_runs_that_are_all_alike_are_told_without_bars() -> None:
    flat = Distribution("m", 0.02, 0.0, 0.02, 0.02, {}, (0.02, 0.02, 0.02), (0, 5))
    assert histogram_lines(CONTACT, flat, 80) == ["all runs at 2.00 cm"]


def test_scenario_without_encounters_says_when_a_run_is_valid() -> None:
    alone = replace(TOLD, encounters={}, first_order={})
    content = errors_content(whole("walker-nearside").plan, alone)
    notes = {one.title: one.lines for one in content.sections if isinstance(one, Notes)}
    assert any(line.startswith("there is no encounter") for line in notes["notes"])
    assert "start marks: which to measure with care" not in notes


def test_place_of_a_value_is_told_finer_than_its_spread() -> None:
    assert [reading(-0.003, "m"), reading(15.024, "m"), reading(1.0034, "s")] == [
        "-0.30 cm",
        "15.02 m",
        "1.003 s",
    ]
