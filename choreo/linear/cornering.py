"""The lateral limit on a path: where a mover may be how fast, as rows over the stations of its phases.

A curve at station c with curvature k allows the speed v(c) = sqrt(limit / |k|). A course rises to a peak of speed and
falls again; what is tighter than a peak allows can't be where the peak is, so it is passed before the mover gets too
fast or after it has slowed down. Before: in each rising ramp the speed v(c) is reached a known way from the ramp's
start, and c must not lie beyond; after: likewise in each falling ramp. Every tight stretch and every peak make one
choice of the two.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence

import numpy as np

from choreo.geometry import Path, banks_of, counted_per_m
from choreo.linear.affine import Affine
from choreo.linear.profile import Profile
from choreo.linear.records import Choice, Course, Step
from choreo.linear.rows import Row
from choreo.motion import least_ramp_distance_m
from choreo.problem.records import Ramp
from choreo.words.records import dataclass

# Curvature is looked at in so many places of a stretch, then around the tightest of them, so many times.
LOOKS = 33
CLOSER = 3
# So many stretches are looked at together.
AT_ONCE = 1024
# A look next to a stretch's end is this far inside (m): curvature may jump at the end itself.
INSET_M = 1e-9
# Speeds that differ by less than this share are the same.
SAME = 1e-9
# Whoever is slower than this (m/s) is so on any curve.
SLOW_MPS = 1e-6
# Stretches that are nearer to each other than this (m) are one.
JOINED_M = 1e-6


@dataclass(frozen=True, slots=True)
class Tight:
    """A stretch of path that allows less than the course's highest speed somewhere. ends: stations in m."""

    ends: tuple[float, float]


def cornering(course: Course, path: Path) -> Iterator[Choice]:
    """Give a choice for each tight stretch and each peak of speed: passed before the peak, or after it."""
    mover = course.mover
    fastest = max((course.speed_mps(index) for index in range(len(course.steps) + 1)), default=0.0)
    if not math.isfinite(mover.lateral_mps2) or fastest <= 0.0:
        return

    def allowed(stations: np.ndarray) -> np.ndarray:
        bends = np.abs(path.pose(stations).curvature_per_m)
        bends = counted_per_m(path, stations, bends, mover.lateral_mps2)
        with np.errstate(divide="ignore"):
            return np.asarray(np.sqrt(mover.lateral_mps2 / bends)) * (1.0 + SAME)

    banked = bool(banks_of(path))
    for peak in _peaks(course):
        room = (mover.start.lo, mover.room.hi)
        straight = -1.0 if banked else mover.lateral_mps2 / max(peak.speed_mps, SLOW_MPS) ** 2
        tights = list(tight_stretches(path, allowed, peak.speed_mps, room, straight))
        ahead, behind = (_lasts(steps, tights, allowed) for steps in (peak.up, peak.down))
        for number, tight in enumerate(tights):
            label = (
                f"{mover.name} at {peak.speed_mps:.2f} m/s and the curve at {tight.ends[0]:.1f} m"
            )
            before = tuple(_before(course, peak, tight, allowed, ahead[number]))
            after = tuple(_after(course, peak, tight, allowed, behind[number]))
            yield Choice(label, (before, after))


@dataclass(frozen=True)
class Peak:
    """A highest speed of a course: the ramps that lead up to it and down from it, phases by index.

    first: where the way up begins; last: where the way down has ended.
    """

    speed_mps: float
    up: tuple[Step, ...]
    down: tuple[Step, ...]
    first: int
    last: int


def _peaks(course: Course) -> Iterator[Peak]:
    """The course cut at its lowest speeds."""
    ramps = [step for step in course.steps if step.profile is not None]
    begin = 0
    up: list[Step] = []
    down: list[Step] = []
    for step in ramps:
        rises = _profile(step).rising
        if rises and down:
            yield _peak(course, up, down, begin, step.index)
            begin, up, down = step.index, [], []
        (up if rises else down).append(step)
    yield _peak(course, up, down, begin, len(course.steps))


def _peak(course: Course, up: Sequence[Step], down: Sequence[Step], first: int, last: int) -> Peak:
    speeds = [_profile(step).end_mps for step in up] + [_profile(step).start_mps for step in down]
    speed = max([course.speed_mps(first), *speeds])
    return Peak(speed, tuple(up), tuple(down), first, last)


def tight_stretches(
    path: Path,
    allowed: Callable[[np.ndarray], np.ndarray],
    speed_mps: float,
    room: tuple[float, float],
    straight_per_m: float = -1.0,
) -> Iterator[Tight]:
    """Stretches that allow less than a speed everywhere but near their ends; neighbours that touch are one.

    Where the speed is allowed in between, as where an S goes straight, they are two: it may be driven just there.
    straight_per_m: curvature up to this allows the speed; what bends nowhere more need not be looked at.
    """
    found: list[tuple[float, float]] = []
    goes_on_m = -math.inf
    for looks, slow in _looks(path, allowed, speed_mps, room, straight_per_m):
        edges = np.flatnonzero(np.diff(slow, prepend=False, append=False)).tolist()
        for first, behind in zip(edges[::2], edges[1::2], strict=True):
            begin, end = float(looks[max(first - 1, 0)]), float(looks[min(behind, LOOKS - 1)])
            if first == 0 and begin - goes_on_m < JOINED_M:
                begin = found.pop()[0]
            found.append((begin, end))
        goes_on_m = float(looks[-1]) if slow[-1] else -math.inf
    yield from (Tight(ends) for ends in found)


def _looks(
    path: Path,
    allowed: Callable[[np.ndarray], np.ndarray],
    speed_mps: float,
    room: tuple[float, float],
    straight_per_m: float,
) -> Iterator[tuple[np.ndarray, np.ndarray]]:
    """Stations on each stretch where a speed is too much, and at which it is; many are looked at in one go."""
    stretches = np.array(path.stretches(), dtype=float).reshape(-1, 4)
    lows = np.maximum(stretches[:, 0], room[0]) + INSET_M
    highs = np.minimum(stretches[:, 1], room[1]) - INSET_M
    bends = np.abs(stretches[:, 2:]).max(axis=1) > straight_per_m
    there = np.flatnonzero((highs > lows) & bends)
    for first in range(0, len(there), AT_ONCE):
        block = there[first : first + AT_ONCE]
        looks = np.linspace(lows[block], highs[block], LOOKS, axis=1)
        slow = (allowed(looks.ravel()) < speed_mps).reshape(looks.shape)
        for row in np.flatnonzero(slow.any(axis=1)):
            yield looks[row], slow[row]


def _before(
    course: Course,
    peak: Peak,
    tight: Tight,
    allowed: Callable[[np.ndarray], np.ndarray],
    lasts: Mapping[int, float],
) -> Iterator[Row]:
    """Passed before it gets too fast: on the way up, v(c) is reached beyond c. lasts: as `_lasts` gives them."""
    what = f"{course.mover.name} past the curve that is too tight for its speed, and at speed"
    origin = course.mover.lateral_origin
    slowest = peak.speed_mps
    for step in peak.up:
        profile = _profile(step)
        slowest = min(slowest, profile.start_mps)
        if step.anyhow:
            for at, way in _after_speed(course, step, tight, allowed):
                there = course.station(step.index + 1)
                yield Row(there, at + way, math.inf, what, "m", origin)
        elif step.lasts is not None:
            for at, share in _shares(profile, tight, allowed, min):
                here = step.station.plus(_way(course, step).times(share))
                yield Row(here, at, math.inf, what, "m", origin)
        elif math.isfinite(lasts[step.index]):
            yield Row(step.station, lasts[step.index], math.inf, what, "m", origin)
    lowest = course.speed_mps(peak.first) if not peak.up else slowest
    if beyond := _slower(tight, allowed, lowest):
        yield Row(course.station(peak.first), max(beyond), math.inf, what, "m", origin)


def _after(
    course: Course,
    peak: Peak,
    tight: Tight,
    allowed: Callable[[np.ndarray], np.ndarray],
    lasts: Mapping[int, float],
) -> Iterator[Row]:
    """Reached after it has slowed down: on the way down, v(c) is reached before c. lasts: as `_lasts` gives them."""
    what = f"{course.mover.name} slow enough before the curve that is too tight for its speed"
    origin = course.mover.lateral_origin
    slowest = peak.speed_mps
    for step in peak.down:
        profile = _profile(step)
        slowest = min(slowest, profile.end_mps)
        if step.anyhow:
            for at, way in _after_speed(course, step, tight, allowed):
                yield Row(step.station, -math.inf, at - way, what, "m", origin)
        elif step.lasts is not None:
            for at, share in _shares(profile, tight, allowed, max):
                here = step.station.plus(_way(course, step).times(share))
                yield Row(here, -math.inf, at, what, "m", origin)
        elif math.isfinite(lasts[step.index]):
            yield Row(step.station, -math.inf, -lasts[step.index], what, "m", origin)
    if beyond := _slower(tight, allowed, slowest):
        yield Row(course.station(peak.last), -math.inf, min(beyond), what, "m", origin)


def _lasts(
    steps: Sequence[Step], tights: Sequence[Tight], allowed: Callable[[np.ndarray], np.ndarray]
) -> list[dict[int, float]]:
    """For each stretch, by phase: the start of a ramp at its limit from which it is as fast as a station allows.

    The last one of a ramp that rises, the negative of the first one of a ramp that falls; -inf where the ramp has no
    speed that the stretch allows.
    """
    found: list[dict[int, float]] = [{} for _ in tights]
    for step in steps:
        if step.anyhow or step.lasts is not None:
            continue
        for first in range(0, len(tights), AT_ONCE):
            block = np.array([tight.ends for tight in tights[first : first + AT_ONCE]])
            most = _most(_profile(step), block, allowed)
            for number, value in enumerate(most, start=first):
                found[number][step.index] = float(value)
    return found


def _most(
    profile: Profile, ends: np.ndarray, allowed: Callable[[np.ndarray], np.ndarray]
) -> np.ndarray:
    """Largest sign * (c - way until v(c) is reached) of the c whose v(c) lies between the ramp's speeds.

    ends: of stretches, shape (n, 2), in m; gives shape (n,), -inf where there is no such c. sign: 1 of a ramp that
    rises, -1 of one that falls.
    """
    slow, fast = sorted((profile.start_mps, profile.end_mps))
    sign = 1.0 if profile.rising else -1.0
    low, high = ends[:, 0], ends[:, 1]
    best = np.full(len(ends), -math.inf)
    if not profile.parts:
        return best
    there = np.arange(len(ends))
    for _ in range(CLOSER):
        looks = np.linspace(low, high, LOOKS, axis=1)
        speeds = allowed(looks.ravel()).reshape(looks.shape)
        values = np.full(looks.shape, -math.inf)
        inside = (speeds >= slow) & (speeds < fast)
        values[inside] = sign * (looks[inside] - profile.ways_until(speeds[inside]))
        at = values.argmax(axis=1)
        rows = np.arange(len(at))
        best[there] = np.maximum(best[there], values[rows, at])
        low, high = looks[rows, np.maximum(at - 1, 0)], looks[rows, np.minimum(at + 1, LOOKS - 1)]
        kept = inside.any(axis=1)
        there, low, high = there[kept], low[kept], high[kept]
        if not len(there):
            break
    return best


def _way(course: Course, step: Step) -> Affine:
    """The way of a ramp that may be gentler than its limit."""
    return course.station(step.index + 1).minus(step.station)


def _after_speed(
    course: Course, step: Step, tight: Tight, allowed: Callable[[np.ndarray], np.ndarray]
) -> Iterator[tuple[float, float]]:
    """Stations of a tight stretch, and the least way from their speed to the faster end of a ramp of any shape."""
    ramp = course.mover.phases[step.index]
    slow, fast = sorted((step.speed_mps, course.speed_mps(step.index + 1)))
    looks = np.linspace(*tight.ends, LOOKS)
    for at, speed in zip(looks, allowed(looks), strict=True):
        if slow <= speed < fast and isinstance(ramp, Ramp):
            yield float(at), least_ramp_distance_m(float(speed), fast, ramp.table, math.inf)


def _shares(
    profile: Profile,
    tight: Tight,
    allowed: Callable[[np.ndarray], np.ndarray],
    careful: Callable[[float, float], float],
) -> Iterator[tuple[float, float]]:
    """Stations of a tight stretch, and the share of a ramp's way after which their speed is reached.

    The share lies between that at the ramp's limit and that of a constant rate, which a gentle ramp comes near; the
    careful one of the two is taken.
    """
    slow, fast = sorted((profile.start_mps, profile.end_mps))
    squares = profile.end_mps**2 - profile.start_mps**2
    looks = np.linspace(*tight.ends, LOOKS)
    for at, speed in zip(looks, allowed(looks), strict=True):
        into = profile.when(float(speed)) if slow <= speed < fast else None
        if into is not None:
            even = (float(speed) ** 2 - profile.start_mps**2) / squares
            yield float(at), careful(profile.at(into)[0] / profile.way_m, even)


def _slower(
    tight: Tight, allowed: Callable[[np.ndarray], np.ndarray], speed_mps: float
) -> list[float]:
    """Both ends of what allows less than a speed."""
    looks = np.linspace(*tight.ends, 4 * LOOKS)
    slow = np.flatnonzero(allowed(looks) < speed_mps)
    return [float(looks[slow[0]]), float(looks[slow[-1]])] if len(slow) else []


def _profile(step: Step) -> Profile:
    if step.profile is None:
        raise AssertionError("only a ramp has a profile")
    return step.profile
