"""Samples that are off all of their neighbours and back at once: no motion, taken as lost."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from choreo.recordings.record import Floats, Remark
from choreo.words.display import how_many

# A sample is held against the middle of its neighbours within this long (s): of what rises or falls that is itself.
NEAR_S = 0.06
# It is off by more than so many times what they scatter, and than this (m, m/s, rad). Common practice, no source.
SCATTERS = 8.0
OFF_M, OFF_MPS, OFF_RAD = 0.1, 0.5, math.radians(3.0)
# Makes a median absolute value a standard deviation of normal numbers.
OF_NORMAL = 1.4826
TOLD = 3


def spikes_in(time_s: Floats, values: Floats, least: float) -> NDArray[np.bool_]:
    """Say which samples are off and back, shape (n,); nan is none. least: by how much at least."""
    count = len(values)
    reach = max(round(NEAR_S / float(np.median(np.diff(time_s)))), 1)
    known = np.isfinite(values)
    if count < 2 * reach + 1 or known.sum() < 2 * reach + 1:
        return np.zeros(count, dtype=bool)
    index = np.arange(count)
    whole = np.interp(index, index[known], values[known])
    padded = np.pad(whole, reach, mode="edge")
    around = np.lib.stride_tricks.sliding_window_view(padded, 2 * reach + 1)
    off = np.abs(whole - np.median(around, axis=1))
    limit = max(least, SCATTERS * OF_NORMAL * float(np.median(off)))
    # At the ends a course that rises has half of its neighbours only.
    off[:reach] = off[-reach:] = 0.0
    found = (off > limit) & known
    if not found.any() or found.sum() > count / 2:
        return np.zeros(count, dtype=bool)
    # One that is off moves the middle of its neighbours too: those are well that lie on the line past it.
    kept = known & ~found
    return np.asarray(found & (np.abs(whole - np.interp(index, index[kept], values[kept])) > limit))


def without_spikes(
    name: str, what: str, time_s: Floats, columns: tuple[Floats, ...], least: float
) -> tuple[tuple[Floats, ...], list[Remark]]:
    """Give columns of one thing, each of shape (n,), with nan where any of them is off and back; and tell it."""
    off = np.zeros(len(time_s), dtype=bool)
    for column in columns:
        off |= spikes_in(time_s, column, least)
    if not off.any():
        return columns, []
    at = time_s[off]
    shown = ", ".join(f"{one:.2f}" for one in at[:TOLD])
    more = f" and {len(at) - TOLD} more" if len(at) > TOLD else ""
    samples = how_many(len(at), "sample")
    words = f"{name}: {samples} of its {what} off its neighbours and back, taken as lost, at {shown} s{more}"
    cleaned = tuple(np.where(off, math.nan, column) for column in columns)
    return cleaned, [Remark(words, odd=True)]
