"""Near pairs by cells, against every pair looked at."""

from __future__ import annotations

import tracemalloc

import numpy as np
import pytest

from choreo.geometry import MeetingTrack, Poses, find_contact
from choreo.geometry.near import near_pairs
from tests.unit.geometry.made import CAR, TARGET, straight


def _scattered(random: np.random.Generator, count: int, width_m: float, height_m: float) -> Poses:
    x, y = random.uniform(-1.0, 1.0, (2, count))
    return Poses(width_m * x, height_m * y, np.zeros(count), np.zeros(count))


def _every_pair(rows: Poses, columns: Poses, reach_m: float) -> list[tuple[int, int]]:
    squared = (rows.x_m[:, None] - columns.x_m) ** 2 + (rows.y_m[:, None] - columns.y_m) ** 2
    return list(zip(*(side.tolist() for side in np.nonzero(squared <= reach_m**2)), strict=True))


@pytest.mark.parametrize("seed", range(12))
def test_pairs_by_cells_are_those_of_the_whole_table_in_its_order(seed: int) -> None:
    random = np.random.default_rng(seed)
    width, height = 100.0 * random.random(2) ** 3
    rows = _scattered(random, 150, 100.0, 100.0)
    columns = _scattered(random, 200, width, height)
    reach = 5.0 + 30.0 * random.random()
    expected = _every_pair(rows, columns, reach)
    i, j = near_pairs(rows, columns, reach)
    assert expected
    assert list(zip(i.tolist(), j.tolist(), strict=True)) == expected


def test_poses_that_are_all_far_away_make_no_pairs() -> None:
    random = np.random.default_rng(0)
    here = _scattered(random, 20, 10.0, 10.0)
    away = Poses(here.x_m + 100.0, here.y_m, here.heading_rad, here.curvature_per_m)
    assert len(near_pairs(here, away, 20.0)[0]) == 0


def test_contact_in_a_lane_of_forty_kilometres_takes_little_memory() -> None:
    lane = straight(0, 0, 0, 40_000)
    tracemalloc.start()
    (found,) = find_contact(lane, CAR, lane, TARGET, face="front", impact_m=0.0)
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert isinstance(found, MeetingTrack)
    assert found.stations_b_m[-1] == pytest.approx(40_000)
    # A table of rows and columns would take 10,000 x 40,000 distances: 3 GB.
    assert most < 150e6
