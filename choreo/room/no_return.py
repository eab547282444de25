"""Until when a run can be broken off.

A party that breaks off goes on for its reaction time, once as planned and once at the speed that it has, and then
stops by failsafe along its path. The others carry on as planned: once supposing that triggers on the stopping mover
fire as planned, once that they never do, and once when it would really pass them on its way to rest. All of these
must come out well: no unintended contact follows, and every contact of a mover that leaves its plan is avoided by
the margin.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from choreo.ground.stop import Stop
from choreo.plans.record import EncounterPlan, Plan
from choreo.plans.room_record import ALL_TOGETHER, NoReturn
from choreo.room.boxes import box_of
from choreo.room.clearance import nearest
from choreo.room.facing import Gaps
from choreo.room.late import Late, late_movers, left_waiting
from choreo.room.tolerances import (
    ABORT_FINE_S,
    ABORT_STEP_S,
    CLEARANCE_M,
    MOST_ABORTS,
    TOUCH_M,
)
from choreo.track.motion import Array
from choreo.track.tracks import Track
from choreo.track.variants import CutTrack, Departure

Mask = NDArray[np.bool_]


def no_returns(
    plan: Plan,
    tracks: Mapping[str, Track],
    stops: Mapping[str, Stop],
    margin_m: float,
    progress: Callable[[str], None] = lambda _word: None,
) -> tuple[NoReturn, ...]:
    """Find for every contact (without one, for the last encounter) until when who can break off.

    tracks, stops: by mover. progress: called with a word before each party. Returns one record for each encounter and
    party: every mover that moves, and all.
    """
    contacts = {n: e for n, e in plan.encounters.items() if e.touches}
    asked = contacts or dict(sorted(plan.encounters.items(), key=lambda one: one[1].time_s)[-1:])
    movers = [name for name, track in tracks.items() if track.moves]
    parties = [*movers, ALL_TOGETHER] if len(movers) > 1 else movers
    aborts = Aborts(plan, tracks, stops, margin_m)
    found = []
    for name, encounter in asked.items():
        for who in parties:
            progress("breaking off")
            found.append(_no_return(aborts, name, encounter, who))
    return tuple(found)


class Aborts:
    """Tries breaking off a plan at instants."""

    def __init__(
        self,
        plan: Plan,
        tracks: Mapping[str, Track],
        stops: Mapping[str, Stop],
        margin_m: float,
    ) -> None:
        self.plan = plan
        self.tracks = tracks
        self.stops = stops
        self.margin_m = margin_m
        self.gaps = Gaps(tracks)
        self.end_s = max((track.end_s for track in tracks.values()), default=0.0)
        self._known: dict[str, dict[float, bool]] = {}
        self._contacts: dict[frozenset[str], float] = {}
        for encounter in plan.encounters.values():
            if encounter.touches:
                known = self._contacts.get(encounter.pair, 0.0)
                self._contacts[encounter.pair] = max(known, encounter.time_s)

    def good(self, who: str, at_s: Array) -> Mask:
        """Say at which instants, shape (k,), `who` (a mover or ALL_TOGETHER) can break off.

        One instant says nothing of another, and every encounter asks for much the same ones: each is tried once.
        """
        known = self._known.setdefault(who, {})
        new = [at for at in at_s.tolist() if at not in known]
        if new:
            known.update(zip(new, self._tried(who, np.array(new)).tolist(), strict=True))
        return np.array([known[at] for at in at_s.tolist()])

    def _tried(self, who: str, at_s: Array) -> Mask:
        stopping = [n for n, t in self.tracks.items() if t.moves] if who == ALL_TOGETHER else [who]
        good = np.ones(len(at_s), dtype=bool)
        for motions in self._ways(stopping, at_s):
            good = self._pairs_keep_clear(motions, at_s, good)
            if not good.any():
                break
        return good

    def _ways(self, stopping: list[str], at_s: Array) -> Iterator[dict[str, Departure]]:
        """All that may follow from breaking off: the motions of those that leave the plan."""
        for held in (False, True):
            cut: dict[str, Departure] = {
                name: _stopped(self.tracks[name], self.stops[name], at_s, held=held)
                for name in stopping
            }
            yield cut
            late = Late(self.plan, self.tracks, stopping, at_s, self.gaps)
            waiting = left_waiting(late)
            if waiting:
                yield {**cut, **waiting}
                yield {**cut, **late_movers(late, cut)}

    def _pairs_keep_clear(self, motions: Mapping[str, Departure], at_s: Array, good: Mask) -> Mask:
        good = good.copy()
        until = np.full(len(at_s), self.end_s)
        for one in motions.values():
            until = np.maximum(until, one.rest_s())
        boxes = {n: box_of(motions.get(n, t), at_s, until) for n, t in self.tracks.items()}
        most_m = max(self.margin_m, TOUCH_M) + CLEARANCE_M
        for a, b in combinations(self.tracks, 2):
            if a not in motions and b not in motions:
                continue
            if boxes[a].apart_m(boxes[b]) > most_m:
                continue
            met_s = self._contacts.get(frozenset((a, b)), -np.inf)
            # A margin of nothing still means not to touch.
            floors = np.where(at_s < met_s, max(self.margin_m, TOUCH_M), TOUCH_M)
            # Bodies that have met as intended lie in each other from then on.
            skip = (at_s >= met_s) & (met_s > -np.inf)
            start = np.where(good & ~skip, at_s, until + 1.0)
            sides = motions.get(a, self.tracks[a]), motions.get(b, self.tracks[b])
            good &= nearest(*sides, start, until, floors).least_m >= floors
        return good


def _stopped(track: Track, stop: Stop, at_s: Array, *, held: bool) -> CutTrack:
    """A failsafe stop from each instant; held: at its speed through the reaction, instead of as planned."""
    if held:
        return CutTrack(track, at_s, stop.brake_mps2, stop.reaction_s)
    return CutTrack(track, at_s + stop.reaction_s, stop.brake_mps2)


def _no_return(aborts: Aborts, name: str, encounter: EncounterPlan, who: str) -> NoReturn:
    last = encounter.time_s
    # At the encounter itself there is nothing left to break off.
    end = max(last - ABORT_FINE_S, 0.0)
    step = max(ABORT_STEP_S, end / MOST_ABORTS)
    times = np.unique(np.append(np.arange(0.0, end, step), end))
    good = aborts.good(who, times)
    windows = _windows(aborts, who, times, good)
    margin = aborts.margin_m
    if not windows:
        bare = Aborts(aborts.plan, aborts.tracks, aborts.stops, 0.0)
        touches = not bare.good(who, times).any()
        return NoReturn(name, who, "never", margin, None, None, touches=touches)
    if good.all():
        return NoReturn(name, who, "always", margin, None, None, {}, windows)
    # The first time at which it is no longer possible counts, even where it is possible again later. If breaking off
    # is impossible at first, the end of the last possible window is reported.
    time_s = windows[0][1] if windows[0][0] == 0.0 else windows[-1][1]
    if time_s >= times[-1]:
        time_s = last
    left = {}
    for mover, station in (
        (encounter.of, encounter.station_of_m),
        (encounter.with_, encounter.station_with_m),
    ):
        left[mover] = float(station - aborts.tracks[mover].states(np.array([time_s]))[0][0])
    return NoReturn(name, who, "until", margin, time_s, last - time_s, left, windows)


def _windows(aborts: Aborts, who: str, times: Array, good: Mask) -> tuple[tuple[float, float], ...]:
    """Stretches of good instants; their ends looked for anew, to a millisecond, on the good side."""
    edges = np.flatnonzero(np.diff(good.astype(int)))
    found: list[tuple[float, float]] = []
    start = 0.0 if good[0] else None
    for edge in edges:
        before, after = times[edge], times[edge + 1]
        count = max(2, int(np.ceil((after - before) / ABORT_FINE_S)) + 1)
        fine = np.linspace(before, after, count)
        inside = aborts.good(who, fine)
        bad = np.flatnonzero(~inside)
        if good[edge]:
            last = bad[0] - 1 if len(bad) else len(fine) - 1
            found.append((float(start or 0.0), float(fine[max(last, 0)])))
            start = None
        else:
            start = float(fine[min(bad[-1] + 1, len(fine) - 1)])
    if start is not None:
        found.append((start, float(times[-1])))
    return tuple(found)
