"""What a source of error is and does, in words: in centimetres, milliseconds, km/h and per cent, with the direction."""

from __future__ import annotations

from collections.abc import Mapping

from choreo.plans.errors_record import FirstOrderTold, SourceTold
from choreo.words.display import KMH_PER_MPS
from choreo.words.kinds import ERRORS, ErrorKind, Measure, Unit
from choreo.words.records import dataclass

# What a source is changed by in a sentence (SI), and the words for that; what wanders has no direction.
TENTH_M, CENTI_S, KMH, PER_CENT = 0.10, 0.010, 1.0 / KMH_PER_MPS, 0.01
STEPS: Mapping[ErrorKind, tuple[float, str] | None] = {
    "speed held": (KMH, "1 km/h faster"),
    "speed wander": None,
    "start along": (TENTH_M, "10 cm forward"),
    "start beside": (TENTH_M, "10 cm to its left"),
    "path offset": (TENTH_M, "10 cm to its left"),
    "path wander": None,
    "position": (TENTH_M, "10 cm measured ahead"),
    "achieved acceleration": (PER_CENT, "1 % stronger"),
    "achieved braking": (PER_CENT, "1 % stronger"),
    "launch": (CENTI_S, "10 ms later"),
    "latency": (CENTI_S, "10 ms more"),
    "sampling": (CENTI_S, "10 ms later"),
}
# A bias below this share of the spread is none; an effect below this (m, s) nobody sees.
NOTHING_RATIO = 0.001
LEAST_EFFECT = 5e-5


@dataclass(frozen=True, slots=True)
class Outcome:
    """What is told of an encounter: its name in a sentence, what is done to it, and what more and less of it are."""

    words: str
    does: str
    more: str
    less: str


OUTCOMES: Mapping[Measure, Outcome] = {
    "overlap": Outcome("impact point", "moves it", "to the left", "to the right"),
    "side": Outcome("impact point", "moves it", "forward", "to the rear"),
    "distance": Outcome("distance", "makes it", "longer", "shorter"),
    "time gap": Outcome("time gap", "makes it", "longer", "shorter"),
    "time to collision": Outcome("time to collision", "makes it", "longer", "shorter"),
    "time": Outcome("time margin", "makes it", "longer", "shorter"),
}


def small(value: float, unit: Unit | None) -> str:
    """'3.6 cm', '12 ms', '0.30 km/h', '2 %': an error as people say it; unit None is a ratio."""
    if unit is None:
        return f"{_digits(100.0 * value)} %"
    if unit == "m" and abs(value) < 1.0:
        return f"{_digits(100.0 * value)} cm"
    if unit == "s" and abs(value) < 1.0:
        return f"{_digits(1000.0 * value)} ms"
    if unit == "m/s":
        return f"{_digits(KMH_PER_MPS * value)} km/h"
    return f"{_digits(value)} {unit}"


def reading(value: float, unit: Unit) -> str:
    """'-0.30 cm', '15.02 m', '1.003 s': where something lies, finer than how far it is off."""
    if abs(value) < 1.0 and unit == "m":
        return small(value, unit)
    return f"{value:.{2 if unit == 'm' else 3}f} {unit}"


def _digits(value: float) -> str:
    """Two digits that count, at most two places."""
    size = abs(value)
    places = 0 if size >= 9.95 else 1 if size >= 0.995 else 2
    text = f"{value:.{places}f}"
    return text.lstrip("-") if float(text) == 0.0 else text


def per_cent(ratio: float) -> str:
    """'92.4 %'; what is neither all nor nothing is never rounded to it."""
    value = 100.0 * ratio
    if 99.95 <= value < 100.0:
        return "> 99.9 %"
    if 0.0 < value < 0.05:
        return "< 0.1 %"
    return f"{value:.1f} %"


def source_words(source: SourceTold) -> str:
    """'subject: speed held'."""
    return f"{source.owner}: {ERRORS[source.kind].words}"


def spread_words(source: SourceTold) -> str:
    """'0.30 km/h', '-0.10 km/h +/- 0.20 km/h', 'uniform, 2.9 ms': how a source spreads round what is planned."""
    spread = small(source.spread, source.unit)
    shape = "" if source.shape == "normal" else ", uniform"
    over = ""
    if source.over is not None:
        over = f" over {source.over:g} {ERRORS[source.kind].over}"
    off = abs(source.bias) > NOTHING_RATIO * source.spread
    bias = f"{small(source.bias, source.unit)} +/- " if off else ""
    return f"{bias}{spread}{over}{shape}"


def effect_words(
    source: SourceTold, derivative: float, told: FirstOrderTold, outcome: Outcome
) -> str:
    """'10 cm forward moves it 3.6 cm to the left'; nothing of what wanders, which has no direction."""
    changed = STEPS[source.kind]
    if changed is None:
        return ""
    step, words = changed
    moved = derivative * step
    if abs(moved) < LEAST_EFFECT:
        return f"{words} does nothing"
    way = outcome.more if moved > 0 else outcome.less
    return f"{words} {outcome.does} {small(abs(moved), told.unit)} {way}"
