"""Numbers as people on a track read them."""

import pytest

from choreo.words.display import change, degrees, kmh, of_limit, plain, quantity, short_kmh


@pytest.mark.parametrize(
    ("value_mps", "text"),
    [(40 / 3.6, "40 km/h"), (38.456 / 3.6, "38.46 km/h"), (0.0, "0 km/h"), (100.0, "360 km/h")],
)
def test_speed_in_few_words_has_four_digits_at_most(value_mps: float, text: str) -> None:
    assert short_kmh(value_mps) == text


def test_speed_in_a_column_keeps_its_decimals() -> None:
    assert kmh(40 / 3.6) == "40.00 km/h"
    assert kmh(40 / 3.6, 1) == "40.0 km/h"
    assert quantity(40 / 3.6, "m/s") == "40.00 km/h"


def test_nothing_is_never_negative() -> None:
    assert [plain(-0.0001), kmh(-0.0001), degrees(-360.0)] == ["0.000", "0.00 km/h", "0.00"]


def test_use_of_a_limit_is_shown_beside_it_where_there_is_one() -> None:
    assert of_limit(2.0, 3.0, 2) == "2.00 of 3.00"
    assert of_limit(2.0, float("inf"), 2) == "2.00"


@pytest.mark.parametrize(
    ("old", "new", "unit", "told"),
    [
        (50 / 3.6, 40 / 3.6, "m/s", ("50.00 km/h", "40.00 km/h", "-10.00 km/h")),
        (8.929, 32.14 / 3.6, "m/s", ("32.144 km/h", "32.140 km/h", "-0.004 km/h")),
        (3.0, 3.004, "m/s2", ("3.000 m/s2", "3.004 m/s2", "+0.004 m/s2")),
        (1.5, 1.501, "s", ("1.500 s", "1.501 s", "+0.001 s")),
    ],
)
def test_a_change_is_told_in_as_many_digits_as_show_it(
    old: float, new: float, unit: str, told: tuple[str, str, str]
) -> None:
    assert change(old, new, unit) == told
