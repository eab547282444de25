"""Channels of one file that have clocks of their own, put on one: that of the most samples."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import field

import numpy as np

from choreo.recordings.channels import unreadable
from choreo.recordings.record import Floats, Remark
from choreo.words.records import dataclass

# What lies between two samples further apart than this (s), and than twice the usual step, is not known.
APART_S = 0.05
# A full turn by unit: an angle that passes it is no jump back.
TURNS = {"deg": 360.0, "°": 360.0, "degree": 360.0, "degrees": 360.0, "rad": 2.0 * np.pi}


@dataclass(eq=False)
class Raster:
    """Channels that were sampled together. time_s: shape (n,), as is each channel."""

    time_s: Floats
    numbers: dict[str, Floats] = field(default_factory=dict)


def on_one_clock(
    file: str, rasters: Sequence[Raster], units: Mapping[str, str | None], remarks: list[Remark]
) -> Raster:
    """Give all channels on the clock of the most samples: straight lines between samples of the others.

    units: by channel, None where the file says none. Raises ChoreoError: no channel at all, no time in common.
    """
    if not rasters:
        raise AssertionError("a file without a channel was put on a clock")
    leading = max(rasters, key=lambda one: len(one.time_s))
    found = Raster(leading.time_s, dict(leading.numbers))
    for other in rasters:
        if other is leading:
            continue
        same = len(other.time_s) == len(leading.time_s) and np.array_equal(
            other.time_s, leading.time_s
        )
        if same:
            found.numbers.update(other.numbers)
            continue
        if len(other.time_s) < 2:
            # A channel of one sample is a constant of the run, and none of ours.
            found.numbers.update({n: np.full(len(found.time_s), np.nan) for n in other.numbers})
            continue
        _refuse_other_times(file, leading, other)
        _rising(file, other)
        names = ", ".join(sorted(other.numbers))
        rate = 1.0 / float(np.median(np.diff(other.time_s)))
        remarks.append(Remark(f"{names}: {rate:.4g} samples a second, straight lines between them"))
        for name, values in other.numbers.items():
            found.numbers[name] = _put(other.time_s, values, leading.time_s, units.get(name))
    return found


def _refuse_other_times(file: str, leading: Raster, other: Raster) -> None:
    if other.time_s[0] <= leading.time_s[-1] and leading.time_s[0] <= other.time_s[-1]:
        return
    first, second = (next(iter(one.numbers), "a channel") for one in (leading, other))
    raise unreadable(
        file,
        f"`{first}` and `{second}` have no time in common",
        "Look at their clocks: they are of two runs, or one of them was not set.",
    )


def _rising(file: str, raster: Raster) -> None:
    if np.all(np.diff(raster.time_s) >= 0.0):
        return
    name = next(iter(raster.numbers), "a channel")
    raise unreadable(file, f"the time of `{name}` runs back", "Record it anew.")


def _put(own_s: Floats, values: Floats, time_s: Floats, unit: str | None) -> Floats:
    """A channel at other times, nan where it isn't known."""
    kept = np.concatenate(([True], np.diff(own_s) > 0.0))
    own_s, values = own_s[kept], values[kept]
    turn = TURNS.get((unit or "").lower())
    if turn is not None:
        known = np.isfinite(values)
        values = values.copy()
        values[known] = np.unwrap(values[known], period=turn)
    found = np.interp(time_s, own_s, values, left=np.nan, right=np.nan)
    after = np.clip(np.searchsorted(own_s, time_s), 1, len(own_s) - 1)
    steps = own_s[after] - own_s[after - 1]
    wide = steps > max(APART_S, 2.0 * float(np.median(np.diff(own_s))))
    on_sample = np.isin(time_s, own_s)
    return np.where(wide & ~on_sample, np.nan, found)
