"""Banked pieces of a path: how much of a lateral limit they ask for. Formulas: `courses/banking.py`.

A curve is kept to a lateral limit by speed squared times curvature. On a bank another curvature counts, as if the floor
were level there: so much less that the limit is reached at the same speed.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from choreo.courses.banking import as_level_mps2, most_outward_mps2
from choreo.geometry.poses import Array, Path

# First and last station in m, bank in rad: the inside lies lower by it.
Bank = tuple[float, float, float]
# Length in m, curvature at the start and at the end in 1/m.
Part = tuple[float, float, float]
# No limit holds on such a bank: what counts as its curvature, as a multiple of its own.
HOPELESS = 1e9


# Into so many parts is a stretch cut along which the bank grows with the curvature.
GROWING_PARTS = 16


def banked(
    parts: Sequence[Part], bank_rad: float, station_m: float, *, even: bool = False
) -> tuple[list[Part], list[Bank]]:
    """Give the parts of a banked piece that begins at a station, and how each lies.

    Where the curvature grows, as along a clothoid, the bank grows with it, as roads are laid: part by part, each
    as its tighter end asks for. even: it is the same all along.
    """
    most = max(abs(one) for part in parts for one in part[1:])
    cut: list[Part] = []
    for length, begin, end in parts:
        number = 1 if even or begin == end else GROWING_PARTS
        bends = np.linspace(begin, end, number + 1).tolist()
        cut += [(length / number, a, b) for a, b in pairwise(bends)]
    ends = np.cumsum([station_m, *(part[0] for part in cut)]).tolist()
    lying = [
        (a, b, bank_rad if even else bank_rad * max(abs(part[1]), abs(part[2])) / most)
        for (a, b), part in zip(pairwise(ends), cut, strict=True)
    ]
    return cut, lying


def banks_of(path: Path) -> tuple[Bank, ...]:
    """Give the banked stretches of a path."""
    # Asked for again and again: isinstance of a protocol takes fifty times as long.
    banks: tuple[Bank, ...] = getattr(path, "banks", ())
    return banks


def bank_at(path: Path, s_m: Array) -> Array:
    """Give the bank in rad at stations s_m in m, shape (n,); 0 where there is none."""
    found = np.zeros(np.shape(s_m))
    for start, end, bank in banks_of(path):
        found[(s_m >= start) & (s_m <= end)] = bank
    return found


def felt_mps2(path: Path, s_m: Array, outward_mps2: Array) -> Array:
    """Give lateral accelerations as on level ground, of speed squared times |curvature| in m/s2; shape (n,) all."""
    if not banks_of(path):
        return outward_mps2
    bank = bank_at(path, s_m)
    return np.where(bank == 0.0, outward_mps2, as_level_mps2(outward_mps2, bank))


def counted_per_m(path: Path, s_m: Array, bends_per_m: Array, lateral_mps2: float) -> Array:
    """Give the curvatures in 1/m that count against a lateral limit, at stations s_m in m; shape (n,) all."""
    if not banks_of(path) or not np.isfinite(lateral_mps2):
        return bends_per_m
    banks, where = np.unique(bank_at(path, s_m), return_inverse=True)
    shares = []
    for bank in banks:
        most = most_outward_mps2(lateral_mps2, float(bank)) if bank else lateral_mps2
        shares.append(lateral_mps2 / most if most > 0.0 else HOPELESS)
    return np.asarray(bends_per_m * np.array(shares)[where])
