"""A recorded run: every mover's place, heading and speed on one clock, in the site frame, SI."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from choreo.rules.records import Signal
from choreo.words.records import dataclass

Floats = NDArray[np.float64]
ClockName = Literal["recording", "utc", "gps"]


@dataclass(frozen=True, eq=False)
class Track:
    """One mover, each of shape (n,): its reference point in m, heading in rad as its body points, speed in m/s.

    accel_mps2: along its way, None where it was not recorded. nan where nothing was recorded. signals: what else was
    recorded of it, by the names that rules have, in SI.
    """

    x_m: Floats
    y_m: Floats
    heading_rad: Floats
    speed_mps: Floats
    accel_mps2: Floats | None = None
    signals: Mapping[Signal, Floats] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Remark:
    """What was inferred of a file, or is odd about it: in words, `odd` where it may cost a verdict.

    unit: what was taken for the unit of a channel, whose name the words are then.
    """

    words: str
    odd: bool = False
    unit: str | None = None


@dataclass(frozen=True, slots=True)
class Uncertainty:
    """Standard uncertainties of what was measured: m, m/s, rad, s. given: whether somebody said so."""

    position_m: float = 0.03
    speed_mps: float = 0.1 / 3.6
    heading_rad: float = math.radians(0.1)
    time_s: float = 0.0
    given: bool = False


@dataclass(frozen=True, eq=False)
class Recording:
    """One run. time_s: shape (n,), rising, from the first sample on. events_s: when each named signal rose.

    simulated: whether its file says that it is no measurement. gaps_s: by mover, from when to when nothing is known
    of it, in s on that clock. jumps_s: by mover, when its place jumped: where it is isn't sure after that.
    """

    name: str
    time_s: Floats
    tracks: Mapping[str, Track]
    events_s: Mapping[str, float] = field(default_factory=dict)
    remarks: tuple[Remark, ...] = ()
    gaps_s: Mapping[str, tuple[tuple[float, float], ...]] = field(default_factory=dict)
    uncertainty: Uncertainty = Uncertainty()
    simulated: bool = False
    jumps_s: Mapping[str, tuple[float, ...]] = field(default_factory=dict)

    @property
    def rate_hz(self) -> float:
        """Samples a second, of the usual step."""
        return 1.0 / float(np.median(np.diff(self.time_s)))
