"""Lateral acceleration along a path, on banked pieces too, from the forces on a mass."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from choreo.geometry import Path, bank_at

Array = NDArray[np.float64]
GRAVITY_MPS2 = 9.80665


def sideways_mps2(path: Path, stations_m: Array, speeds_mps: Array) -> Array:
    """Give lateral accelerations in m/s2 as a limit for level ground counts them, shape (n,) as stations and speeds.

    In the plane across the path, x towards the inside and z up: what the floor must give is the outward motion's
    (v^2 |k|, g). Its parts along the floor and into it, over each other, are the friction that is asked for.
    """
    inward = speeds_mps**2 * np.abs(path.pose(stations_m).curvature_per_m)
    bank = bank_at(path, stations_m)
    if not bank.any():
        return np.asarray(inward)
    # The floor falls towards the inside: along it (cos, -sin), out of it (sin, cos).
    along = inward * np.cos(bank) - GRAVITY_MPS2 * np.sin(bank)
    out_of = inward * np.sin(bank) + GRAVITY_MPS2 * np.cos(bank)
    friction = np.where(out_of > 0.0, np.abs(along) / np.where(out_of > 0.0, out_of, 1.0), np.inf)
    return np.where(bank == 0.0, inward, GRAVITY_MPS2 * friction)
