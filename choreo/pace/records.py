"""What a drive along a path is made of."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace
from typing import Literal

from choreo.linear.profile import Profile
from choreo.motion import table_value_mps2
from choreo.motion.ramp import Table
from choreo.problem.records import Ramp
from choreo.scenario import Limits, Span
from choreo.words.display import short_kmh
from choreo.words.records import dataclass

# Speeds that differ by less than this (m/s) are the same.
SAME_MPS = 1e-9
HeldBy = Literal["curve", "limit"]
# Why a window is missed and what to write, by what holds the drive to a speed.
MISSED: dict[HeldBy | None, tuple[str, str]] = {
    None: (
        "the quickest drive has {}",
        "Let the window begin later or be wider, or give the vehicle more room before it.",
    ),
    "curve": ("its curve allows {} at the most", "Write a slower window, or a wider curve."),
    "limit": (
        "the vehicle's limit is {}",
        "Write a slower window, or a higher `speed` in its `limits`.",
    ),
}


class TooSlow(Exception):
    """A drive that can't be: where (station in m) and why, in words; instead: what to write."""

    def __init__(self, station_m: float, why: str, instead: str) -> None:
        super().__init__(why)
        self.station_m = station_m
        self.why = why
        self.instead = instead


class WindowMissed(TooSlow):
    """A drive that is slower than a window wants: the middle of that part of the window, in m, and its speed in m/s.

    held_by: what allows no more than that speed there, whatever the way before it: 'curve' or 'limit'.
    """

    def __init__(
        self, station_m: float, zone: Zone, speed_mps: float, held_by: HeldBy | None = None
    ) -> None:
        told, instead = (one.format(short_kmh(speed_mps)) for one in MISSED[held_by])
        super().__init__(
            station_m, f"at least {short_kmh(zone.least_mps)} is wanted there, and {told}", instead
        )
        self.told = told
        self.middle_m = (zone.start_m + zone.end_m) / 2.0
        self.speed_mps = speed_mps

    @property
    def values(self) -> dict[str, str | float]:
        """What a fault of a path made of other paths needs, to tell it by those."""
        return {
            "told": self.told,
            "instead": self.instead,
            "station_m": self.station_m,
            "middle_m": self.middle_m,
            "speed_mps": self.speed_mps,
        }


@dataclass(frozen=True, slots=True)
class Zone:
    """A part of a path with curvature linear from k0 to k1 (1/m), and the speeds between which it is driven.

    leans_mps2: what a bank asks of the tyres of one that stands there, as lateral acceleration on level ground: above 0
    where the inside lies lower.
    """

    start_m: float
    end_m: float
    k0_per_m: float
    k1_per_m: float
    least_mps: float
    most_mps: float
    leans_mps2: float = 0.0

    @property
    def length_m(self) -> float:
        return self.end_m - self.start_m

    def curvature(self, station_m: float) -> float:
        """Give the curvature in 1/m at a station inside."""
        if self.length_m <= 0.0:
            return self.k0_per_m
        share = (station_m - self.start_m) / self.length_m
        return self.k0_per_m + (self.k1_per_m - self.k0_per_m) * share

    def sideways_mps2(self, counted_mps2: float, lateral_mps2: float) -> float:
        """Give the most that tyres feel sideways, in m/s2, of speed squared times curvature.

        Curvatures are those that count against the limit: they tell what is felt at the limit. Slower on a bank it
        pulls towards the inside instead; where the outside lies lower, it pulls there at rest already.
        """
        if self.leans_mps2 >= 0.0:
            return max(counted_mps2, self.leans_mps2)
        return counted_mps2 * (1.0 + self.leans_mps2 / lateral_mps2) - self.leans_mps2

    def cut(self, start_m: float, end_m: float) -> Zone:
        """Give the part of it between two stations inside."""
        return replace(
            self,
            start_m=start_m,
            end_m=end_m,
            k0_per_m=self.curvature(start_m),
            k1_per_m=self.curvature(end_m),
        )


@dataclass(frozen=True, slots=True)
class Leg:
    """A ramp or a hold between two stations; a hold has no profile. Speeds in m/s, time in s.

    rate_mps2: of a ramp the one rate (magnitude) that it is driven with; None: along a table over speed.
    """

    start_m: float
    end_m: float
    from_mps: float
    to_mps: float
    duration_s: float
    profile: Profile | None = None
    rate_mps2: float | None = None

    @property
    def is_hold(self) -> bool:
        return self.profile is None


@dataclass(frozen=True, slots=True)
class Drive:
    """What a drive may use: magnitudes in SI, inf where there is no limit.

    ellipse: braking and cornering share the grip: (a_x/a_x,max)^2 + (a_y/a_y,max)^2 <= 1.
    """

    top_mps: float
    table: tuple[tuple[float, float], ...]
    brake_mps2: float
    jerk_mps3: float = math.inf
    lateral_mps2: float = math.inf
    ellipse: bool = False

    @property
    def steady(self) -> bool:
        """Whether acceleration may jump and doesn't depend on speed, so that all of it is parabolas."""
        return math.isinf(self.jerk_mps3) and len(self.table) == 1

    def scaled(self, share: float) -> Drive:
        """Give the drive that uses a share of all but the top speed."""
        return replace(
            self,
            table=tuple((speed, share * accel) for speed, accel in self.table),
            brake_mps2=share * self.brake_mps2,
            jerk_mps3=share * self.jerk_mps3,
            lateral_mps2=share * self.lateral_mps2,
        )

    def accelerates(self, speed_mps: float) -> float:
        """Give the acceleration in m/s2 that there is at a speed on a straight."""
        return table_value_mps2(self.table, speed_mps)

    def rates(self, from_mps: float, to_mps: float, share: float = 1.0) -> Table:
        """Give what a ramp between two speeds follows: its one rate, or a table over speed.

        A share of a table is driven at one rate, which the table allows at every speed of the ramp: a ramp can follow
        its mover's table, and no other.
        """
        if to_mps < from_mps:
            return ((0.0, share * self.brake_mps2),)
        if share == 1.0 or len(self.table) == 1:
            return tuple((speed, share * accel) for speed, accel in self.table)
        inside = (accel for speed, accel in self.table if from_mps < speed < to_mps)
        least = min(self.accelerates(from_mps), self.accelerates(to_mps), *inside)
        return ((0.0, share * least),)

    def ramp(self, from_mps: float, to_mps: float, share: float = 1.0) -> Ramp:
        """Give the ramp between two speeds at a share of the rates."""
        up = to_mps >= from_mps
        table = self.rates(from_mps, to_mps, share)
        return Ramp(
            name="",
            origin=None,
            direction=1 if up else -1,
            to=Span.at(to_mps),
            table=table,
            jerk_mps3=self.jerk_mps3,
            rated=len(table) == 1,
            is_stop=False,
            build_up_s=None,
            within_m=None,
            over_m=None,
            lasting_s=None,
        )


def drive_of(limits: Limits) -> Drive:
    """Give what a mover with such limits may use."""
    return Drive(
        limits.speed_mps,
        limits.accelerate,
        limits.brake_mps2,
        limits.jerk_mps3,
        limits.lateral_mps2,
        limits.combined == "ellipse",
    )


def lasts_s(legs: Iterable[Leg]) -> float:
    """Give how long legs take, in s."""
    return math.fsum(leg.duration_s for leg in legs)
