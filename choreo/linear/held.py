"""Gaps that hold for a while: asked for at both ends, then wherever a found plan leaves what was asked for.

A gap that holds does so at every share of its time, so rows at any share are rows that every plan must meet: a search
with them still proves what it cuts off.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise

from choreo.linear.affine import Affine
from choreo.linear.encounters import add_held, drift
from choreo.linear.model import Model
from choreo.linear.pace import keep_pace
from choreo.linear.rows import at_least
from choreo.linear.spots import Values
from choreo.problem.records import GapAt
from choreo.solve.reading import MoverReading

# What drifts by less than this (m) more than it was asked for is rounding.
ROUNDING_M = 1e-6
# A gap is looked at in so many places between any two changes of phase.
LOOKS = 16


class Held:
    """The gaps of one problem that hold, and at which shares of their time they have been asked for."""

    def __init__(self, model: Model) -> None:
        self.model = model
        self.gaps = [
            one
            for one in model.problem.encounters
            if isinstance(one, GapAt) and one.until is not None
        ]
        for gap in self.gaps:
            model.rows.append(at_least(drift(gap), 0.0, "", "m"))
            self._ask_at(gap, 1.0)
            for name in gap.pair:
                self._keep_pace(gap, name)

    @property
    def drifts(self) -> Affine:
        """By how much all of them together leave what is wanted, m."""
        total = Affine()
        for gap in self.gaps:
            total = total.plus(drift(gap))
        return total

    def ask(self, motions: Mapping[str, MoverReading], values: Values) -> bool:
        """Ask for every gap where a found plan leaves what was asked for; says whether one does."""
        found = False
        for gap in self.gaps:
            share = self._worst(gap, motions, values)
            if share is not None:
                self._ask_at(gap, share)
                found = True
        return found

    def _times(self, gap: GapAt) -> tuple[Affine, Affine]:
        if gap.until is None:
            raise AssertionError(gap.name)
        return self.model.time(gap.at), self.model.time(gap.until)

    def _ask_at(self, gap: GapAt, share: float) -> None:
        start, end = self._times(gap)
        add_held(self.model, gap, start.times(1.0 - share).plus(end, share), share)

    def _keep_pace(self, gap: GapAt, name: str) -> None:
        """Nobody goes back, and nobody goes faster than the fastest of its speeds: what ramps of any shape keep to."""
        (start, end), label = self._times(gap), f"{name} while {gap.name} holds"
        first, last = (self.model.look(name, time, label) for time in (start, end))
        keep_pace(self.model, first, last, label, gap.origin)

    def _worst(
        self, gap: GapAt, motions: Mapping[str, MoverReading], values: Values
    ) -> float | None:
        """The share of its time at which a gap is farthest outside what was asked for."""
        start, end = (time.at(values) for time in self._times(gap))
        worst, share = drift(gap).at(values) + ROUNDING_M, None
        for time in _looks(motions[gap.a], motions[gap.b], start, end):
            outside = self._outside_m(gap, motions, time)
            if outside > worst:
                worst, share = outside, (time - start) / (end - start)
        return share

    def _outside_m(self, gap: GapAt, motions: Mapping[str, MoverReading], time_s: float) -> float:
        """How far a gap is outside what is wanted at a time."""
        (station_a, speed_a), (station_b, _) = (motions[name].at(time_s) for name in gap.pair)
        track = None if gap.exact else self.model.tracks[gap.name]
        facing = gap.line_at(station_b) if track is None else float(track.at(station_b)[0])
        room = facing - gap.front_a_m - station_a
        rate = speed_a if gap.measure == "time gap" else 1.0
        return max(gap.wanted.lo * rate - room, room - gap.wanted.hi * rate)


def _looks(a: MoverReading, b: MoverReading, start_s: float, end_s: float) -> list[float]:
    """Times strictly between two: all changes of phase, and even places in between."""
    changes = {phase.end_s for motion in (a, b) for phase in motion.phases}
    ends = [start_s, *sorted(time for time in changes if start_s < time < end_s), end_s]
    looks = []
    for low, high in pairwise(ends):
        looks += [low + (high - low) * step / LOOKS for step in range(LOOKS)]
    return looks[1:]
