"""Timetables against published job shops and worked headways."""

import math

import pytest

from choreo.sharing.blocking import Gap
from choreo.sharing.timetable import job_shop, timetable

# C176: rows of (machine, duration).
FT06 = [
    [(2, 1), (0, 3), (1, 6), (3, 7), (5, 3), (4, 6)],
    [(1, 8), (2, 5), (4, 10), (5, 10), (0, 10), (3, 4)],
    [(2, 5), (3, 4), (5, 8), (0, 9), (1, 1), (4, 7)],
    [(1, 5), (0, 5), (2, 5), (3, 3), (4, 8), (5, 9)],
    [(2, 9), (1, 3), (4, 5), (5, 4), (0, 3), (3, 1)],
    [(1, 3), (3, 3), (5, 9), (0, 10), (4, 4), (2, 1)],
]


@pytest.mark.parametrize(("waiting", "ends"), [(True, 55), (False, 73)])
def test_a_job_shop_of_six_ends_when_it_is_known_to(waiting: bool, ends: float) -> None:
    found = timetable(*job_shop(FT06, waiting=waiting))
    assert found is not None
    assert found.ends_s == pytest.approx(ends, abs=1e-4)
    assert found.proved


def test_a_job_shop_that_must_end_sooner_has_no_timetable() -> None:
    assert timetable(*job_shop(FT06), until_s=54.0) is None


def test_headway_at_48_kmh_and_how_many_a_mile_carries() -> None:
    # C181, C182
    gap = Gap(1.0, 4.0, 25.0)
    assert float(gap.at(48 / 3.6)) == pytest.approx(60.556, abs=1e-3)
    assert gap.headway_s(48 / 3.6) == pytest.approx(4.542, abs=1e-3)
    assert math.floor(1609.344 / float(gap.at(48 / 3.6))) == 26
