"""Units and ranges. Factors: international mile 1609.344 m (1959 agreement, exact); standard gravity
9.80665 m/s2 (3rd CGPM 1901, exact): MEMORY."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from choreo.words.quantities import QuantityError, kind_of, parse, parse_range
from choreo.words.units import KINDS, SPELLINGS, UNITS

GOOD = [
    ("12 m", "length", 12.0),
    ("-3.5 m", "length", -3.5),
    ("45 cm", "length", 0.45),
    ("8 mm", "length", 8 / 1000),
    ("1.2 km", "length", 1200.0),
    (".5 m", "length", 0.5),
    ("5. m", "length", 5.0),
    ("1e3 m", "length", 1000.0),
    ("+2 m", "length", 2.0),
    ("36 km/h", "speed", 10.0),
    ("40 km/h", "speed", 100 / 9),
    ("40km/h", "speed", 100 / 9),
    ("  5 m/s ", "speed", 5.0),
    ("30 mph", "speed", 13.4112),
    ("0 km/h", "speed", 0.0),
    ("3 m/s2", "acceleration", 3.0),
    ("0.3 g", "acceleration", 2.941995),
    ("-6 m/s2", "acceleration", -6.0),
    ("4 m/s3", "jerk", 4.0),
    ("60 ms", "time", 0.06),
    ("2 min", "time", 120.0),
    ("90 deg", "angle", math.pi / 2),
    ("1 rad", "angle", 1.0),
    ("50 %", "ratio", 0.5),
    ("0.02 1/m", "curvature", 0.02),
    ("100 Hz", "frequency", 100.0),
]


@pytest.mark.parametrize(("text", "kind", "wanted"), GOOD)
def test_quantity_is_read_to_the_nearest_float(text: str, kind: str, wanted: float) -> None:
    assert parse(text, kind) == pytest.approx(wanted, rel=1e-15, abs=0)


REFUSED = [
    ("40", "speed", "`40` has no unit", "Write `40 km/h`"),
    ("0", "length", "has no unit", "Write `0 m`"),
    ("40 kph", "speed", "`kph` in `40 kph` is not a unit of speed", "Write `40 km/h`"),
    ("40 KM/H", "speed", "is not a unit of speed", "Write `40 km/h`"),
    ("3 m/s^2", "acceleration", "is not a unit of acceleration", "Write `3 m/s2`"),
    ("3 m/s²", "acceleration", "is not a unit of acceleration", "Write `3 m/s2`"),
    ("90°", "angle", "is not a unit of angle", "Write `90 deg`"),
    ("2 seconds", "time", "is not a unit of time", "Write `2 s`"),
    ("2 parsec", "length", "is not a unit of length", "Write a length, like `12 m`"),
    ("500 ft", "length", "is not a unit of length", "Write `152.4 m`"),
    ("30 knots", "speed", "is not a unit of speed", "Write `55.56 km/h`"),
    ("1 mi", "length", "is not a unit of length", "Write `1609.34 m`"),
    ("3 lb", "length", "is not a unit of length", "like `12 m`"),
    ("40 m", "speed", "`40 m` is a length; a speed is wanted", "like `40 km/h`"),
    ("40,5 km/h", "speed", "is not a speed", "Write `40.5 km/h`"),
    ("\u22123 m", "length", "is not a length", "Write `-3 m`"),
    ("fast", "speed", "`fast` is not a speed", "40 km/h"),
    ("", "speed", "nothing is written here", "40 km/h"),
    ("nan m", "length", "is not a length", "12 m"),
    ("inf km/h", "speed", "is not a speed", "40 km/h"),
    ("1e99 m", "length", "outside", "Write a length up to 100 km."),
    ("1e300 m", "length", "outside", "Write a length up to 100 km."),
    ("900 h", "time", "outside", "Write a time up to 24 h."),
    ("501 km/h", "speed", "outside", "0 to 500 km/h"),
    ("-1 km/h", "speed", "outside", "0 to 500 km/h"),
    ("51 m/s2", "acceleration", "outside", "50 m/s2"),
    ("100.001 km", "length", "outside", "100 km"),
    ("30..50 km/h", "speed", "is a range", "40 km/h"),
    ("free", "speed", "`free` can't be used here", "40 km/h"),
    ("١٢ m", "length", "is not a length", "12 m"),
]


@pytest.mark.parametrize(("text", "kind", "wrong", "instead"), REFUSED)
def test_refused_quantity_says_what_to_write(
    text: str, kind: str, wrong: str, instead: str
) -> None:
    with pytest.raises(QuantityError) as caught:
        parse(text, kind)
    assert wrong in caught.value.wrong
    assert instead in caught.value.instead


RANGES = [
    ("30..50 km/h", "speed", (30 / 3.6, 50 / 3.6)),
    ("30 km/h .. 50 km/h", "speed", (30 / 3.6, 50 / 3.6)),
    ("500 mm..1 m", "length", (0.5, 1.0)),
    ("3..3 s", "time", (3.0, 3.0)),
    ("-2..-1 m", "length", (-2.0, -1.0)),
    ("40 km/h", "speed", (100 / 9, 100 / 9)),
    ("free", "speed", (-math.inf, math.inf)),
]


@pytest.mark.parametrize(("text", "kind", "wanted"), RANGES)
def test_range_is_read_from_least_to_most(
    text: str, kind: str, wanted: tuple[float, float]
) -> None:
    assert parse_range(text, kind) == pytest.approx(wanted)


def test_turned_range_is_refused_with_the_right_order() -> None:
    with pytest.raises(QuantityError) as caught:
        parse_range("50..30 km/h", "speed")
    assert caught.value.instead == "Write `30..50 km/h`."


def test_range_without_unit_is_refused_with_a_unit() -> None:
    with pytest.raises(QuantityError) as caught:
        parse_range("30..50", "speed")
    assert "50 km/h" in caught.value.instead


def test_free_is_refused_where_nothing_can_be_solved() -> None:
    with pytest.raises(QuantityError):
        parse_range("free", "length", free=False)


@given(st.text(max_size=30), st.sampled_from(sorted(KINDS)))
def test_any_text_is_read_or_refused(text: str, kind: str) -> None:
    fault: QuantityError | None = None
    try:
        low, high = parse_range(text, kind)
    except QuantityError as error:
        fault = error
    assert bool(fault.wrong and fault.instead) if fault else low <= high


@given(st.integers(0, 500_000))
def test_speed_in_both_units_agrees(metres_per_hour: int) -> None:
    text = f"{metres_per_hour // 1000}.{metres_per_hour % 1000:03d} km/h"
    assert parse(text, "speed") == pytest.approx(metres_per_hour / 3600, rel=1e-15)


@pytest.mark.parametrize("unit", sorted(UNITS))
def test_kind_is_told_by_the_unit(unit: str) -> None:
    assert kind_of(f"1..2 {unit}") == UNITS[unit].kind


def test_kind_of_a_bare_number_is_refused() -> None:
    with pytest.raises(QuantityError) as caught:
        kind_of("40")
    assert "40 km/h" in caught.value.instead


def test_every_misspelling_leads_to_a_known_unit() -> None:
    assert set(SPELLINGS.values()) <= set(UNITS)


def test_every_kind_has_units_of_its_own_kind_and_an_example_it_accepts() -> None:
    assert {"length", "speed", "time"} <= set(KINDS)
    for name, kind in KINDS.items():
        assert {UNITS[unit].kind for unit in kind.units} == {name}
        assert math.isfinite(parse(kind.example, name))
