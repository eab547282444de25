"""A made-up measuring system: what it makes of true motion. For simulated recordings only."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Literal

import numpy as np

from choreo.recordings.record import ClockName, Floats, Track
from choreo.words.records import dataclass

Places = Literal["site", "earth"]

# How long (s) a fix that is lost stays lost on average.
LOST_S = 0.1


@dataclass(frozen=True, slots=True)
class Recorder:
    """How runs are recorded. noise: standard deviations in m, m/s, rad, independent from sample to sample.

    antenna_m: where the antenna is, ahead and left of the reference point, of every mover. clock: what the time column
    counts. lost_ratio: the share of samples in which a mover has no fix.
    """

    rate_hz: float = 100.0
    noise_m: float = 0.0
    noise_mps: float = 0.0
    noise_rad: float = 0.0
    antenna_m: tuple[float, float] = (0.0, 0.0)
    clock: ClockName = "recording"
    lost_ratio: float = 0.0
    places: Places = "site"

    def measured(self, track: Track, random: np.random.Generator) -> Track:
        """Give what is recorded of one mover's true motion: where its antenna is, with noise and lost fixes."""
        ahead, left = self.antenna_m
        cos, sin = np.cos(track.heading_rad), np.sin(track.heading_rad)
        count = len(track.x_m)

        def noise(size: float) -> Floats:
            return size * random.standard_normal(count)

        found = Track(
            track.x_m + ahead * cos - left * sin + noise(self.noise_m),
            track.y_m + ahead * sin + left * cos + noise(self.noise_m),
            track.heading_rad + noise(self.noise_rad),
            track.speed_mps + noise(self.noise_mps),
            track.accel_mps2,
        )
        if self.lost_ratio <= 0.0:
            return found
        lost = self._lost(count, random)
        x, y, heading, speed = (
            np.where(lost, math.nan, one)
            for one in (found.x_m, found.y_m, found.heading_rad, found.speed_mps)
        )
        accel = None if found.accel_mps2 is None else np.where(lost, math.nan, found.accel_mps2)
        return replace(found, x_m=x, y_m=y, heading_rad=heading, speed_mps=speed, accel_mps2=accel)

    def _lost(self, count: int, random: np.random.Generator) -> np.ndarray:
        """Where the fix is lost: stretches of LOST_S on average that begin at random."""
        step = max(LOST_S * self.rate_hz, 1.0)
        begins = random.random(count) < self.lost_ratio / step
        lengths = np.maximum(random.exponential(step, count).astype(int), 1)
        lost = np.zeros(count, dtype=bool)
        for first in np.flatnonzero(begins):
            lost[first : first + lengths[first]] = True
        return lost
