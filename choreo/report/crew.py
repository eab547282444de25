"""What a crew reads first: programmes, places by name and distances between bumpers, as tables."""

from __future__ import annotations

import math

from choreo.plans.crew_record import (
    BumperDistance,
    CrewPlan,
    Leg,
    NamedPlace,
    Passing,
    Programme,
    WayBack,
)
from choreo.report.sections import Notes, Section, Table
from choreo.scenario import Scenario
from choreo.words.display import KMH_PER_MPS, kmh, metres, plain, seconds
from choreo.words.records import dataclass

# More rows of a list than this stand behind `--all`: a screen is read at a glance.
MOST_ROWS = 12
# What lies less far beside a lane (m) lies on it.
BESIDE_M = 0.1


def crew_sections(scenario: Scenario, crew: CrewPlan | None, *, full: bool) -> list[Section]:
    """Give the tables of a plan; none where it has no lists. full: long ones to their end."""
    if crew is None:
        return []
    sections: list[Section] = []
    for name, programme in crew.programmes.items():
        sections.append(programme_table(name, programme, full=full))
    for name, programme in crew.programmes.items():
        sections += places_table(name, scenario, programme, full=full)
    backs = [(name, one.back) for name, one in crew.programmes.items() if one.back is not None]
    if backs:
        lines = tuple(f"{name}: {back_words(back)}" for name, back in backs)
        sections.append(Notes("after the run, back to the start marks", lines, key="returns"))
    return [*sections, *distances_table(crew, full=full)]


def back_words(back: WayBack) -> str:
    """Say how a mover comes back to its start mark, and how long that takes."""
    along = "along its own path" if back.path is None else f"along {back.path}"
    where = "" if back.known else f" {along}"
    return (
        f"{metres(back.way_m)}{where} at {kmh(back.speed_mps)}: {seconds(back.time_s)} from rest to rest, "
        "not part of the timed run"
    )


def programme_table(name: str, programme: Programme, *, full: bool = True) -> Table:
    """Give a mover's legs, a line each, by where it begins, and where it ends as the last line."""
    counted = Counted.of(programme)
    rows = [leg_cells(leg, counted, programme) for leg in programme.legs]
    if programme.legs:
        last = programme.legs[-1].ends
        word = "at rest" if plain(last.speed_mps * KMH_PER_MPS, 2) == "0.00" else "end"
        rows.append((word, "", "", *_passing_cells(last, counted)))
    rate, way, speed = counted.units
    header = (
        "phase",
        f"rate\n{rate}",
        "build-up\ns",
        "after go\ns",
        f"{counted.place}\n{way}",
        "x\nm",
        "y\nm",
        f"speed\n{speed}",
    )
    kept, title = _shortened(rows, f"{name}: programme, where each phase begins", full=full)
    return Table(title, header, kept, frozenset(range(1, len(header))), key="programme")


@dataclass(frozen=True, slots=True)
class Counted:
    """What a mover's rate, way and speed are told in: metres and km/h, or the degrees of its turn.

    per_m: degrees a metre of the reference point; None where metres are told. speed: from m/s.
    """

    per_m: float | None
    speed: float

    @classmethod
    def of(cls, programme: Programme) -> Counted:
        """Take it from whether the mover turns about a point."""
        radius_m = programme.turning_radius_m
        per_m = None if radius_m is None else math.degrees(1.0 / radius_m)
        return cls(per_m, KMH_PER_MPS if per_m is None else per_m)

    @property
    def units(self) -> tuple[str, str, str]:
        """Units of rate, way and speed."""
        return ("m/s2", "m", "km/h") if self.per_m is None else ("deg/s2", "deg", "deg/s")

    @property
    def place(self) -> str:
        """What the way from the beginning is called."""
        return "station" if self.per_m is None else "turned"

    def way(self, metres_: float) -> str:
        """Tell a way of the reference point."""
        return plain(metres_) if self.per_m is None else plain(metres_ * self.per_m, 2)

    def fast(self, speed_mps: float) -> str:
        """Tell a speed with its unit."""
        return kmh(speed_mps) if self.per_m is None else f"{plain(speed_mps * self.per_m, 2)} deg/s"


def leg_cells(leg: Leg, counted: Counted, programme: Programme) -> tuple[str, ...]:
    """Give one leg of a programme as the cells of a table: what it is, then where it begins."""
    what = leg.phase if leg.phase.startswith(leg.kind) else f"{leg.phase} ({leg.kind})"
    # Of one that goes one way all the time the launch says which.
    moves = leg.ends.station_m > leg.begins.station_m
    if moves and len({one.backwards for one in programme.legs}) > 1:
        what += ", backwards" if leg.backwards else ", forwards"
    rate = "" if leg.rate_mps2 is None else f"{leg.rate_mps2 * (counted.per_m or 1.0):+.2f}"
    build_up = "" if leg.build_up_s is None else plain(leg.build_up_s)
    return (what, rate, build_up, *_passing_cells(leg.begins, counted))


def _passing_cells(at: Passing, counted: Counted) -> tuple[str, ...]:
    where = (plain(at.time_s), counted.way(at.station_m), plain(at.x_m), plain(at.y_m))
    return (*where, plain(at.speed_mps * counted.speed, 2))


def places_table(
    name: str, scenario: Scenario, programme: Programme, *, full: bool = True
) -> list[Section]:
    """Give a mover's places by name, each with the point that is meant; none without places."""
    body = scenario.movers[name].body
    ends = [f"front {metres(body.nose_m)} ahead of"]
    if any(place.point == "rear" for place in programme.places):
        ends.append(f"rear {metres(body.length_m - body.nose_m)} behind")
    title = f"{name}: places ({', '.join(ends)} the reference point)"
    rows = [place_cells(place) for place in programme.places]
    if not rows:
        return []
    header = ("place", "point", "x\nm", "y\nm", "after go\ns", "speed\nkm/h")
    kept, title = _shortened(rows, title, full=full)
    return [Table(title, header, kept, frozenset({2, 3, 4, 5}), key="places")]


def place_cells(place: NamedPlace) -> tuple[str, ...]:
    """Give one place as the cells of a table."""
    numbers = (place.x_m, place.y_m, place.time_s)
    speed = plain(place.speed_mps * KMH_PER_MPS, 2)
    return (place.name, place.point, *map(plain, numbers), speed)


def distances_table(crew: CrewPlan, *, full: bool = True) -> list[Section]:
    """Give the distances between bumpers by moment; none where no two movers share a lane."""
    rows = [distance_cells(one) for one in crew.distances]
    if not rows:
        return []
    header = ("moment", "after go\ns", "from", "m")
    kept, title = _shortened(rows, "from bumper to bumper, along the lane", full=full)
    return [Table(title, header, kept, frozenset({1, 3}), key="distances")]


def distance_cells(one: BumperDistance) -> tuple[str, ...]:
    """Give one distance as the cells of a table."""
    words = f"{one.ends[0]} of {one.behind} to {one.ends[1]} of {one.ahead}"
    if abs(one.beside_m) > BESIDE_M:
        side = "left" if one.beside_m > 0 else "right"
        words += f", {plain(abs(one.beside_m), 2)} m to its {side}"
    return (one.moment, plain(one.time_s), words, plain(one.distance_m))


def _shortened(
    rows: list[tuple[str, ...]], title: str, *, full: bool
) -> tuple[tuple[tuple[str, ...], ...], str]:
    """The first rows of a long list, and its title, which says how many more there are."""
    left = len(rows) - MOST_ROWS
    # A list that is longer by one only is shown: a line that says so is no shorter.
    if full or left <= 1:
        return tuple(rows), title
    return tuple(rows[:MOST_ROWS]), f"{title}; {left} more with --all"
