"""What a crew reads first: each mover's programme, places by name, and distances between bumpers. Plain data in SI."""

from __future__ import annotations

from dataclasses import field

from choreo.words.kinds import PhaseKind, PointName
from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class Passing:
    """Where a mover's reference point is, when, and how fast; x_m, y_m in the site frame."""

    time_s: float
    station_m: float
    x_m: float
    y_m: float
    speed_mps: float


@dataclass(frozen=True, slots=True)
class Leg:
    """One phase as it is driven, from where it begins to where it ends, by the reference point.

    rate_mps2: the greatest acceleration in it, negative when it slows down; None where the speed doesn't change.
    build_up_s: from its beginning until the acceleration no longer grows; None as rate_mps2. backwards: its rear leads.
    """

    phase: str
    kind: PhaseKind
    rate_mps2: float | None
    build_up_s: float | None
    begins: Passing
    ends: Passing
    backwards: bool = False


@dataclass(frozen=True, slots=True)
class NamedPlace:
    """A place of a mover that has a name: what it is, which point of the mover is there, where, when, how fast.

    station_m: of the reference point at that moment, whichever point is at x_m, y_m (site frame).
    """

    name: str
    point: PointName
    time_s: float
    station_m: float
    x_m: float
    y_m: float
    speed_mps: float


@dataclass(frozen=True, slots=True)
class WayBack:
    """The way back to the start mark after the run, and how long it takes from rest to rest.

    path: its name; None along its own path, or where only its length is given (known). speed_mps: as written.
    """

    way_m: float
    time_s: float
    speed_mps: float
    path: str | None = None
    known: bool = False


@dataclass(frozen=True, slots=True)
class Programme:
    """What one mover does, leg by leg, and its places in the order in which they are passed; and its way back.

    turning_radius_m: of one that turns about a point, from there to its reference point; None of all others.
    """

    legs: tuple[Leg, ...]
    places: tuple[NamedPlace, ...]
    back: WayBack | None = None
    turning_radius_m: float | None = None


@dataclass(frozen=True, slots=True)
class BumperDistance:
    """From the front of `behind` to the end of `ahead` that faces it, along the path of `behind`, at one moment.

    beside_m: how far that end is to the left of `behind` (negative: right). head_on: they face each other. ends: of
    both, which; of one that drives backwards it is the rear that leads.
    """

    moment: str
    time_s: float
    behind: str
    ahead: str
    distance_m: float
    beside_m: float
    head_on: bool
    ends: tuple[str, str] = ("front", "rear")


@dataclass(frozen=True, slots=True)
class CrewPlan:
    """Programmes by mover (those that move), and distances between bumpers by moment."""

    programmes: dict[str, Programme] = field(default_factory=dict)
    distances: tuple[BumperDistance, ...] = ()
