"""What a circuit is, and what becomes of it. SI units, times of the clock in s after midnight."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field

from choreo.circuits.written import CircuitWritten, RoughWritten, TemperatureWritten
from choreo.geometry import Path
from choreo.geometry.loop import lap_of
from choreo.ground import Ground
from choreo.scenario import Scenario
from choreo.words import Finding, Origin
from choreo.words.records import dataclass

VEHICLE = "vehicle"


@dataclass(frozen=True, slots=True)
class Excursion:
    """A way beside the main path, from its station leaves_m to joins_m; stands stop_s at station stop_m of its own."""

    name: str
    path: str
    leaves_m: float
    joins_m: float
    length_m: float
    stop_m: float | None
    stop_s: float


@dataclass(frozen=True)
class Circuit:
    """A circuit file, checked: the vehicle alone on its main path as a scenario, and what it drives.

    paths: by name. rules: of excursions by name, as written.
    """

    base: Scenario
    ground: Ground | None
    written: CircuitWritten
    paths: Mapping[str, Path]
    excursions: Mapping[str, Excursion]
    surfaces: Mapping[str, RoughWritten]
    temperature: TemperatureWritten | None
    places: Mapping[tuple[str | int, ...], Origin]
    notes: tuple[Finding, ...] = ()

    @property
    def lap_m(self) -> float:
        return lap_of(self.paths[self.written.main]) or 0.0

    def origin(self, *keys: str | int) -> Origin:
        """Give the place of an entry of the file, or of its nearest ancestor."""
        while keys and keys not in self.places:
            keys = keys[:-1]
        return self.places.get(keys, Origin(self.base.source_files[0], 1, 1))


@dataclass(frozen=True, slots=True)
class LapKey:
    """What kind of lap: its excursions in their order, from rest (the first one), to rest (the last one)."""

    excursions: tuple[str, ...] = ()
    first: bool = False
    last: bool = False

    @property
    def name(self) -> str:
        parts = [*(["first"] if self.first else []), *self.excursions]
        parts += ["last"] if self.last else []
        return " + ".join(parts) or "plain"


@dataclass(frozen=True, slots=True)
class Spell:
    """A time on one surface (None: none that is named), driving or standing."""

    surface: str | None
    lasts_s: float
    way_m: float
    stands: bool


@dataclass(frozen=True, slots=True)
class Seam:
    """How one lap leaves the line, or the next one begins there: speed in m/s, acceleration in m/s2."""

    speed_mps: float
    accel_mps2: float


@dataclass(frozen=True, slots=True)
class Driven:
    """So many laps of one kind in a row; first: its number from 1. starts_s: of the first of them, after go."""

    lap: LapKey
    first: int
    count: int
    starts_s: float
    lasts_s: float


@dataclass(frozen=True, slots=True)
class Totals:
    """The whole run: time in s, way in m, by surface, and how often each named piece is passed."""

    lasts_s: float
    way_m: float
    surfaces_m: Mapping[str, float]
    surfaces_s: Mapping[str, float]
    passes: Mapping[str, int]
    standing_s: float
    highest_degc: float | None = None
    last_degc: float | None = None


@dataclass(frozen=True, slots=True)
class Exposure:
    """What a driver would get in a day, and how long one may drive; hours a day of driving like this.

    a8_mps2, vdv: of the worst 24 hours of the run, of all of it where it is shorter. mean_mps2: of the whole run.
    hours, drivers: by 'action A(8)', 'limit A(8)', 'action VDV', 'limit VDV', those that count.
    """

    a8_mps2: float
    vdv: float
    mean_mps2: float
    hours: Mapping[str, float]
    drivers: Mapping[str, int] = field(default_factory=dict)

    @property
    def needed(self) -> int:
        """How many drivers a day keep below the limits."""
        return max(count for name, count in self.drivers.items() if name.startswith("limit"))
