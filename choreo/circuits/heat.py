"""A temperature of first order: on each surface it tends towards a value, the faster the farther off it is."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping

from choreo.circuits.records import Spell
from choreo.circuits.written import RoughWritten, TemperatureWritten
from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class Heat:
    """What a spell of laps does: T becomes factor T + offset; its peaks are the highest of such lines."""

    factor: float
    offset: float
    peaks: tuple[tuple[float, float], ...]

    def after(self, start_degc: float) -> float:
        """Give the temperature at the end."""
        return self.factor * start_degc + self.offset

    def highest(self, start_degc: float) -> float:
        """Give the highest temperature on the way: between two surfaces it only rises or only falls."""
        return max(start_degc, *(f * start_degc + o for f, o in self.peaks))


def heat_of(
    spells: Iterable[Spell], surfaces: Mapping[str, RoughWritten], model: TemperatureWritten
) -> Heat:
    """Give what spells do to a temperature. Standing counts as the surface that it stands on."""
    factor, offset = 1.0, 0.0
    peaks = []
    for spell in spells:
        surface = surfaces.get(spell.surface or "")
        towards, over = model.elsewhere, model.over
        if surface is not None and surface.towards is not None:
            towards = surface.towards
        if surface is not None and surface.over is not None:
            over = surface.over
        decay = math.exp(-spell.lasts_s / over)
        factor, offset = factor * decay, offset * decay + towards * (1.0 - decay)
        peaks.append((factor, offset))
    return Heat(factor, offset, tuple(peaks))
