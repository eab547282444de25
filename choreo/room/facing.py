"""The gap from one moving body to another along the path of the first, at many stations of both at once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field

import numpy as np

from choreo.geometry import GapTrack, lap_of
from choreo.track.motion import Array
from choreo.track.tracks import Track
from choreo.words.records import dataclass

# The facing end is projected at stations this far apart (m) and taken as linear between: in a lane beside a bend of
# 50 m that is within two millimetres.
STEP_M = 2.0


@dataclass(frozen=True, eq=False)
class Gaps:
    """Gaps between movers, by their tracks; each relation between two is worked out when first asked for."""

    tracks: Mapping[str, Track]
    _facing: dict[tuple[str, str], tuple[Array, Array]] = field(default_factory=dict)

    def between(self, a: str, station_a_m: Array, b: str, station_b_m: Array) -> Array:
        """Give the bumper gaps in m from a to b at stations in m of both, all of shape (n,).

        On a closed path they are those to the next end ahead, or to one that is still beside.
        """
        front_a_m = float(self.tracks[a].corners_m[:, 0].max())
        gaps = self._facing_m(a, b, station_b_m) - station_a_m - front_a_m
        lap = lap_of(self.tracks[a].path)
        if lap is None:
            return gaps
        beside = sum(float(np.ptp(self.tracks[name].corners_m[:, 0])) for name in (a, b))
        return np.asarray((gaps + beside) % lap - beside)

    def _facing_m(self, a: str, b: str, station_b_m: Array) -> Array:
        """Stations of b's facing end on the path of a; beyond its ends the path of b goes straight on."""
        if (a, b) not in self._facing:
            self._facing[a, b] = _looked(self.tracks[a], self.tracks[b])
        stations, facing = self._facing[a, b]
        inside = np.clip(station_b_m, stations[0], stations[-1])
        first, last = np.diff(facing)[[0, -1]] / np.diff(stations)[[0, -1]]
        beyond = station_b_m - inside
        slope = np.where(beyond > 0.0, last, first)
        return np.asarray(np.interp(inside, stations, facing) + slope * beyond)


def _looked(a: Track, b: Track) -> tuple[Array, Array]:
    """Stations of b, and those of its facing end on the path of a, shape (n,) each."""
    ahead = b.corners_m[:, 0]
    relation = GapTrack(a.path, b.path, float(ahead.max()), -float(ahead.min()))
    count = max(2, int(np.ceil(b.path.length_m / STEP_M)) + 1)
    stations = np.linspace(0.0, b.path.length_m, count)
    return stations, np.array([relation.at(float(one))[0] for one in stations])
