"""Curves of one unknown, held between straight lines over an interval that contain them."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import field, replace

from choreo.linear.affine import Affine
from choreo.linear.profile import Profile
from choreo.linear.rows import Row, at_least, equal
from choreo.motion import least_between
from choreo.problem.records import Ramp
from choreo.words.records import dataclass

Interval = tuple[float, float]
# Bounds of a curve's slope over an interval that surely hold; None where there are none.
Slopes = Callable[[float, float], Interval | None]

# Curves known only by their values are looked at in so many places of an interval, and may leave their chord by this
# share more than they do there.
LOOKS = 32
SAFE_RATIO = 1.5
# Where they lie farther apart than FINE_M, a bend in between may be missed: room for it, as a share of their distance.
FINE_M = 0.25
MISSED_RATIO = 0.05
# An interval is halved until the bounds of a curve's slope leave it no more than ROOM_M to leave a chord of each part,
# but not into parts shorter than LEAST_PART_M, nor into more than MOST_PARTS.
ROOM_M, LEAST_PART_M, MOST_PARTS = 1e-4, 1e-3, 64
# Over a short interval the slope's bounds may be those of one so many times as long, up to WIDEST_M, where that leaves
# no more room than LITTLE_M.
WIDER, WIDEST_M, LITTLE_M = 500.0, 1.0, 1e-8
# No more intervals of a curve are kept for neighbours.
MOST_KEPT = 500
# What differs by less than this (m, m/s) is the same.
SAME = 1e-9
# Where in a ramp of any shape a mover is, is known no finer than this (m, s): proofs need no more.
ANYHOW = 1e-6


@dataclass(frozen=True)
class InRamp:
    """Way and speed of a mover in a ramp over the time since it began (into)."""

    profile: Profile
    into: Affine
    way: Affine
    speed: Affine
    what: str = ""

    @property
    def unknown(self) -> Affine:
        """What the interval is of."""
        return self.into

    def within(self, interval: Interval) -> Iterator[Row]:
        """Rows that contain the curve over an interval."""
        low, high = interval
        yield Row(self.into, low, high, self.what, "s")
        yield from self._way(low, high)
        first, last = self.profile.at(low)[1], self.profile.at(high)[1]
        slope = (last - first) / (high - low) if high > low else 0.0
        chord = self.into.line(low, first, slope)
        off = (high - low) ** 2 / 8.0 * self.profile.most_jerk_mps3 + self.profile.jumps(low, high)
        yield Row(self.speed.minus(chord), -off, off, self.what, "m")

    def _way(self, low: float, high: float) -> Iterator[Row]:
        """The way is convex where speed rises, concave where it falls: between its chord and its tangents."""
        first, last = self.profile.at(low), self.profile.at(high)
        slope = (last[0] - first[0]) / (high - low) if high > low else first[1]
        chord = self.into.line(low, first[0], slope)
        rising = self.profile.rising
        yield (
            at_least(chord, self.way, self.what, "m")
            if rising
            else at_least(self.way, chord, self.what, "m")
        )
        for at, (way, speed, _) in ((low, first), (high, last), _middle(self.profile, low, high)):
            tangent = self.into.line(at, way, speed)
            yield (
                at_least(self.way, tangent, self.what, "m")
                if rising
                else at_least(tangent, self.way, self.what, "m")
            )

    def touching(self, at: float) -> Iterator[Row]:
        """The tangent at a time in the ramp."""
        way, speed, accel = self.profile.at(at)
        yield equal(self.way, self.into.line(at, way, speed), unit="m")
        yield equal(self.speed, self.into.line(at, speed, accel), unit="m")

    def error(self, values: dict[str, float]) -> float:
        """How far the unknowns' values are from the curve."""
        way, speed, _ = self.profile.at(self.into.at(values))
        return max(abs(self.way.at(values) - way), abs(self.speed.at(values) - speed))


def _middle(profile: Profile, low: float, high: float) -> tuple[float, tuple[float, float, float]]:
    middle = (low + high) / 2.0
    return middle, profile.at(middle)


@dataclass(frozen=True, slots=True)
class Tube:
    """What contains a curve over an interval: off its chord (value at the low end, slope) by no less and no more than
    `off`, m.
    """

    value: float
    slope: float
    off: Interval
    slopes: Interval


@dataclass(frozen=True)
class Relation:
    """The station of one mover that goes with another's, as geometry gives it: curve(x) gives it with its slope.

    bounds: of the station. speed: the speed of the other mover, rate: that speed seen along the first one's path, which
    is the slope times it. slopes: bounds of the slope over an interval, as far as they are known for sure; where they
    aren't, values are looked at, and rows made of those can make a plan, not prove that there is none: without `looks`
    only the interval is asked for then.
    """

    label: str
    station: Affine
    value: Affine
    speed: Affine
    rate: Affine
    curve: Callable[[float], tuple[float, float]]
    bounds: Interval
    slopes: Slopes | None = None
    looks: bool = True
    _known: dict[float, tuple[float, float]] = field(default_factory=dict)
    _tubes: dict[Interval, Tube | None] = field(default_factory=dict)

    @property
    def unknown(self) -> Affine:
        """What the interval is of."""
        return self.station

    @property
    def asked(self) -> int:
        """How many values geometry has been asked for."""
        return len(self._known)

    def same_curve(self, other: Relation) -> bool:
        """Say whether another is of the same curve: methods are equal of one object only, tracks as records are."""
        mine, others = (
            (getattr(one.curve, "__self__", one.curve), getattr(one.curve, "__func__", None))
            for one in (self, other)
        )
        return mine == others

    def beside(self, before: Relation) -> Relation:
        """Give this one with what a relation of the very same curve knows of intervals."""
        return replace(self, _tubes=before._tubes if len(before._tubes) < MOST_KEPT else {})

    def at(self, station_m: float) -> tuple[float, float]:
        """Give value and slope at a station, each asked once."""
        if station_m not in self._known:
            value, slope = self.curve(station_m)
            self._known[station_m] = float(value), float(slope)
        return self._known[station_m]

    def within(self, interval: Interval) -> Iterator[Row]:
        """Rows that contain the curve over an interval, as far as looks at it tell."""
        low, high = interval
        yield Row(self.station, low, high, unit="m")
        tube = self._tube(low, high)
        if tube is not None:
            chord = self.station.line(low, tube.value, tube.slope)
            yield Row(self.value.minus(chord), *tube.off, unit="m")
            yield at_least(self.rate, self.speed.times(tube.slopes[0]), unit="m")
            yield at_least(self.speed.times(tube.slopes[1]), self.rate, unit="m")
            return
        if not self.looks:
            return
        apart = (high - low) / LOOKS
        seen = [self.at(low + apart * step) for step in range(LOOKS + 1)]
        slope = (seen[-1][0] - seen[0][0]) / (high - low) if high > low else seen[0][1]
        off = max(
            abs(value - seen[0][0] - slope * apart * step) for step, (value, _) in enumerate(seen)
        )
        missed = MISSED_RATIO * apart if apart > FINE_M else 0.0
        room = SAFE_RATIO * off + missed if off > SAME or missed else 0.0
        chord = self.station.line(low, seen[0][0], slope)
        yield Row(self.value.minus(chord), -room, room, unit="m")
        slopes = [slope for _, slope in seen]
        loose = MISSED_RATIO if missed else SAME
        yield at_least(self.rate, self.speed.times(min(slopes) - loose), unit="m")
        yield at_least(self.speed.times(max(slopes) + loose), self.rate, unit="m")

    def _tube(self, low: float, high: float) -> Tube | None:
        """What surely contains the curve over an interval; None where bounds of its slope aren't known."""
        if (low, high) not in self._tubes:
            self._tubes[low, high] = self._contained(low, high)
        return self._tubes[low, high]

    def _contained(self, low: float, high: float) -> Tube | None:
        """Halve the interval until the bounds leave little room in every part."""
        if self.slopes is None or not high > low:
            return None
        short = self._round_a_known_place(low, high, self.slopes)
        if short is not None:
            return short
        slope = (self.at(high)[0] - self.at(low)[0]) / (high - low)
        parts: list[Interval] = [(low, high)]
        kept: list[tuple[float, float, float, float]] = []
        while parts:
            start, end = parts.pop()
            bounds = self.slopes(start, end)
            wide = bounds is None or (bounds[1] - bounds[0]) * (end - start) / 4.0 > ROOM_M
            if wide and end - start > LEAST_PART_M and len(parts) + len(kept) < MOST_PARTS:
                middle = (start + end) / 2.0
                parts += [(middle, end), (start, middle)]
            elif bounds is None:
                return None
            else:
                kept.append((start, end, *bounds))
        least = most = 0.0
        for start, end, slow, fast in kept:
            # Between its ends a curve leaves their chord by no more than this.
            room = (fast - slow) * (end - start) / 4.0
            off = [self.at(x)[0] - self.at(low)[0] - slope * (x - low) for x in (start, end)]
            least, most = min(least, min(off) - room), max(most, max(off) + room)
        slopes = min(part[2] for part in kept), max(part[3] for part in kept)
        return Tube(self.at(low)[0], slope, (least - SAME, most + SAME), slopes)

    def _round_a_known_place(self, low: float, high: float, slopes: Slopes) -> Tube | None:
        """What contains a short interval in which a value has been asked for: from there the slope's bounds lead on.

        They are those of a far longer interval, which neighbours have too. None where that leaves too much room.
        """
        if (high - low) * WIDER > WIDEST_M:
            return None
        part = 2.0 ** math.ceil(math.log2((high - low) * WIDER))
        start, end = math.floor(low / part) * part, math.ceil(high / part) * part
        at = next((x for x in self._known if low <= x <= high), None)
        bounds = slopes(start, end) if at is not None and start >= self.bounds[0] else None
        if at is None or bounds is None or end > self.bounds[1]:
            return None
        slope, half = (bounds[0] + bounds[1]) / 2.0, (bounds[1] - bounds[0]) / 2.0
        room = half * max(at - low, high - at)
        if room > LITTLE_M:
            return None
        value = self.at(at)[0] + slope * (low - at)
        return Tube(value, slope, (-room - SAME, room + SAME), bounds)

    def touching(self, at: float) -> Iterator[Row]:
        """The tangent at a station."""
        value, slope = self.at(at)
        yield equal(self.value, self.station.line(at, value, slope), unit="m")
        yield equal(self.rate, self.speed.times(slope), unit="m")

    def error(self, values: dict[str, float]) -> float:
        """How far the unknowns' values are from the curve; where nothing was asked of them nothing is off it."""
        if not _known(values, self.station, self.value):
            return 0.0
        station = min(max(self.station.at(values), self.bounds[0]), self.bounds[1])
        value, slope = self.at(station)
        off = abs(self.value.at(values) - value)
        if _known(values, self.rate, self.speed):
            off = max(off, abs(self.rate.at(values) - slope * self.speed.at(values)))
        return off


@dataclass(frozen=True)
class Somewhere:
    """A look in a ramp of any shape, over the speed that it finds: what no shape can beat before it and after it.

    Each speed between the ramp's ends is passed at least so long as the limits ask for; at a given speed the times and
    ways that this leaves are those of some shape, so cutting the interval of speeds leaves nothing out. ends: the
    ramp's speeds; into, way: since it began; left, rest: until it ends.
    """

    ramp: Ramp
    ends: Interval
    speed: Affine
    into: Affine
    way: Affine
    left: Affine
    rest: Affine
    what: str = ""

    @property
    def unknown(self) -> Affine:
        """What the interval is of."""
        return self.speed

    def within(self, interval: Interval) -> Iterator[Row]:
        """Rows that contain all shapes that have a speed of an interval then."""
        yield Row(self.speed, *interval, self.what, "m")
        yield from self._bounds(interval)

    def touching(self, at: float) -> Iterator[Row]:
        """What is left at one speed."""
        yield Row(self.speed, at, at)
        yield from self._bounds((at, at))

    def _bounds(self, interval: Interval) -> Iterator[Row]:
        """Of either part: no quicker, and no more way gained or lost, than the limits allow."""
        (start, end), (low, high) = self.ends, interval
        rising = end >= start
        near, far = (low, high) if rising else (high, low)
        for time, way, passed, speeds in (
            (self.into, self.way, (start, near), (start, far)),
            (self.left, self.rest, (far, end), (near, end)),
        ):
            slow, fast = min(speeds), max(speeds)
            span = min(passed), max(passed)
            lasts, made = least_between(start, end, self.ramp.table, self.ramp.jerk_mps3, span)
            yield at_least(time, lasts, self.what)
            gained, lost = (
                time.times(slow).plus(made - slow * lasts),
                time.times(fast).plus(made - fast * lasts),
            )
            yield at_least(way, gained, self.what, "m")
            yield at_least(lost, way, self.what, "m")

    def error(self, values: dict[str, float]) -> float:
        """How far times and ways are from those of a shape at the speed."""
        at = min(max(self.speed.at(values), min(self.ends)), max(self.ends))
        missed = max(row.lo - row.expression.at(values) for row in self._bounds((at, at)))
        return max(missed - ANYHOW, 0.0)


def _known(values: dict[str, float], *sums: Affine) -> bool:
    """Whether rows asked anything of all unknowns of sums: others are not among the values."""
    return all(name in values for one in sums for name in one.terms)


Curved = InRamp | Relation | Somewhere
