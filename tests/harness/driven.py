"""A motion that is known: phases at their limits one after the other, and where the mover is when."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from tests.harness.ramps import Profile, Table, quickest


@dataclass(frozen=True)
class Stretch:
    """One phase as driven: a ramp's profile, or a constant speed."""

    name: str
    kind: str
    lasts_s: float
    speed_mps: float
    profile: Profile | None = None

    def way(self, since_s: float) -> float:
        """Way in m since its beginning."""
        if self.profile is None:
            return self.speed_mps * since_s
        return _inside(self.profile, since_s)[0]

    def speed(self, since_s: float) -> float:
        return self.speed_mps if self.profile is None else _inside(self.profile, since_s)[1]

    @property
    def way_m(self) -> float:
        return self.speed_mps * self.lasts_s if self.profile is None else self.profile.covers_m


def _inside(profile: Profile, since_s: float) -> tuple[float, float]:
    """Way and speed in a ramp; over one of its cells the acceleration is taken as constant."""
    times = profile.times
    here = int(np.clip(np.searchsorted(times, since_s) - 1, 0, len(times) - 2))
    since = min(since_s, profile.lasts_s) - times[here]
    v0, v1 = profile.speeds[here], profile.speeds[here + 1]
    accel = (v1 - v0) / (times[here + 1] - times[here])
    return float(profile.ways[here] + v0 * since + accel * since**2 / 2), float(v0 + accel * since)


@dataclass
class Drive:
    """A mover's motion: at start_m at launch_s (at rest or rolling), stretch after stretch, then at rest.

    speed_mps: at the end of what has been added so far.
    """

    table: Table
    brake_mps2: float
    jerk_mps3: float
    start_m: float = 0.0
    launch_s: float = 0.0
    rolling_mps: float = 0.0
    stretches: list[Stretch] = field(default_factory=list)
    speed_mps: float = 0.0

    def rolls(self, speed_mps: float) -> None:
        """Come to the launch at a speed."""
        self.rolling_mps = self.speed_mps = speed_mps

    def ramp(self, name: str, to_mps: float, rate_mps2: float | None) -> None:
        """Go on with a ramp at its rate, or at the limit."""
        own = self.table if to_mps > self.speed_mps else ((0.0, self.brake_mps2),)
        table = own if rate_mps2 is None else ((0.0, rate_mps2),)
        profile = quickest(self.speed_mps, to_mps, table, self.jerk_mps3)
        self.stretches.append(Stretch(name, "ramp", profile.lasts_s, 0.0, profile))
        self.speed_mps = to_mps

    def hold(self, name: str, lasts_s: float) -> None:
        """Go on at the present speed, which may be none."""
        self.stretches.append(Stretch(name, "hold", lasts_s, self.speed_mps))

    def begins(self, name: str) -> float:
        """Time in s at which a stretch begins."""
        time = self.launch_s
        for one in self.stretches:
            if one.name == name:
                return time
            time += one.lasts_s
        raise AssertionError(name)

    @property
    def ends_s(self) -> float:
        return self.launch_s + sum(one.lasts_s for one in self.stretches)

    @property
    def ends_m(self) -> float:
        return self.start_m + sum(one.way_m for one in self.stretches)

    def at(self, time_s: float) -> tuple[float, float]:
        """Station in m and speed in m/s."""
        time, station = self.launch_s, self.start_m
        if time_s <= time:
            return station - self.rolling_mps * (time - time_s), self.rolling_mps
        for one in self.stretches:
            if time_s <= time + one.lasts_s:
                return station + one.way(time_s - time), one.speed(time_s - time)
            time, station = time + one.lasts_s, station + one.way_m
        return station, 0.0
