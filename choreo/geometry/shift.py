"""The lateral shift: two like half turns to opposite sides, with linear changes of curvature.

Curvature goes 0 -> k over t, stays for a, goes k -> -k over 2t, stays for a, and -k -> 0 over t. The two
halves are the same turned by 180 degrees, so only the first is solved: half the offset, half the length.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from choreo.geometry.curve import CurvePath
from choreo.geometry.poses import Array
from choreo.geometry.tolerances import NOTHING, PROBE_RATIO, SHAPE_RATIO
from choreo.words.records import dataclass

# A tenth of the length for each change of curvature, where the author gives neither transition nor radius.
DEFAULT_SHARE = 0.1
# Both searches end by their own tests after some ten steps; these only end what can't be.
STEPS = 60
# A shift that turns more than square to its direction would come back: it is none.
TURN_LIMIT_RAD = math.pi / 2


class ShiftImpossible(Exception):
    """No shift has these numbers; carries the code of the finding and its values."""

    def __init__(self, code: str, **values: float) -> None:
        super().__init__(code)
        self.code = code
        self.values = values


@dataclass(frozen=True, slots=True)
class Shift:
    """Shape of a shift to the left: tightest curvature, length of a transition, length of an arc."""

    curvature_per_m: float
    transition_m: float
    arc_m: float

    def stretches(self, side: float) -> list[tuple[float, float, float]]:
        """Give (length, start curvature, end curvature); side +1 goes left, -1 right."""
        k, t, a = side * self.curvature_per_m, self.transition_m, self.arc_m
        parts = [(t, 0.0, k), (a, k, k), (t, k, 0.0), (t, 0.0, -k), (a, -k, -k), (t, -k, 0.0)]
        return [part for part in parts if part[0] > 0.0]

    @property
    def turn_rad(self) -> float:
        """Heading in the middle, relative to the start."""
        return self.curvature_per_m * (self.transition_m + self.arc_m)

    def half(self) -> tuple[float, float]:
        """Give how far along and aside the middle lies, in m."""
        k, t, a = self.curvature_per_m, self.transition_m, self.arc_m
        parts = ((t, 0.0, k), (a, k, k), (t, k, 0.0))
        return CurvePath([part for part in parts if part[0] != 0.0] or [(0.0, 0.0, 0.0)]).end_m


def solve_shift(
    offset_m: float,
    *,
    length_m: float | None = None,
    path_length_m: float | None = None,
    radius_m: float | None = None,
    transition_m: float | None = None,
) -> Shift:
    """Find the shift that goes offset_m aside (> 0) within a length along the start or along the path.

    radius_m: tightest radius; the transitions are then solved, else they are transition_m long (default
    a tenth of the length). Raises ShiftImpossible.
    """
    long = path_length_m if length_m is None else length_m
    assert long is not None
    if offset_m > (long if length_m is not None else long / TURN_LIMIT_RAD):
        raise ShiftImpossible("geometry.shift-too-steep", offset_m=offset_m, length_m=long)
    along_path = length_m is None
    if radius_m is None:
        given = DEFAULT_SHARE * long if transition_m is None else transition_m
        shape = _with_transition(offset_m, long, given, along_path)
    else:
        shape = _with_radius(offset_m, long, radius_m, along_path)
    if shape.turn_rad > TURN_LIMIT_RAD + NOTHING:
        raise ShiftImpossible("geometry.shift-too-steep", offset_m=offset_m, length_m=long)
    return shape


def _with_transition(offset: float, long: float, t: float, along_path: bool) -> Shift:
    """Curvature and arc length for given transitions."""
    if 4.0 * t > long * (1.0 + NOTHING):
        raise ShiftImpossible(
            "geometry.shift-transition-too-long", transition_m=t, length_m=long, most_m=long / 4.0
        )
    half = long / 2.0
    if along_path:
        arc = max(half - 2.0 * t, 0.0)

        def shape_of(k: float) -> Shift:
            return Shift(k, t, arc)

        most = TURN_LIMIT_RAD / (t + arc)
        k = _root(lambda k: shape_of(k).half()[1] - offset / 2.0, most)
        if k is None:
            raise ShiftImpossible("geometry.shift-too-steep", offset_m=offset, length_m=long)
        return shape_of(k)

    guess = np.array([offset / (half - t) / half, half - 2.0 * t])
    k, arc = _newton(lambda v: Shift(v[0], t, v[1]).half(), guess, (half, offset / 2.0))
    if arc < -NOTHING:
        raise ShiftImpossible(
            "geometry.shift-transition-too-long",
            transition_m=t,
            length_m=long,
            most_m=t + arc / 4.0,
        )
    return Shift(k, t, max(arc, 0.0))


def _with_radius(offset: float, long: float, radius: float, along_path: bool) -> Shift:
    """Transition and arc length for a given tightest radius."""
    k = 1.0 / radius
    if offset > 2.0 * radius:
        raise ShiftImpossible("geometry.shift-too-steep", offset_m=offset, length_m=long)
    turn = math.acos(1.0 - offset / (2.0 * radius))
    least = 2.0 * radius * (turn if along_path else math.sin(turn))
    if long < least * (1.0 - NOTHING):
        raise ShiftImpossible(
            "geometry.shift-radius-too-large", radius_m=radius, least_m=least, length_m=long
        )
    # No arc at all: the longest shift that still reaches this radius.
    widest = TURN_LIMIT_RAD * radius
    bare = _root(lambda t: Shift(k, t, 0.0).half()[1] - offset / 2.0, widest)
    if bare is not None:
        most = 4.0 * bare if along_path else 2.0 * Shift(k, bare, 0.0).half()[0]
        if long > most * (1.0 + NOTHING):
            raise ShiftImpossible(
                "geometry.shift-radius-too-small", radius_m=radius, most_m=most, length_m=long
            )
    half = long / 2.0
    rough = min(max(half - offset * radius / half, 0.0), half / 2.0)

    def measure(v: Array) -> tuple[float, float]:
        x, y = Shift(k, v[0], v[1]).half()
        return (2.0 * v[0] + v[1] if along_path else x), y

    t, arc = _newton(measure, np.array([rough, half - 2.0 * rough]), (half, offset / 2.0))
    return Shift(k, max(t, 0.0), max(arc, 0.0))


def _newton(
    measure: Callable[[Array], tuple[float, float]], start: Array, wanted: tuple[float, float]
) -> tuple[float, float]:
    """Solve two smooth equations in two unknowns; these may leave their sensible range meanwhile."""
    v, target = start, np.array(wanted)
    size = float(np.abs(target).max())
    probe = np.where(start == 0.0, size, np.abs(start)) * PROBE_RATIO
    last = np.inf
    for _ in range(STEPS):
        error = np.array(measure(v)) - target
        worst = float(np.abs(error).max())
        # Go on while it still gets better: the last digits cost one step.
        if worst <= SHAPE_RATIO * size and worst >= last / 2.0:
            break
        last = worst
        columns = [
            (np.array(measure(v + step)) - measure(v - step)) / (2.0 * float(step.sum()))
            for step in np.diag(probe)
        ]
        v = v - np.linalg.solve(np.array(columns).T, error)
    return float(v[0]), float(v[1])


def _root(function: Callable[[float], float], high: float) -> float | None:
    """Find where a function that rises from below zero at 0 reaches zero; None beyond high.

    False position; the end that stays put counts half each time (Illinois), so it closes in fast.
    """
    low, at_low, at_high = 0.0, function(0.0), function(high)
    if at_high < 0.0:
        return None
    side = 0
    for _ in range(STEPS):
        middle = high - at_high * (high - low) / (at_high - at_low)
        at_middle = function(middle)
        if abs(at_middle) <= SHAPE_RATIO * abs(high) or high - low <= SHAPE_RATIO * high:
            return middle
        if at_middle < 0.0:
            low, at_low = middle, at_middle
            at_high, side = (at_high / 2.0 if side < 0 else at_high), -1
        else:
            high, at_high = middle, at_middle
            at_low, side = (at_low / 2.0 if side > 0 else at_low), 1
    return middle
