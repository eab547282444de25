"""When a value that falls along a cubic is used up: single roots, with numbers."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import NamedTuple

from choreo.verification.tolerances import ROOT_S, TOUCH_M

# A halving at least every so many looks for a root.
PATIENT = 4


class Cubic(NamedTuple):
    """A cubic over so many seconds from 0, by its Bernstein coefficients, which enclose it."""

    lasting_s: float
    first: float
    second: float
    third: float
    last: float

    def at(self, u_s: float) -> tuple[float, float]:
        """Give its value and its slope (1/s) after so many seconds."""
        _, left, value, right, _ = self._between(u_s)
        return value, 3.0 * (right - left) / self.lasting_s

    def over(self, u_s: float) -> tuple[float, float]:
        """Give how much it is above where bodies touch after so many seconds, and its slope."""
        value, slope = self.at(u_s)
        return value - TOUCH_M, slope

    def cut(self, u_s: float) -> tuple[Cubic, Cubic]:
        """Give the parts before and after so many seconds."""
        one, left, middle, right, three = self._between(u_s)
        before = Cubic(u_s, self.first, one, left, middle)
        return before, Cubic(self.lasting_s - u_s, middle, right, three, self.last)

    def _between(self, u_s: float) -> tuple[float, float, float, float, float]:
        """The coefficients of the parts before and after but their outer ends; the middle one is of both."""
        u = u_s / self.lasting_s
        v = 1.0 - u
        one, two = self.first * v + self.second * u, self.second * v + self.third * u
        three = self.third * v + self.last * u
        left, right = one * v + two * u, two * v + three * u
        return one, left, left * v + right * u, right, three


def all_closed(gaps: Sequence[Cubic]) -> float:
    """Give the first time in s at which all gaps, in m over the same time, are closed; inf when they never are.

    As long as one of them is open, none of the others is looked at.
    """
    now = 0.0
    while True:
        widest = max(gaps, key=lambda one: one.at(now)[0])
        if widest.at(now)[0] <= TOUCH_M:
            return now
        closed = _closed(widest.cut(now)[1] if now else widest)
        if math.isinf(closed):
            return math.inf
        now += closed


def _closed(gap: Cubic) -> float:
    """When a gap, open at first, is closed, in s; inf when it never is."""
    parts, now = [gap], 0.0
    while parts:
        part = parts.pop()
        lasting_s, first, second, third, last = part
        falls = first >= second >= third >= last
        if min(second, third, last) > TOUCH_M:
            now += lasting_s
        elif falls:
            return now + used_up(part.over, lasting_s)
        elif lasting_s <= ROOT_S:
            return now + lasting_s
        else:
            parts += reversed(part.cut(lasting_s / 2.0))
    return math.inf


def used_up(value: Callable[[float], tuple[float, float]], lasting_s: float) -> float:
    """Give when a value that falls, from above 0 to 0 or less within so many seconds, is no longer above 0.

    value: gives value and slope after so many seconds. Newton's way inside a bracket, which is halved wherever that
    way leaves it or is long.
    """
    before, after, u, looks = 0.0, lasting_s, lasting_s, 0
    while after - before > ROOT_S:
        left, slope = value(u)
        if left > 0.0:
            before = u
        else:
            after = u
        looks += 1
        step = -left / slope if slope < 0.0 else math.inf
        # A little beyond where the root is: so the bracket closes from both sides.
        u += step + math.copysign(ROOT_S / 4.0, step)
        if not before < u < after or looks % PATIENT == 0:
            u = (before + after) / 2.0
    return after
