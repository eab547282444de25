"""Directions of travel: ranges as written, what is left of the sectors, names."""

import math

import pytest

from choreo.fit.directions import (
    Arc,
    allowed_headings,
    arc_of,
    of_bearing,
    sector_of,
    sector_offset_rad,
    sector_words,
)
from choreo.words import ChoreoError


@pytest.mark.parametrize("text", ["235 deg +/- 30 deg", "235deg+/-30deg", "235 deg ± 30 deg"])
def test_range_is_read_with_its_spread(text: str) -> None:
    arc = arc_of(text, "--not-towards")
    assert math.degrees(arc.middle_rad) == pytest.approx(235)
    assert math.degrees(arc.half_rad) == pytest.approx(30)


@pytest.mark.parametrize(
    "text",
    ["", "235 deg", "235 +/- 30", "235 deg +/- 30 m", "x +/- y", "10 deg +/- 0 deg",
     "10 deg +/- 181 deg", "10 deg +/- -5 deg"],
)  # fmt: skip
def test_bad_range_says_what_to_write(text: str) -> None:
    with pytest.raises(ChoreoError) as caught:
        arc_of(text, "--not-towards")
    finding = caught.value.findings[0]
    assert finding.code == "place.bad-direction"
    assert "--not-towards '235 deg +/- 30 deg'" in finding.advice


def test_all_directions_are_allowed_at_first() -> None:
    headings = allowed_headings(())
    assert [one.sector for one in headings] == list(range(8))
    assert sum(one.high_rad - one.low_rad for one in headings) == pytest.approx(2 * math.pi)


@pytest.mark.parametrize("middle_deg", [0, 100, 359, -179, 725])
def test_what_is_left_is_the_circle_without_the_range(middle_deg: float) -> None:
    arc = Arc(math.radians(middle_deg), math.radians(40))
    headings = allowed_headings((arc,))
    assert headings
    left = sum(one.high_rad - one.low_rad for one in headings)
    assert left == pytest.approx(math.radians(280))
    for one in headings:
        middle = (one.low_rad + one.high_rad) / 2
        assert abs(math.remainder(middle - arc.middle_rad, 2 * math.pi)) >= math.radians(40)
        assert sector_of(middle) == one.sector


def test_whole_circle_leaves_nothing() -> None:
    assert allowed_headings((Arc(1.0, math.pi),)) == ()
    halves = (Arc(0.0, math.pi / 2), Arc(math.pi, math.pi / 2))
    assert allowed_headings(halves) == ()


def test_bearings_become_headings() -> None:
    # x points east: north is 90 deg counter-clockwise from it.
    north = of_bearing(Arc(0.0, 0.1), math.radians(90))
    assert math.degrees(north.middle_rad) == pytest.approx(90)


@pytest.mark.parametrize(("bearing_deg", "name"), [(0, "north"), (45, "north-east"), (270, "west")])
def test_sectors_are_named_by_the_compass_where_there_is_one(bearing_deg: int, name: str) -> None:
    x_bearing = math.radians(30)
    heading = x_bearing - math.radians(bearing_deg)
    sector = sector_of(heading, sector_offset_rad(x_bearing))
    assert sector_words(sector, x_bearing) == name


def test_sectors_are_named_by_headings_without_a_compass() -> None:
    assert sector_words(0, None) == "towards 0 deg"
    assert sector_words(6, None) == "towards -90 deg"
