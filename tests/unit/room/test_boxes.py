"""Boxes hold all that a body sweeps, on its plan and off it; what they rule out is not looked at again."""

from __future__ import annotations

import numpy as np

from choreo.room.boxes import box_of
from choreo.track.variants import CutTrack, LateTrack, Moving
from tests.unit.room.test_no_return import planned
from tests.unit.track.tracks_by_hand import bodies


def test_boxes_hold_every_corner_of_every_variant() -> None:
    _, _, tracks, _ = planned("turn-across-oncoming")
    assert len(tracks) == 2
    at_s, until_s = np.linspace(0.0, 9.0, 7), np.full(7, 30.0)
    for track in tracks.values():
        ways: tuple[Moving, ...] = (
            track,
            CutTrack(track, at_s, 6.0, 1.0),
            CutTrack(track, at_s, 0.0),
            LateTrack(track, 4.0, np.linspace(0.0, 6.0, 7)),
        )
        for moving in ways:
            box = box_of(moving, at_s, until_s)
            for variant in range(7):
                times = np.linspace(at_s[variant], 30.0, 300)
                station, _ = moving.states(times, np.full(300, variant))
                corners = np.array([body.exterior.coords for body in bodies(track, station)])
                assert (corners >= box.low_m).all()
                assert (corners <= box.high_m).all()


def test_boxes_are_as_far_apart_as_they_are() -> None:
    _, _, tracks, _ = planned("turn-across-oncoming")
    track = next(iter(tracks.values()))
    box = box_of(track, np.zeros(1), np.zeros(1))
    here = track.poses(np.zeros(1))
    middle = (box.low_m + box.high_m) / 2.0
    assert np.hypot(*(middle - [here.x_m[0], here.y_m[0]])) < 1e-9
    assert box.apart_m(box) == 0.0
