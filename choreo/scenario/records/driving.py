"""How a mover is driven: usual rates, the way back, a drive along its path."""

from __future__ import annotations

from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class Drive:
    """Where a drive along the path ends: a station in m, or the start or the end of a named piece.

    to_mps: its speed there, None: as fast as it comes. lasting_s: the gentlest that takes no longer; None: the
    quickest.
    """

    until_m: float | None
    piece: str | None
    at_end: bool
    to_mps: float | None
    lasting_s: float | None


@dataclass(frozen=True, slots=True)
class Usual:
    """The rates in m/s2 that a mover is driven with where its programme gives none."""

    accelerate_mps2: float | None = None
    brake_mps2: float | None = None


@dataclass(frozen=True, slots=True)
class Return:
    """The way back to the start mark after the run: along a path by name, a way of known length, or its own path."""

    speed_mps: float
    path: str | None = None
    distance_m: float | None = None
