"""The largest lateral acceleration against dense looks; a short kink in a long hold is not passed over."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from choreo.geometry import Path
from choreo.motion.cubic import gained, travelled
from choreo.plans.record import Piece
from choreo.solve.peaks import peak_of
from tests.unit.geometry.made import beside, build_paths, chain, line, piece, surveyed

LOOKS = 10_001


def bend(radius_m: float, turned_deg: float, clothoid_deg: float) -> SimpleNamespace:
    """A bend between clothoids of an angle each."""
    turned, clothoid = np.radians((turned_deg, clothoid_deg))
    return piece("bend", radius_m=radius_m, angle_rad=turned, clothoid_angle_rad=clothoid)


def pieces_of(speed_mps: float, *rates: tuple[float, float, float]) -> tuple[Piece, ...]:
    """Pieces one after another from station 0 on; rates: (duration, acceleration, jerk) of each."""
    pieces, time, station = [], 0.0, 0.0
    for lasts, accel, jerk in rates:
        pieces.append(Piece("a phase", time, lasts, station, speed_mps, accel, jerk))
        time += lasts
        station += float(travelled(lasts, speed_mps, accel, jerk))
        speed_mps += float(gained(lasts, accel, jerk))
    return tuple(pieces)


def dense_mps2(pieces: tuple[Piece, ...], path: Path) -> float:
    """The largest of very many looks."""
    most = 0.0
    for one in pieces:
        u = np.linspace(0.0, one.duration_s, LOOKS)
        speed = one.speed_mps + gained(u, one.accel_mps2, one.jerk_mps3)
        station = one.station_m + travelled(u, one.speed_mps, one.accel_mps2, one.jerk_mps3)
        bends = np.abs(path.pose(np.asarray(station)).curvature_per_m)
        most = max(most, float((speed**2 * bends).max()))
    return most


def test_short_kink_in_a_long_hold_is_not_passed_over() -> None:
    kink = bend(50.0, 6.0, 2.9)
    path = build_paths({"lane": chain(line(1200.0), kink, line(1500.0))})["lane"]
    # 14 m/s on a radius of 50 m (elementary).
    peak = peak_of(pieces_of(14.0, (180.0, 0.0, 0.0)), path, 14.0)
    assert peak.lateral_mps2 == pytest.approx(14.0**2 / 50.0, rel=1e-9)


def _paths() -> dict[str, Path]:
    wave = 4.0 * np.stack((np.arange(60.0), 3.0 * np.sin(np.arange(60.0) / 4.0)), axis=1)
    left = bend(40.0, 70.0, 23.0)
    right = bend(25.0, -50.0, 25.0)
    specs = {"bends": chain(line(20.0), left, right, line(300.0)), "survey": surveyed(wave)}
    specs["beside"] = beside("bends", 3.0)
    return build_paths(specs)


@pytest.mark.parametrize("name", ["bends", "beside", "survey"])
def test_peak_is_that_of_dense_looks(name: str) -> None:
    path, rng = _paths()[name], np.random.default_rng(5)
    for _ in range(4):
        lasts, jerk = float(rng.uniform(2.0, 4.0)), float(rng.uniform(0.2, 0.8))
        rise = (lasts, 0.0, jerk), (lasts, lasts * jerk, -jerk)
        fall = (lasts, 0.0, -jerk / 2), (lasts, -lasts * jerk / 2, jerk / 2)
        pieces = pieces_of(float(rng.uniform(3.0, 8.0)), *rise, (2.0, 0.0, 0.0), *fall)
        found, dense = peak_of(pieces, path, 0.0).lateral_mps2, dense_mps2(pieces, path)
        # Looks a few millimetres apart miss as much; none may be above what is found.
        assert dense * (1.0 - 1e-9) <= found <= dense * (1.0 + 1e-3)


def test_mover_that_stands_has_no_lateral_acceleration() -> None:
    path = _paths()["bends"]
    assert peak_of(pieces_of(0.0, (5.0, 0.0, 0.0)), path, 0.0).lateral_mps2 == 0.0
    assert peak_of((), path, 0.0).lateral_mps2 == 0.0
