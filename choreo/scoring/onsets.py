"""Filters, and when a signal sets in by the rules of test protocols.

"12-pole phaseless 10 Hz": a Butterworth filter of order 6 forwards and backwards. Each pass is set to the frequency by
name, so that both together halve the amplitude there; protocols don't say which is meant. `overall` sets both together
to -3 dB instead: each pass to f / (sqrt(2) - 1)^(1/12).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, sosfiltfilt, sosfreqz

Floats = NDArray[np.float64]
Reading = Literal["each pass", "overall"]


@dataclass(frozen=True, slots=True)
class LowPass:
    """A Butterworth low-pass. poles: of both passes together; reading: what the cut-off is that of."""

    poles: int = 12
    cutoff_hz: float = 10.0
    reading: Reading = "each pass"

    @property
    def order(self) -> int:
        """Of one pass."""
        return self.poles // 2

    @property
    def pass_hz(self) -> float:
        """To what each pass is set."""
        if self.reading == "each pass":
            return self.cutoff_hz
        return float(self.cutoff_hz / (2.0**0.5 - 1.0) ** (1.0 / (2 * self.order)))

    def filtered(self, values: Floats, rate_hz: float) -> Floats:
        """Give a signal, shape (n,), filtered without delay; its ends are held on so that they don't bend."""
        if rate_hz <= 2.0 * self.pass_hz or len(values) < 4:
            return values
        pad = min(round(5.0 / self.pass_hz * rate_hz), len(values) - 1)
        sections = butter(self.order, self.pass_hz, fs=rate_hz, output="sos")
        return np.asarray(sosfiltfilt(sections, values, padtype="constant", padlen=pad))

    def gain(self, tone_hz: float, rate_hz: float) -> float:
        """Give what is left of a tone."""
        sections = butter(self.order, self.pass_hz, fs=rate_hz, output="sos")
        return float(np.abs(sosfreqz(sections, [tone_hz], fs=rate_hz)[1][0]) ** 2)


def crossing_s(
    time_s: Floats, values: Floats, level: float, before: int | None = None
) -> float | None:
    """Give when a signal, shape (n,), first falls through a level (s, interpolated); before: the last time before that
    sample. None where it never does."""
    falls = np.flatnonzero((values[:-1] > level) & (values[1:] <= level))
    if before is not None:
        falls = falls[falls < before]
    if not len(falls):
        return None
    at = int(falls[0] if before is None else falls[-1])
    part = (values[at] - level) / (values[at] - values[at + 1])
    return float(time_s[at] + part * (time_s[at + 1] - time_s[at]))


def braking_onset_s(
    time_s: Floats,
    accel_mps2: Floats,
    level: float,
    back_to: float | None,
    low_pass: LowPass | None = None,
) -> float | None:
    """Give when braking sets in, None where it doesn't; time_s, accel_mps2: of shape (n,).

    level: a braking that must be passed (m/s2, negative). back_to: then back from its last sample beyond the level, to
    the nearest crossing of this; None: where the level is first crossed. An earlier dip that recovers is not braking.
    """
    rate = 1.0 / float(np.median(np.diff(time_s)))
    values = accel_mps2 if low_pass is None else low_pass.filtered(accel_mps2, rate)
    if back_to is None:
        return crossing_s(time_s, values, level)
    beyond = np.flatnonzero(values <= level)
    if not len(beyond):
        return None
    # Going back from there, the nearest sample at which braking had not begun.
    last = int(beyond[-1])
    held = np.flatnonzero(values[: last + 1] > back_to)
    if not len(held):
        return float(time_s[0])
    return crossing_s(time_s, values, back_to, before=int(held[-1]) + 1)
