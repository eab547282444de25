"""Filters, and when a signal sets in by the rules of test protocols.

"12-pole phaseless 10 Hz": a Butterworth filter of order 6 forwards and backwards. Each pass is set to the frequency by
name, so that both together halve the amplitude there; protocols don't say which is meant. `overall` sets both together
to -3 dB instead: each pass to f / (sqrt(2) - 1)^(1/12).
"""

from __future__ import annotations

import math
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, sosfiltfilt, sosfreqz

from choreo.rules.evaluating import Sampled
from choreo.rules.records import Filter, Onset
from choreo.rules.shapes import onset_s
from choreo.words.records import dataclass

Floats = NDArray[np.float64]
Reading = Literal["each pass", "overall"]
# A signal that scatters by more than a level divided by this says nothing of that level.
CLEAR = 4.0
# Scatter is that over so long (s): longer than a filter holds noise together.
APART_S = 0.1
# Makes a median absolute value a standard deviation of normal numbers.
OF_NORMAL = 1.4826


@dataclass(frozen=True, slots=True)
class LowPass:
    """A Butterworth low-pass. poles: of both passes together; reading: what the cut-off is that of."""

    poles: int = 12
    cutoff_hz: float = 10.0
    reading: Reading = "each pass"

    @classmethod
    def of(cls, rule: Filter, reading: Reading) -> LowPass:
        """Make it of a rule's filter."""
        return cls(rule.poles, rule.cutoff_hz, reading)

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

    @property
    def words(self) -> str:
        """As it is told."""
        return (
            f"Butterworth of {self.poles} poles: order {self.order} forwards and backwards, "
            f"{self.cutoff_hz:g} Hz {self.reading} (each pass at {self.pass_hz:.4g} Hz)"
        )

    def fits(self, rate_hz: float) -> bool:
        """Whether a sampling rate leaves anything to filter."""
        return rate_hz > 2.0 * self.pass_hz

    def filtered(self, values: Floats, rate_hz: float) -> Floats:
        """Give a signal, shape (n,), filtered without delay; its ends are held on so that they don't bend.

        What isn't known, nan, is bridged and stays unknown.
        """
        known = np.isfinite(values)
        if not self.fits(rate_hz) or known.sum() < 4:
            return values
        index = np.arange(len(values))
        whole = np.interp(index, index[known], values[known])
        pad = min(round(5.0 / self.pass_hz * rate_hz), len(values) - 1)
        sections = butter(self.order, self.pass_hz, fs=rate_hz, output="sos")
        found = np.asarray(sosfiltfilt(sections, whole, padtype="constant", padlen=pad))
        return np.where(known, found, math.nan)

    def gain(self, tone_hz: float, rate_hz: float) -> float:
        """Give what is left of a tone."""
        sections = butter(self.order, self.pass_hz, fs=rate_hz, output="sos")
        return float(np.abs(sosfreqz(sections, [tone_hz], fs=rate_hz)[1][0]) ** 2)


@dataclass(frozen=True, slots=True)
class Found:
    """When something set in, in s; None: it didn't. dips: earlier times at which it seemed to, but recovered.

    unclear: why it can't be said.
    """

    time_s: float | None
    dips: tuple[float, ...] = ()
    unclear: str = ""


def found_onset(onset: Onset, signal: Sampled) -> Found:
    """Find an onset in a signal that is filtered as its rule asks, and tell what was like it before."""
    # What has to be told from noise: the level, or how far it is from where braking begins.
    apart = abs(onset.level if onset.back_to is None else onset.level - onset.back_to)
    scatter = scatter_of(signal)
    if scatter * CLEAR > apart:
        why = f"{onset.signal} scatters by {scatter:.2g}, too much to tell a level of {onset.level:.3g} from noise"
        return Found(None, unclear=why)
    at = onset_s(onset, signal)
    return Found(at, () if at is None else _dips(onset, signal, at))


def scatter_of(signal: Sampled) -> float:
    """Give how much a signal scatters about its own course: a standard deviation by the median of changes."""
    if len(signal.times_s) < 4:
        return 0.0
    over = max(round(APART_S / float(np.median(np.diff(signal.times_s)))), 1)
    # Second differences: of a steady course and of a steady change nothing is left.
    changes = (
        signal.values[2 * over :] - 2.0 * signal.values[over:-over] + signal.values[: -2 * over]
    )
    known = np.abs(changes[np.isfinite(changes)])
    return 0.0 if not len(known) else OF_NORMAL * float(np.median(known)) / math.sqrt(6.0)


def _dips(onset: Onset, signal: Sampled, at: float) -> tuple[float, ...]:
    """When it was beyond the level before, and came back: the first sample of each."""
    sign = -1.0 if onset.level < 0 else 1.0
    beyond = np.flatnonzero((sign * signal.values > abs(onset.level)) & (signal.times_s < at))
    if not len(beyond):
        return ()
    recovered = sign * signal.values < sign * (
        onset.level if onset.back_to is None else onset.back_to
    )
    count = np.cumsum(recovered)[beyond]
    first = np.concatenate(([True], np.diff(count) > 0))
    return tuple(float(one) for one in signal.times_s[beyond[first]])
