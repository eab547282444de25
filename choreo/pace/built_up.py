"""Drives whose acceleration is built up or depends on speed: chains of ramps and holds.

Every ramp begins and ends without acceleration, as all ramps of a programme do. Between two places whose speeds are
known, the one quickest thing to do is one ramp up, a hold, one ramp down. Where that is too fast for a zone in
between, the slowest such zone is held at what it allows, and both sides are looked at anew.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from itertools import groupby, pairwise

import numpy as np
from numpy.typing import NDArray

from choreo.linear.profile import Profile, profile_of
from choreo.pace.caps import cap_mps
from choreo.pace.evening import even, is_peak, joined, wants_more
from choreo.pace.records import SAME_MPS, Drive, Leg, TooSlow, Zone, lasts_s
from choreo.words.display import short_kmh
from choreo.words.records import dataclass

Array = NDArray[np.float64]

# In how many zones a clothoid is cut: what is held in one is what its tightest place allows. More zones follow it
# better, fewer have fewer ramps; the quickest of all counts.
CUTS = (1, 2, 4, 8)
# A part of a ramp is looked at so often; between two looks speed squared is straight to 1e-6.
LOOKS = 40
# Speeds over what is allowed by less than this share are rounding.
OVER_RATIO = 1e-6
BISECTIONS = 60
# Shares of their rates at which ramps are tried where they share grip with curves, and how far over it is rounding.
SHARES = (0.3, 0.5, 0.7)
ELLIPSE_OVER = 1e-4
# No path takes so many ramps between two speeds that are known.
MOST_PARTS = 20_000
SHORTEST_M = 1e-7

Place = tuple[float, float]  # station in m, speed in m/s
Goal = tuple[float, float | None]  # the same; None: as fast as it comes


@dataclass(frozen=True, slots=True)
class _Chain:
    """The legs between two places, with what the zones below them allow."""

    legs: tuple[Leg, ...]
    worst: Zone | None


def built_up_drive(
    zones: Sequence[Zone], start_mps: float, end_mps: float | None, drive: Drive
) -> tuple[Leg, ...]:
    """Give the quickest chain of ramps and holds over zones; end_mps None: as quick as it comes.

    Raises TooSlow: the start is too fast for what comes, the speed at the end isn't reached, the ellipse leaves no
    ramp in a curve.
    """
    failed: TooSlow | None = None
    found: list[tuple[tuple[Leg, ...], _Building]] = []
    bent = any(zone.k0_per_m != zone.k1_per_m for zone in zones)
    for tried, within, share in _ways(zones, drive):
        for cuts in CUTS if bent else CUTS[:1]:
            building = _Building(tried, within, share, cuts)
            try:
                legs = building.drive(start_mps, end_mps)
            except TooSlow as slow:
                failed = failed or slow
                continue
            if not drive.ellipse or _within_ellipse(zones, legs, drive):
                found.append((legs, building))
    if found:
        legs, building = min(found, key=lambda one: lasts_s(one[0]))
        return joined(building.without_peaks(even(joined(legs), zones)))
    raise failed or TooSlow(
        zones[0].start_m,
        "no ramps were found that leave the grip that its curves need",
        "Let curves end before it speeds up, or write slower speeds.",
    )


def _ways(zones: Sequence[Zone], drive: Drive) -> Iterator[tuple[Sequence[Zone], Drive, float]]:
    """What ramps and curves may use: all of it; under the ellipse ramps on straights alone, or shares of both."""
    if not drive.ellipse:
        yield zones, drive, 1.0
        return
    yield _calmed(zones, drive), drive, 1.0
    for share in SHARES:
        lateral = math.sqrt(1.0 - share**2) * drive.lateral_mps2
        yield zones, replace(drive, lateral_mps2=lateral), share


def _calmed(zones: Sequence[Zone], drive: Drive) -> list[Zone]:
    """Zones in which every bend is driven at one speed from where it leaves the straight to where it is back."""
    calm: list[Zone] = []
    for curved, run in groupby(zones, lambda one: max(abs(one.k0_per_m), abs(one.k1_per_m)) > 0.0):
        bend = list(run)
        if curved:
            least = min(
                cap_mps(one, drive, k) for one in bend for k in (one.k0_per_m, one.k1_per_m)
            )
            bend = [replace(one, most_mps=min(one.most_mps, least)) for one in bend]
        calm += bend
    return calm


class _Building:
    def __init__(self, zones: Sequence[Zone], drive: Drive, share: float, cuts: int) -> None:
        self.zones = [part for zone in zones for part in _cut(zone, cuts)]
        self.drive_ = drive
        self.share = share
        self.known: dict[tuple[float, float], Profile] = {}
        self.caps = [
            min(cap_mps(one, drive, one.k0_per_m), cap_mps(one, drive, one.k1_per_m))
            for one in self.zones
        ]
        self.ends = np.array([one.end_m for one in self.zones])

    def drive(self, start_mps: float, end_mps: float | None) -> tuple[Leg, ...]:
        begin, end = self.zones[0].start_m, self.zones[-1].end_m
        if start_mps > self._allowed(0, begin) * (1.0 + OVER_RATIO):
            raise self._too_fast((begin, start_mps), (begin, self._allowed(0, begin)))
        left: list[tuple[Place, Goal, bool]] = [((begin, start_mps), (end, end_mps), False)]
        done: list[Leg] = []
        for _ in range(MOST_PARTS):
            if not left:
                return tuple(done)
            start, goal, held = left.pop()
            if goal[0] - start[0] <= SHORTEST_M:
                continue
            if held:
                speed = start[1]
                lasts = (goal[0] - start[0]) / speed
                done.append(Leg(start[0], goal[0], speed, speed, lasts))
                continue
            chain = self._between(start, goal)
            if chain.worst is None:
                done += chain.legs
                continue
            holds = self._held(chain.worst, start, goal)
            left += [(holds[1], goal, False), (holds[0], holds[1], True), (start, holds[0], False)]
        raise TooSlow(begin, "its ramps can't be told apart", "Write fewer speeds along the path.")

    def _allowed(self, number: int, station_m: float) -> float:
        zone = self.zones[number]
        return cap_mps(zone, self.drive_, zone.curvature(station_m))

    def _profile(self, from_mps: float, to_mps: float) -> Profile:
        found = self.known.get((from_mps, to_mps))
        if found is None:
            made = profile_of(self.drive_.ramp(from_mps, to_mps, self.share), from_mps)
            if made is None:
                raise TooSlow(
                    self.zones[0].start_m,
                    "its table of accelerations changes faster than its jerk limit lets it follow",
                    "Smooth the table, or write more jerk.",
                )
            found = self.known[from_mps, to_mps] = made
        return found

    def _way(self, from_mps: float, to_mps: float) -> float:
        change = abs(from_mps - to_mps)
        if change < SAME_MPS:
            return 0.0
        table = self.drive_.rates(from_mps, to_mps, self.share)
        if len(table) > 1:
            return self._profile(from_mps, to_mps).way_m
        # Build-up and release mirror each other: the mean speed over T = v/a + a/j, or over twice the root of v/j.
        rate, jerk = table[0][1], self.drive_.jerk_mps3
        full = change / rate + rate / jerk
        lasts = full if change * jerk >= rate * rate else 2.0 * math.sqrt(change / jerk)
        return (from_mps + to_mps) / 2.0 * lasts

    def _between(self, start: Place, goal: Goal) -> _Chain:
        """One ramp up, a hold, one ramp down; and the slowest zone that is passed too fast."""
        (low, u), (high, w) = start, goal
        length = high - low

        def needed(peak: float) -> float:
            return self._way(u, peak) + (0.0 if w is None else self._way(peak, w))

        least = u if w is None else max(u, w)
        if needed(least) > length + SHORTEST_M:
            if w is not None and w > u:
                most = _most(lambda one: self._way(u, one) <= length, u, w)
                raise TooSlow(
                    high,
                    f"{short_kmh(w)} is wanted there, and {short_kmh(most)} is the most that is reached",
                    "Ask for less.",
                )
            raise self._too_fast(start, (high, w or 0.0))
        top = self.drive_.top_mps
        peak = top if needed(top) <= length else _most(lambda v: needed(v) <= length, least, top)
        end = peak if w is None else w
        legs = self._legs(start, peak, (high, end))
        return _Chain(legs, self._worst(legs))

    def _too_fast(self, start: Place, slow: Place) -> TooSlow:
        return TooSlow(
            start[0],
            f"from {short_kmh(start[1])} it can't slow down to the {short_kmh(slow[1])} "
            f"that are allowed at station {slow[0]:.1f} m",
            "Begin slower, or farther away.",
        )

    def _legs(self, start: Place, peak: float, end: Place) -> tuple[Leg, ...]:
        legs: list[Leg] = []
        at, speed = start
        for last_one, to in ((False, peak), (True, end[1])):
            if last_one:
                # The hold takes what is left, so that nothing adds up.
                last = end[0] - self._way(peak, end[1])
                if last - at > SHORTEST_M and peak > 0.0:
                    legs.append(Leg(at, last, peak, peak, (last - at) / peak))
                    at = last
            if abs(to - speed) >= SAME_MPS:
                legs.append(self._ramp(at, speed, to))
                at, speed = legs[-1].end_m, to
        return tuple(legs)

    def _ramp(self, at_m: float, from_mps: float, to_mps: float) -> Leg:
        profile = self._profile(from_mps, to_mps)
        ramp = self.drive_.ramp(from_mps, to_mps, self.share)
        rate = ramp.table[0][1] if len(ramp.table) == 1 else None
        end = at_m + profile.way_m
        return Leg(at_m, end, from_mps, to_mps, profile.duration_s, profile, rate)

    def without_peaks(self, legs: Sequence[Leg]) -> list[Leg]:
        """Give legs without peaks: up, and down again by next to nothing, or the reverse, is one ramp and a hold.

        That is slower than before by less than `evening.BUMP_MPS` and never faster, so that all that was kept still
        is, but for windows: where one wants more than the slower end has, legs stay.
        """
        flat: list[Leg] = []
        left = list(legs)
        while left:
            peak = next((left[:count] for count in (2, 3) if is_peak(left[:count])), [])
            lower = self._lower(peak) if peak else []
            if lower and not wants_more(self.zones, peak, min(peak[0].from_mps, peak[-1].to_mps)):
                left = lower + left[len(peak) :]
                continue
            flat.append(left.pop(0))
        return flat

    def _lower(self, peak: Sequence[Leg]) -> list[Leg]:
        """The ramp between both ends of a peak, with a hold on its faster side; empty where there is no room for it."""
        begin, end, a, b = peak[0].start_m, peak[-1].end_m, peak[0].from_mps, peak[-1].to_mps
        length = self._way(a, b)
        over = end - begin - length
        if over <= SHORTEST_M:
            return []
        if b > a:
            ramp = self._ramp(begin, a, b)
            return [ramp, Leg(ramp.end_m, end, b, b, (end - ramp.end_m) / b)]
        hold = Leg(begin, begin + over, a, a, over / a)
        return [hold, replace(self._ramp(hold.end_m, a, b), end_m=end)]

    def _worst(self, legs: Sequence[Leg]) -> Zone | None:
        """Of the zones that are passed too fast the slowest: its neighbours can always be left for it and reached."""
        worst, least = None, math.inf
        for leg in legs:
            ways, speeds = looks(leg)
            first = int(np.searchsorted(self.ends, leg.start_m + SHORTEST_M, "left"))
            for number in range(first, len(self.zones)):
                zone = self.zones[number]
                if zone.start_m >= leg.end_m - SHORTEST_M:
                    break
                cap = self.caps[number]
                if cap >= least or max(leg.from_mps, leg.to_mps) <= cap:
                    continue
                if self._over(number, ways, speeds) > OVER_RATIO:
                    worst, least = number, cap
        return None if worst is None else self.zones[worst]

    def _over(self, number: int, ways: Array, speeds: Array) -> float:
        """By what share speed is over what is allowed in a zone, at the most."""
        zone = self.zones[number]
        low, high = max(zone.start_m, ways[0]), min(zone.end_m, ways[-1])
        inside = (ways > low) & (ways < high)
        at = np.concatenate(([low], ways[inside], [high]))
        passed = np.sqrt(np.interp(at, ways, speeds**2))
        bend = np.abs(np.interp(at, (zone.start_m, zone.end_m), (zone.k0_per_m, zone.k1_per_m)))
        allowed = np.full(len(at), min(zone.most_mps, self.drive_.top_mps))
        if math.isfinite(self.drive_.lateral_mps2):
            bent = bend > 0.0
            allowed[bent] = np.minimum(
                allowed[bent], np.sqrt(self.drive_.lateral_mps2 / bend[bent])
            )
        return float((passed / allowed).max()) - 1.0

    def _held(self, zone: Zone, start: Place, goal: Goal) -> list[Place]:
        """From where to where a zone is held at what it allows; one place twice where it is only passed."""
        (low, u), (high, w) = start, goal
        number = int(np.searchsorted(self.ends, zone.end_m, "left"))
        cap = self.caps[number]
        first, last = max(zone.start_m, low), min(zone.end_m, high)
        up, down = self._way(u, cap), 0.0 if w is None else self._way(cap, w)
        if cap < u and first - low < up - SHORTEST_M:
            raise self._too_fast(start, (first, cap))
        begins = max(first, low + up)
        ends = last if w is None or w > cap else min(last, high - down)
        if begins <= ends:
            return [(begins, cap), (ends, cap)]
        # It comes too near one end to be held: a speed is passed there that both sides allow.
        at = last if low + up > last else first
        most = _most(lambda v: self._way(u, v) <= at - low, u, max(cap, u))
        if w is not None and self._way(most, w) > high - at and most > w:
            most = _most(lambda v: self._way(v, w) <= high - at, w, most)
        return [(at, most), (at, most)]


def _most(fits: Callable[[float], bool], low: float, high: float) -> float:
    """The greatest value that fits, between one that does and another."""
    if fits(high):
        return high
    for _ in range(BISECTIONS):
        middle = (low + high) / 2.0
        low, high = (middle, high) if fits(middle) else (low, middle)
    return low


def _cut(zone: Zone, count: int) -> list[Zone]:
    if zone.k0_per_m == zone.k1_per_m:
        return [zone]
    stations = [zone.start_m + zone.length_m * one / count for one in range(count)] + [zone.end_m]
    return [zone.cut(low, high) for low, high in pairwise(stations)]


def looks(leg: Leg) -> tuple[Array, Array]:
    """Give stations in m along a leg and the speeds there, shape (n,) each, ends included."""
    if leg.profile is None:
        return np.array([leg.start_m, leg.end_m]), np.array([leg.from_mps, leg.to_mps])
    ways, speeds = [0.0], [leg.from_mps]
    way, speed = 0.0, leg.from_mps
    for part in leg.profile.parts:
        u = np.linspace(0.0, part.duration_s, LOOKS)[1:]
        accel, jerk = part.accel_mps2, part.jerk_mps3
        more = speed * u + accel * u**2 / 2 + jerk * u**3 / 6
        gain = accel * u + jerk * u**2 / 2
        ways += (way + more).tolist()
        speeds += (speed + gain).tolist()
        way, speed = ways[-1], speeds[-1]
    stations = leg.start_m + np.array(ways)
    stations[-1] = leg.end_m
    return stations, np.array(speeds)


def _within_ellipse(zones: Sequence[Zone], legs: Sequence[Leg], drive: Drive) -> bool:
    """Whether ramps leave the grip that curves need, wherever they are looked at."""
    at = [one for zone in zones for one in (zone.start_m, zone.end_m)]
    bends = [abs(one) for zone in zones for one in (zone.k0_per_m, zone.k1_per_m)]
    ends = [zone.end_m for zone in zones]
    for leg in legs:
        if leg.profile is None:
            continue
        stations, speeds = looks(leg)
        up = leg.to_mps >= leg.from_mps
        # Speed squared over stations: half its slope is the acceleration.
        accel = np.abs(np.diff(speeds**2)) / np.maximum(2.0 * np.diff(stations), SHORTEST_M)
        rate = (
            np.interp(speeds[1:], *np.array(drive.table).T)
            if up
            else np.full(len(accel), drive.brake_mps2)
        )
        bend = np.interp(stations, at, bends)
        counted = (speeds**2 * bend).tolist()
        within = [zones[one] for one in np.searchsorted(ends, stations).clip(max=len(zones) - 1)]
        lateral = np.array(
            [
                zone.sideways_mps2(one, drive.lateral_mps2) / drive.lateral_mps2
                for zone, one in zip(within, counted, strict=True)
            ]
        )
        used = (accel / rate) ** 2 + np.maximum(lateral[1:], lateral[:-1]) ** 2
        if bool((used[np.maximum(bend[1:], bend[:-1]) > 0.0] > 1.0 + ELLIPSE_OVER).any()):
            return False
    return True
