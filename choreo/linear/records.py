"""What a problem as linear rows is made of: movers' courses, looks at them, crossings, meetings, choices."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Protocol

from choreo.linear.affine import Affine, given
from choreo.linear.profile import Profile
from choreo.linear.rows import Row
from choreo.problem.records import MoverProblem
from choreo.words.records import dataclass

# A row holds that misses by less than this (m or s).
HOLDS = 1e-9


@dataclass(frozen=True)
class Step:
    """A phase: profile of a ramp, else None; starts at `time`, `station`, `speed_mps`.

    lasts: the duration of a ramp that may be gentler than its limit; its profile is the one at the limit. anyhow: it
    may be driven in any way inside its limits.
    """

    index: int
    time: Affine
    station: Affine
    speed_mps: float
    profile: Profile | None
    stands: bool
    lasts: Affine | None = None
    anyhow: bool = False


@dataclass(frozen=True)
class Course:
    """One mover: its phases in order, when and where it ends."""

    mover: MoverProblem
    start: Affine
    launch: Affine
    steps: tuple[Step, ...]
    end_time: Affine
    end_station: Affine

    def time(self, index: int) -> Affine:
        """Give when phase `index` begins; one past the last: when all ends."""
        return self.steps[index].time if index < len(self.steps) else self.end_time

    def station(self, index: int) -> Affine:
        """Give where phase `index` begins; one past the last: where all ends."""
        return self.steps[index].station if index < len(self.steps) else self.end_station

    def speed_mps(self, index: int) -> float:
        """Give the speed at which phase `index` begins; one past the last: at rest."""
        return self.steps[index].speed_mps if index < len(self.steps) else 0.0


@dataclass(frozen=True)
class Look:
    """A mover at a time: unknown station and speed, until it is decided which phase the time falls into.

    latest: the index of the last phase that it can fall into, where that is known.
    """

    mover: str
    time: Affine
    station: Affine
    speed: Affine
    label: str
    latest: int | None = None


def before_launch(course: Course, time: Affine, label: str = "") -> Look:
    """Give where a mover is at a time no later than its launch: at its start, or on its way there if it rolls."""
    speed = course.speed_mps(0)
    place = course.start.minus(course.launch.minus(time).times(speed))
    return Look(course.mover.name, time, place, given(speed), label)


@dataclass(frozen=True, slots=True)
class Crossed:
    """A trigger: when its setting is crossed, where the watched mover is then, when it acts.

    gap: to the mover that it is measured to, of a trigger by gap.
    """

    crossing: Affine
    station: Affine
    acts: Affine
    gap: Affine | None = None


@dataclass(frozen=True, slots=True)
class Met:
    """An encounter: its time and both stations. ends: when a gap that holds for a while does no longer."""

    time: Affine
    station_a: Affine
    station_b: Affine
    ends: Affine


class Track(Protocol):
    """A curved relation between the stations of two movers."""

    def at(self, station_b_m: float) -> tuple[float, float]:
        """Give the station of a that goes with one of b, in m, and its slope."""
        ...

    def slopes(self, low_m: float, high_m: float) -> tuple[float, float] | None:
        """Give bounds of the slope between two stations of b that surely hold; None where there are none."""
        ...


@dataclass(frozen=True, slots=True)
class Choice:
    """Ways of which one must hold, each a set of rows.

    about: what is on one side or the other, the same in several choices; sides: on which a way has it, 0 where it says
    nothing of it. Ways that have it on two sides can't both hold, however near the two are to each other.
    """

    label: str
    ways: tuple[tuple[Row, ...], ...]
    about: str = ""
    sides: tuple[int, ...] = ()

    def side(self, way: int) -> int:
        """Give the side on which a way has what the choice is about, 0 for none."""
        return self.sides[way] if self.sides else 0

    def held(self, values: Mapping[str, float]) -> Iterator[int]:
        """Give the ways whose rows all hold at values; none whose unknowns those lack."""
        for index, way in enumerate(self.ways):
            if all(
                row.expression.terms.keys() <= values.keys()
                and row.lo - HOLDS <= row.expression.at(values) <= row.hi + HOLDS
                for row in way
            ):
                yield index


class NotLinear(Exception):
    """Something in the problem is left to choose that is no time and no station."""
