"""What follows a drive: whether the path behind its end allows it, so that the drive ends no faster than that."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from choreo.pace.built_up import looks
from choreo.pace.records import Drive, Leg, Zone

# Speeds and grip over what is allowed by less than this share are rounding.
OVER_RATIO = 1e-6


def allowed(
    zones: Sequence[Zone], legs: Sequence[Leg], within: Drive, over: float = OVER_RATIO
) -> bool:
    """Whether legs keep to the lateral limit of zones, and under an ellipse leave what their ramps need.

    over: the share by which they may pass it; where a speed is sought, less than none, so that rounding keeps it.

    Speed windows of zones are a drive's own: what follows it isn't bound by them. Zones reach as far as the legs, or
    are straight behind.
    """
    stations = [one for zone in zones for one in (zone.start_m, zone.end_m)]
    bends = [abs(one) for zone in zones for one in (zone.k0_per_m, zone.k1_per_m)]
    for leg in legs:
        at, speeds = looks(leg)
        knots = [one for one in stations if at[0] < one < at[-1]]
        places = np.unique(np.concatenate((at, knots)))
        passed = np.interp(places, at, speeds**2)
        across = passed * np.interp(places, stations, bends, right=0.0) / within.lateral_mps2
        along = np.zeros(len(places))
        if within.ellipse and leg.profile is not None:
            along[1:] = np.abs(np.diff(passed)) / (2.0 * np.maximum(np.diff(places), 1e-9))
            along[:-1] = np.maximum(along[:-1], along[1:])
            up = leg.to_mps >= leg.from_mps
            rates = [within.accelerates(float(one) ** 0.5) for one in passed] if up else []
            along /= np.array(rates) if up else within.brake_mps2
            along[across == 0.0] = 0.0
        if float((across**2 + along**2).max()) > 1.0 + 2.0 * over:
            return False
    return True
