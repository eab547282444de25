"""Stagings of drawn members against every choice of marks: regions in which two starts lean on each other."""

import math
import random
from collections.abc import Iterator, Mapping, Sequence
from functools import cached_property
from itertools import combinations, product
from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest
from numpy.typing import NDArray

from choreo.campaigns.staging.boxes import Box, Interval
from choreo.campaigns.staging.member import Member
from choreo.campaigns.staging.planning import Task
from choreo.campaigns.staging.search import fewest_stagings
from choreo.plans import Plan

Array = NDArray[np.float64]

# Of each kind, members that run wherever their ranges say and such that do not everywhere.
EACH = 100
# Whole metres to which marks can be moved: where ends of ranges are whole, no other place serves more.
PLACES = range(15)
NEAR_M = 1e-4


class Drawn:
    """A member that runs where its two starts, and how far they are apart, are within limits.

    refused: a place from which it turns out not to run. clear: whether it may be run at all.
    """

    layout = bare_layout = ("ab",)
    unsure = False
    clear = True

    def __init__(
        self, index: int, limits: tuple[Interval, Interval, Interval], refused: float
    ) -> None:
        self.index = index
        self.limits = limits
        self.refused = refused

    def runs_from(self, a: float, b: float) -> bool:
        sizes = zip(self.limits, (a, b, b - a), strict=True)
        within = all(one.lo - NEAR_M <= size <= one.hi + NEAR_M for one, size in sizes)
        return within and abs(a - self.refused) > 0.5

    @cached_property
    def places(self) -> list[tuple[int, int]]:
        return [place for place in product(PLACES, PLACES) if self.runs_from(*place)]

    @property
    def starts(self) -> dict[str, float]:
        a, b = self.places[-1]
        return {"a": float(a), "b": float(b)}

    @property
    def box(self) -> Box:
        whole = {name: self.range_of(name, {}) for name in "ab"}
        return {name: one for name, one in whole.items() if one is not None}

    def range_of(self, mover: str, at: Mapping[str, float]) -> Interval | None:
        """By pencil: the limits, and what the other's place, or its limits, leave of the way between them."""
        a, b, apart = self.limits
        if mover == "a":
            other = Interval(at["b"], at["b"]) if "b" in at else b
            low, high = max(a.lo, other.lo - apart.hi), min(a.hi, other.hi - apart.lo)
        else:
            other = Interval(at["a"], at["a"]) if "a" in at else a
            low, high = max(b.lo, other.lo + apart.lo), min(b.hi, other.hi + apart.hi)
        return Interval(low, high) if low <= high + NEAR_M else None

    def free(self, _mover: str) -> bool:
        return True

    def far_from(self, at: Mapping[str, float]) -> float:
        return sum(abs(self.starts[name] - station_m) for name, station_m in at.items())

    def runs_as_before(self, _plan: Plan) -> bool:
        return self.clear


def _drawn(draw: random.Random, *, refusing: bool) -> list[Drawn]:
    found: list[Drawn] = []
    while len(found) < draw.randint(2, 5):
        limits = []
        for reach, width in ((0, 6), (0, 6), (-6, 4)):
            low = float(draw.randint(reach, 8))
            limits.append(Interval(low, low + draw.randint(0, width)))
        refused = float(draw.choice(PLACES)) if refusing else -9.0
        one = Drawn(len(found), (limits[0], limits[1], limits[2]), refused)
        if one.places:
            found.append(one)
    return found


def _fewest(members: Sequence[Drawn]) -> int:
    each = [(one.index, set(one.places)) for one in members]
    places = {place for _, of in each for place in of}
    sets = {frozenset(index for index, of in each if place in of) for place in places}
    served = [one for one in sets if not any(one < other for other in sets)]
    everything = {one.index for one in members}
    return next(
        count
        for count in range(1, len(members) + 1)
        if any(set().union(*some) == everything for some in combinations(served, count))
    )


def _planning(tasks: Sequence[Task]) -> Iterator[Plan | None]:
    for member, at in tasks:
        marks = {
            name: SimpleNamespace(
                start=SimpleNamespace(station_m=station_m, x_m=0.0, y_m=0.0, heading_deg=0.0)
            )
            for name, station_m in at.items()
        }
        runs = cast("Drawn", member).runs_from(*at.values())
        yield cast("Plan", SimpleNamespace(movers=marks)) if runs else None


@pytest.mark.parametrize("refusing", [False, True])
def test_stagings_are_those_of_an_exhaustive_search(refusing: bool) -> None:
    draw = random.Random(5)
    shared = more = 0
    for _ in range(EACH):
        members = _drawn(draw, refusing=refusing)
        found = fewest_stagings([cast("Member", one) for one in members], _planning)
        served = sorted(index for one in found.stagings for index in one.variants)
        assert served == [one.index for one in members]
        elsewhere = [
            (staging.marks, index)
            for staging in found.stagings
            for index in staging.variants
            if not members[index].runs_from(*(one.station_m for one in staging.marks.values()))
        ]
        assert elsewhere == []
        fewest = _fewest(members)
        assert found.at_least <= fewest <= len(found.stagings) <= len(members)
        assert len(found.stagings) <= fewest + refusing
        more += len(found.stagings) > fewest
        shared += fewest < len(members)
    assert shared > EACH // 5, "hardly any share marks: nothing was shown"
    # Where a mark turns out not to serve, another one of the finer places is taken, and not every one is looked at.
    assert more <= (3 if refusing else 0)


class Bent(Drawn):
    """A member on a bent path: how far the starts may be apart changes with where the first one is.

    bend: how much steeper, for each metre twice this.
    """

    def __init__(
        self, index: int, limits: tuple[Interval, Interval, Interval], bend: float
    ) -> None:
        super().__init__(index, limits, refused=-9.0)
        self.bend = bend

    def turned(self, a: float) -> float:
        """Where the first one is, as the second one's path counts it: rising, and steeper on."""
        return a + self.bend * a * a

    def back(self, turned: float) -> float:
        if self.bend == 0.0:
            return turned
        return (math.sqrt(max(1.0 + 4.0 * self.bend * turned, 0.0)) - 1.0) / (2.0 * self.bend)

    def runs_from(self, a: float, b: float) -> bool:
        sizes = zip(self.limits, (a, b, b - self.turned(a)), strict=True)
        return all(one.lo - NEAR_M <= size <= one.hi + NEAR_M for one, size in sizes)

    def on(self, a: Array, b: Array) -> NDArray[np.bool_]:
        """Whether it runs from places."""
        first, second, apart = self.limits
        between = b - a - self.bend * a * a
        return (
            (first.lo <= a) & (a <= first.hi) & (second.lo <= b) & (b <= second.hi)
            & (apart.lo <= between) & (between <= apart.hi)
        )  # fmt: skip

    @cached_property
    def starts(self) -> dict[str, float]:
        """In the middle of what is open, one after the other."""
        a = self.range_of("a", {})
        assert a is not None
        middle = (a.lo + a.hi) / 2.0
        b = self.range_of("b", {"a": middle})
        assert b is not None
        return {"a": middle, "b": (b.lo + b.hi) / 2.0}

    def range_of(self, mover: str, at: Mapping[str, float]) -> Interval | None:
        a, b, apart = self.limits
        if mover == "a":
            other = Interval(at["b"], at["b"]) if "b" in at else b
            low = max(a.lo, self.back(other.lo - apart.hi))
            high = min(a.hi, self.back(other.hi - apart.lo))
        else:
            other = Interval(at["a"], at["a"]) if "a" in at else a
            low = max(b.lo, self.turned(other.lo) + apart.lo)
            high = min(b.hi, self.turned(other.hi) + apart.hi)
        return Interval(low, high) if low <= high else None


def _bent(draw: random.Random) -> list[Bent]:
    found: list[Bent] = []
    while len(found) < 2 + draw.randrange(4):
        low = [draw.uniform(0.0, 8.0), draw.uniform(0.0, 12.0), draw.uniform(-6.0, 6.0)]
        limits = [Interval(one, one + draw.uniform(0.3, 5.0)) for one in low]
        one = Bent(len(found), (limits[0], limits[1], limits[2]), draw.uniform(0.0, 0.06))
        if one.range_of("a", {}) is not None:
            found.append(one)
    return found


def _fewest_on_a_fine_grid(members: Sequence[Bent]) -> int:
    """Every place of a grid as fine as a tape is read; members that run from none of them have their own."""
    side = np.arange(0.0, 18.0, 0.1)
    a, b = np.meshgrid(side, side)
    codes = np.sum([(1 << one.index) * one.on(a, b) for one in members], axis=0)
    sets = {
        frozenset(one.index for one in members if int(code) >> one.index & 1)
        for code in np.flatnonzero(np.bincount(codes.ravel()))
    }
    sets |= {frozenset({one.index}) for one in members}
    everything = {one.index for one in members}
    return next(
        count
        for count in range(1, len(members) + 1)
        if any(set().union(*some) == everything for some in combinations(sets, count))
    )


def test_stagings_on_bent_paths_are_those_of_an_exhaustive_search() -> None:
    draw = random.Random(6)
    found, unserved = [], []
    for _ in range(2 * EACH):
        members = _bent(draw)
        one = fewest_stagings([cast("Member", one) for one in members], _planning)
        served = sorted(index for staging in one.stagings for index in staging.variants)
        unserved += [] if served == [one.index for one in members] else [members]
        found.append(
            (one.at_least, len(one.stagings), _fewest_on_a_fine_grid(members), len(members))
        )
    assert unserved == []
    # Between the grid's places there may be better ones; none of it is better than what was found.
    assert [one for one in found if not one[0] <= one[1] <= one[2] <= one[3]] == []
    shared = sum(fewest < count for *_, fewest, count in found)
    assert shared > EACH // 5, "hardly any share marks: nothing was shown"


def test_who_may_not_be_run_from_any_marks_is_left_out_of_stagings_and_bound() -> None:
    near, far, never = (Interval(low, low + 2.0) for low in (0.0, 1.0, 9.0))
    members = [
        Drawn(index, (one, one, Interval(0.0, 0.0)), -9.0)
        for index, one in enumerate((near, never, far))
    ]
    members[1].clear = False
    found = fewest_stagings([cast("Member", one) for one in members], _planning)
    assert [one.variants for one in found.stagings] == [(0, 2)]
    assert found.at_least == 1
    assert list(found.out) == [1]
    members[0].clear = members[2].clear = False
    nothing = fewest_stagings([cast("Member", one) for one in members], _planning)
    assert (nothing.stagings, nothing.at_least) == ((), 0)
    assert sorted(nothing.out) == [0, 1, 2]
