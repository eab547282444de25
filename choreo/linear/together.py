"""Ramps and stops in a curve where braking or accelerating and cornering share an ellipse, as rows over their stations.

At each instant of a ramp its speed and its acceleration leave a curvature that it can be driven on. What is more curved
is passed before the ramp has come so far, or after it is so far again; of a ramp that may be gentler the rate can be
such that it is driven there anywhere. A ramp is at one place at a time: a connected stretch that is too tight for its
hardest instant lies wholly before it or wholly behind it then, so the choice of the two leaves nothing out.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

import numpy as np
from numpy.typing import NDArray

from choreo.geometry import Path, counted_per_m
from choreo.linear.cornering import Tight, tight_stretches
from choreo.linear.profile import LONGEST_RATIO, Profile, gentler
from choreo.linear.records import Choice, Course, Step
from choreo.linear.rows import Row
from choreo.motion import across_left_mps2
from choreo.motion.cubic import gained, travelled
from choreo.problem.records import MoverProblem, Ramp

Array = NDArray[np.float64]
Indices = NDArray[np.int64]
# A ramp is looked at in so many instants, a tight stretch in so many places, then closer around the tightest.
INSTANTS = 400
PLACES = 200
CLOSER = 3
# Halvings until an instant, or a duration, is exact to 1e-9 of itself.
HALVINGS = 28
# A look beside a jump of acceleration is so far from it (s).
SIDE_S = 1e-12
# A speed whose square (m2/s2) is no more than this is rest.
AT_REST = 1e-12
# Curvatures that differ by less than this share are the same.
SAME = 1e-9


def together(course: Course, path: Path) -> Iterator[Choice]:
    """Give a choice for each ramp and each stretch on which the ellipse doesn't leave its rate."""
    mover = course.mover
    if mover.ellipse is None or not math.isfinite(mover.lateral_mps2):
        return
    room = (mover.start.lo, mover.room.hi)
    for step in course.steps:
        if step.profile is None or step.anyhow or not step.profile.parts:
            continue
        left = Left(mover, step.profile)
        least = float(left.per_m(left.instants).min()) * (1.0 + SAME)

        def allowed(stations: Array) -> Array:
            bends = np.abs(path.pose(stations).curvature_per_m)
            bends = counted_per_m(path, stations, bends, mover.lateral_mps2)
            with np.errstate(divide="ignore"):
                return np.asarray(1.0 / bends)

        for tight in tight_stretches(path, allowed, math.inf if least <= 0 else 1.0 / least, room):
            ways = _ways(course, step, left, tight, lambda at: 1.0 / allowed(at))
            name = mover.phases[step.index].name
            yield Choice(f"{mover.name} {name} and the curve at {tight.ends[0]:.1f} m", ways)


class Left:
    """What a ramp leaves: at each instant the most curvature that it can be driven on."""

    def __init__(self, mover: MoverProblem, profile: Profile) -> None:
        if mover.ellipse is None:
            raise AssertionError("only an ellipse leaves less of one by the other")
        self.profile = profile
        self._ellipse, self._across_mps2 = mover.ellipse, mover.lateral_mps2
        lasts = np.array([part.duration_s for part in profile.parts])
        self._begins = np.concatenate(([0.0], np.cumsum(lasts)[:-1]))
        self._accels = np.array([part.accel_mps2 for part in profile.parts])
        self._jerks = np.array([part.jerk_mps3 for part in profile.parts])
        states = [profile.at(float(begin)) for begin in self._begins]
        self._ways, self._speeds, _ = np.array(states).T
        # Acceleration may jump where two parts join: both sides count.
        joints = np.append(self._begins, profile.duration_s)
        even = np.linspace(0.0, profile.duration_s, INSTANTS)
        looks = np.concatenate((even, joints - SIDE_S, joints + SIDE_S))
        self.instants: Array = np.unique(np.clip(looks, 0.0, profile.duration_s))

    def _states(self, u_s: Array) -> tuple[Array, Array, Array]:
        """Way, speed and acceleration u_s seconds into the ramp."""
        index = np.clip(np.searchsorted(self._begins, u_s, side="right") - 1, 0, None)
        u, speed = u_s - self._begins[index], self._speeds[index]
        accel, jerk = self._accels[index], self._jerks[index]
        way = self._ways[index] + travelled(u, speed, accel, jerk)
        return way, speed + gained(u, accel, jerk), accel + jerk * u

    def per_m(self, u_s: Array) -> Array:
        """Give the most curvature in 1/m u_s seconds into the ramp, shape (n,); inf at rest."""
        _, speeds, accels = self._states(u_s)
        most: Array | float = self._ellipse.brake_mps2
        if self.profile.rising:
            knots, rates = np.array(self._ellipse.accelerate).T
            most = np.interp(speeds, knots, rates)
        across = across_left_mps2(accels, most, self._across_mps2)
        rest = np.full(len(speeds), np.inf)
        return np.asarray(np.divide(across, speeds**2, out=rest, where=speeds**2 > AT_REST))

    def too_tight(self, bends_per_m: Array) -> tuple[Array, Array]:
        """Give the ways in m between which curvatures are too much; nan where they never are. Shape (n,) both."""
        over = self.per_m(self.instants) * (1.0 + SAME) < bends_per_m[:, None]
        last = over.shape[1] - 1
        firsts, lasts = over.argmax(axis=1), last - over[:, ::-1].argmax(axis=1)
        ends = (
            self._edge(firsts, np.maximum(firsts - 1, 0), bends_per_m),
            self._edge(lasts, np.minimum(lasts + 1, last), bends_per_m),
        )
        there = over.any(axis=1)
        return np.where(there, ends[0], np.nan), np.where(there, ends[1], np.nan)

    def _edge(self, over: Indices, under: Indices, bends_per_m: Array) -> Array:
        """The ways at which curvatures become too much, each between two instants."""
        bad, good = self.instants[over], self.instants[under]
        for _ in range(HALVINGS):
            middle = (bad + good) / 2.0
            tight = self.per_m(middle) * (1.0 + SAME) < bends_per_m
            bad, good = np.where(tight, middle, bad), np.where(tight, good, middle)
        return self._states(bad)[0]


def _ways(
    course: Course, step: Step, left: Left, tight: Tight, bends: Callable[[Array], Array]
) -> tuple[tuple[Row, ...], ...]:
    mover = course.mover
    name, origin = mover.phases[step.index].name, mover.lateral_origin
    what = f"{mover.name} past the curve on which it can't {{}} as hard as its {name}"
    what = what.format("accelerate" if left.profile.rising else "brake")
    where = f"{mover.name} through with its {name} before that curve"
    if step.lasts is not None:
        past = Row(step.station, tight.ends[1], math.inf, what, "m", origin)
        short = Row(course.station(step.index + 1), -math.inf, tight.ends[0], where, "m", origin)
        shortest = _gentle_enough(course, step, tight, bends)
        if shortest is None:
            return (past,), (short,)
        slow = f"{mover.name} {name}: gentle enough for the curve"
        return (past,), (short,), (Row(step.lasts, shortest, math.inf, slow, "s", origin),)
    after = _most(left, tight, bends, sign=1.0)
    before = _most(left, tight, bends, sign=-1.0)
    past = Row(step.station, after, math.inf, what, "m", origin)
    short = Row(step.station, -math.inf, -before, where, "m", origin)
    return (past,), (short,)


def _most(left: Left, tight: Tight, bends: Callable[[Array], Array], sign: float) -> float:
    """The largest sign * (c - the way at which the curvature of c begins, or ceases, to be too much)."""
    low, high = tight.ends
    best = -math.inf
    for _ in range(CLOSER):
        places = np.linspace(low, high, PLACES)
        begins, ends = left.too_tight(bends(places))
        values = sign * (places - (begins if sign > 0 else ends))
        values[np.isnan(values)] = -math.inf
        at = int(values.argmax())
        best = max(best, float(values[at]))
        if at in (0, PLACES - 1):
            break
        low, high = float(places[at - 1]), float(places[at + 1])
    return best


def _gentle_enough(
    course: Course, step: Step, tight: Tight, bends: Callable[[Array], Array]
) -> float | None:
    """The least duration in s with which a ramp can be driven anywhere on a stretch; None where none is enough."""
    ramp, profile = course.mover.phases[step.index], step.profile
    if profile is None or not isinstance(ramp, Ramp):
        return None
    bend = float(np.max(bends(np.linspace(*tight.ends, PLACES))))

    def fits(duration_s: float) -> bool:
        made = gentler(ramp, profile.start_mps, duration_s)
        if made is None:
            return False
        left = Left(course.mover, made)
        return float(left.per_m(left.instants).min()) >= bend

    low, high = profile.duration_s, LONGEST_RATIO * profile.duration_s
    if not fits(high):
        return None
    for _ in range(HALVINGS):
        middle = (low + high) / 2.0
        low, high = (low, middle) if fits(middle) else (middle, high)
    return high
