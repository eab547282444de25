"""Departures from a plan, many at once: k variants of one mover's motion, numbered from 0.

Each variant follows the plan up to an instant. A CutTrack then brakes at a constant rate (or, at a rate of 0, keeps its
speed); a LateTrack goes on with the plan later or earlier. Times come with the numbers of the variants that they are
meant for, both of shape (n,); without numbers all are meant for variant 0.
"""

from __future__ import annotations

from functools import cached_property

import numpy as np

from choreo.track.motion import STANDS_MPS, Array, Index
from choreo.track.tracks import Track
from choreo.words.records import dataclass


@dataclass(frozen=True, eq=False)
class CutTrack:
    """Variant i follows the plan until cut_s[i], keeps its speed for hold_s, then brakes with rate_mps2 to rest.

    cut_s: shape (k,). At a rate of 0 it keeps its speed for good.
    """

    track: Track
    cut_s: Array
    rate_mps2: float
    hold_s: float = 0.0

    @cached_property
    def _cut(self) -> tuple[Array, Array]:
        """Stations in m and speeds in m/s at which the variants leave the plan, shape (k,)."""
        return self.track.states(self.cut_s)

    def most_accel(self, from_s: Array, until_s: Array, variant: Index | None = None) -> Array:
        """Give a bound of |acceleration| along the path in m/s2 between times, shape (n,)."""
        which = _numbers(from_s, variant)
        cut = self.cut_s[which]
        planned = self.track.most_accel(np.minimum(from_s, cut), np.minimum(until_s, cut))
        rest = self.rest_s()[which]
        braking = (until_s > cut) & (from_s < rest)
        return np.maximum(
            np.where(from_s > cut, 0.0, planned), np.where(braking, self.rate_mps2, 0.0)
        )

    def states(self, t_s: Array, variant: Index | None = None) -> tuple[Array, Array]:
        """Give stations in m and speeds in m/s of the variants at times t_s, shape (n,)."""
        which = _numbers(t_s, variant)
        cut = self.cut_s[which]
        station, speed = self.track.states(np.minimum(t_s, cut))
        cut_m, v = self._cut[0][which], self._cut[1][which]
        since = np.maximum(t_s - cut, 0.0)
        held = np.minimum(since, self.hold_s) if self.rate_mps2 > 0 else since
        since = since - held
        if self.rate_mps2 > 0:
            since = np.minimum(since, v / self.rate_mps2)
        moved = v * held + since * (v - since * self.rate_mps2 / 2)
        late = t_s > cut
        return (
            np.where(late, cut_m + moved, station),
            np.where(late, np.maximum(v - self.rate_mps2 * since, 0.0), speed),
        )

    def rest_s(self) -> Array:
        """Give when each variant is at rest, or comes to the end of its path at the speed it keeps, shape (k,)."""
        cut_m, v = self._cut
        moving = v > STANDS_MPS
        safe = np.where(moving, v, 1.0)
        if self.rate_mps2 > 0:
            way_s = self.hold_s + safe / self.rate_mps2
        else:
            way_s = np.maximum(self.track.path.length_m - cut_m, 0.0) / safe
        return np.where(moving, self.cut_s + way_s, np.minimum(self.cut_s, self.track.end_s))


@dataclass(frozen=True, eq=False)
class LateTrack:
    """Variant i follows the plan until from_s, and what the plan has from there on late_s[i] later (or earlier).

    late_s: shape (k,). In between, a waiting mover keeps standing, a mover in a hold keeps its speed.
    """

    track: Track
    from_s: float
    late_s: Array

    @cached_property
    def _held_mps(self) -> float:
        return float(self.track.states(np.array([self.from_s]))[1][0])

    def most_accel(self, from_s: Array, until_s: Array, variant: Index | None = None) -> Array:
        """Give a bound of |acceleration| along the path in m/s2 between times, shape (n,)."""
        late = self.late_s[_numbers(from_s, variant)]
        # Its plan time lies between t - late and t.
        return self.track.most_accel(
            from_s - np.maximum(late, 0.0), until_s - np.minimum(late, 0.0)
        )

    def states(self, t_s: Array, variant: Index | None = None) -> tuple[Array, Array]:
        """Give stations in m and speeds in m/s of the variants at times t_s, shape (n,)."""
        late = self.late_s[_numbers(t_s, variant)]
        # The time in the plan that it is at: it stands still while the mover keeps its speed.
        plan_s = np.where(
            t_s < self.from_s + np.minimum(late, 0.0),
            t_s,
            np.where(t_s < self.from_s + late, self.from_s, t_s - late),
        )
        station, speed = self.track.states(plan_s)
        return station + self._held_mps * (t_s - plan_s), speed

    def rest_s(self) -> Array:
        """Give when each variant is at rest, or comes to the end of its path at the speed it keeps, shape (k,)."""
        here = self.track.states(np.array([self.from_s]))[0][0]
        left_m = max(self.track.path.length_m - here, 0.0)
        never_s = self.from_s + (left_m / self._held_mps if self._held_mps > STANDS_MPS else 0.0)
        return np.minimum(self.track.end_s + self.late_s, max(never_s, self.track.end_s))


# What may follow from leaving a plan, and any motion that a distance is asked of.
Departure = CutTrack | LateTrack
Moving = Track | CutTrack | LateTrack


def _numbers(t_s: Array, variant: Index | None) -> Index:
    return np.zeros(t_s.shape, dtype=np.int64) if variant is None else variant
