"""Until when a run can be broken off.

A party that breaks off goes on as planned for its reaction time and then stops by failsafe along its path. The
others carry on as planned, once supposing that triggers on the stopping mover still fire and once that they don't:
both must come out well. Breaking off is good when no unintended contact follows, and every contact of the
stopping mover that is still to come is avoided by the margin.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from choreo.plan.record import EncounterPlan, Plan
from choreo.plan.space_record import NoReturn
from choreo.space.clearance import nearest
from choreo.space.stopping import Stop
from choreo.space.tolerances import ABORT_FINE_S, ABORT_STEP_S, TOUCH_M
from choreo.space.track import Array, CutTrack, Track

Mask = NDArray[np.bool_]
ALL = "all"
# Later than anything: a mover that never leaves its plan.
NEVER_S = 1e9
# A mover whose trigger never fires may roll on; it is followed this long (s) beyond the run.
ROLLS_ON_S = 10.0


def no_returns(
    plan: Plan, tracks: Mapping[str, Track], stops: Mapping[str, Stop], margin_m: float
) -> tuple[NoReturn, ...]:
    """Find for every contact (without one, for the last encounter) until when who can break off.

    tracks, stops: by mover. Returns one record for each encounter and party: every mover that moves, and all.
    """
    contacts = {n: e for n, e in plan.encounters.items() if e.kind == "contact"}
    asked = contacts or dict(
        sorted(plan.encounters.items(), key=lambda one: one[1].time_s)[-1:]
    )
    movers = [name for name, track in tracks.items() if track.moves]
    parties = [*movers, ALL] if len(movers) > 1 else movers
    aborts = Aborts(plan, tracks, stops, margin_m)
    return tuple(
        _no_return(aborts, name, encounter, who)
        for name, encounter in asked.items()
        for who in parties
    )


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
        self.end_s = max((track.end_s for track in tracks.values()), default=0.0)
        self._contacts: dict[frozenset[str], float] = {}
        for encounter in plan.encounters.values():
            if encounter.kind == "contact":
                pair = frozenset((encounter.of, encounter.with_))
                self._contacts[pair] = max(self._contacts.get(pair, 0.0), encounter.time_s)
        self._triggers = sorted(
            (t for t in plan.triggers.values() if t.condition != "time"),
            key=lambda trigger: trigger.acts_at_s,
        )

    def good(self, who: str, at_s: Array) -> Mask:
        """Say at which instants, shape (k,), `who` (a mover or 'all') can break off."""
        stopping = [n for n, t in self.tracks.items() if t.moves] if who == ALL else [who]
        cut = {name: self._stopped(name, at_s) for name in stopping}
        good = self._pairs_keep_clear(cut, at_s)
        left_out = self._left_waiting(stopping, at_s)
        if left_out:
            good &= self._pairs_keep_clear({**cut, **left_out}, at_s)
        return good

    def _stopped(self, name: str, at_s: Array) -> CutTrack:
        stop = self.stops[name]
        return CutTrack(self.tracks[name], at_s + stop.reaction_s, stop.brake_mps2)

    def _left_waiting(self, stopping: list[str], at_s: Array) -> dict[str, CutTrack]:
        """Movers whose trigger may not fire any more: from then on they go on as they are."""
        cuts: dict[str, Array] = {}
        for trigger in self._triggers:
            late = at_s < trigger.acts_at_s
            if trigger.watch not in stopping:
                known = cuts.get(trigger.watch)
                late &= False if known is None else known < trigger.acts_at_s
            if not late.any():
                continue
            for name in trigger.acts_on:
                if name in self.tracks and name not in stopping:
                    before = cuts.get(name, np.full(len(at_s), NEVER_S))
                    cuts[name] = np.where(late, np.minimum(before, trigger.acts_at_s), before)
        return {name: CutTrack(self.tracks[name], cut, 0.0) for name, cut in cuts.items()}

    def _pairs_keep_clear(self, cut: Mapping[str, CutTrack], at_s: Array) -> Mask:
        good = np.ones(len(at_s), dtype=bool)
        until = np.full(len(at_s), self.end_s)
        for one in cut.values():
            rest = one.rest_s()
            until = np.maximum(until, np.where(np.isfinite(rest) & (rest < NEVER_S), rest, until))
        rolling = any(one.rate_mps2 == 0.0 for one in cut.values())
        until = until + (ROLLS_ON_S if rolling else 0.0)
        for a, b in combinations(self.tracks, 2):
            if a not in cut and b not in cut:
                continue
            met_s = self._contacts.get(frozenset((a, b)), -np.inf)
            floors = np.where(at_s < met_s, self.margin_m, TOUCH_M)
            # Bodies that have met as intended lie in each other from then on.
            skip = (at_s >= met_s) & (met_s > -np.inf)
            start = np.where(good & ~skip, at_s, until + 1.0)
            sides = cut.get(a, self.tracks[a]), cut.get(b, self.tracks[b])
            good &= nearest(*sides, start, until, floors).least_m >= floors
        return good


def _no_return(aborts: Aborts, name: str, encounter: EncounterPlan, who: str) -> NoReturn:
    last = encounter.time_s
    # At the encounter itself there is nothing left to break off.
    times = np.unique(
        np.append(np.arange(0.0, last - ABORT_FINE_S, ABORT_STEP_S), last - ABORT_FINE_S)
    )
    good = aborts.good(who, times)
    windows = _windows(aborts, who, times, good)
    margin = aborts.margin_m
    if not windows:
        return NoReturn(name, who, "never", margin, None, None)
    if good.all():
        return NoReturn(name, who, "always", margin, None, None, {}, windows)
    # The first time at which it is no longer possible counts, even where it is possible again later; one who can
    # only break off later is told until when then.
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


def _windows(
    aborts: Aborts, who: str, times: Array, good: Mask
) -> tuple[tuple[float, float], ...]:
    """Stretches of good instants; their ends looked for anew, to a millisecond, on the good side."""
    edges = np.flatnonzero(np.diff(good.astype(int)))
    found: list[tuple[float, float]] = []
    start = 0.0 if good[0] else None
    for edge in edges:
        before, after = times[edge], times[edge + 1]
        count = max(2, int(np.ceil((after - before) / ABORT_FINE_S)) + 1)
        fine = np.linspace(before, after, count)
        inside = aborts.good(who, fine)
        if good[edge]:
            bad = np.flatnonzero(~inside)
            last = bad[0] - 1 if len(bad) else len(fine) - 1
            found.append((float(start or 0.0), float(fine[max(last, 0)])))
            start = None
        else:
            bad = np.flatnonzero(~inside)
            start = float(fine[min(bad[-1] + 1, len(fine) - 1)])
    if start is not None:
        found.append((start, float(times[-1])))
    return tuple(found)
