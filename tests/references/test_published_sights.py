"""Sights of published lay-outs."""

import numpy as np
import pytest

from choreo.sight.times import View, first_seen
from choreo.sight.visibility import edges_of

KMH = 1 / 3.6
SQUARE = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])


def test_obstructed_child_is_seen_along_the_parked_cars_when_it_clears_their_line() -> None:
    # C22, FM127 S8.3.3 before its amendment: 5 km/h, 50 % overlap on a subject 1.8 m wide, left sides of the two parked
    # cars 1.0 m right of its right side, 1.0 m apart, the front one 1.0 m before the child's plane. Reference
    # point only: the child is a millimetre wide here, the eye looks along the cars' left sides from behind.
    # The cars' size (invented): 4.8 m by 1.9 m.
    line_m, walk_mps, hair_m, end_s = -(0.9 + 1.0), 5 * KMH, 0.0005, 2.88
    cars = [
        SQUARE * [2.4, 0.95] + [front_m - 2.4, line_m - 0.95]
        for front_m in (-1.0, -1.0 - 4.8 - 1.0)
    ]
    edges = np.concatenate([edges_of(car) for car in cars])

    def view(times_s: np.ndarray) -> View:
        count = len(times_s)
        eyes = np.stack((np.full(count, -60.0), np.full(count, line_m + 1e-9)), axis=1)
        middles = np.stack((np.zeros(count), walk_mps * (times_s - end_s)), axis=1)
        targets = middles[:, None] + SQUARE * hair_m
        return View(eyes, targets, np.broadcast_to(edges, (count, *edges.shape)))

    seen = first_seen(view, 0.5, end_s)
    assert seen.first_s is not None
    assert end_s - seen.first_s == pytest.approx(1.368, abs=1e-3)
    assert seen.stays
