"""The room that serves every variant: runways along the paths, and one rectangle round all; who drives each end."""

from __future__ import annotations

import math
from collections.abc import Mapping

from choreo.campaigns.staging.member import Member
from choreo.plans import Plan
from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class Runway:
    """What the variants need of one mover's path: stations in m, and the variants (index) that need the ends."""

    mover: str
    path: str
    from_m: float
    to_m: float
    first: int
    last: int

    @property
    def length_m(self) -> float:
        """From end to end."""
        return self.to_m - self.from_m


@dataclass(frozen=True, slots=True)
class Side:
    """One side of the rectangle: how far it lies from the site frame's origin that way (m), and the variant."""

    name: str
    at_m: float
    variant: int


@dataclass(frozen=True, slots=True)
class Rectangle:
    """A rectangle in the frame of one site that holds the keep-out zone of every variant there.

    site: its title, empty where there is none. heading_deg: of its length, the subject's at its mark. corners: (x, y)
    in m.
    """

    site: str
    heading_deg: float
    length_m: float
    width_m: float
    corners: tuple[tuple[float, float], ...]
    sides: tuple[Side, ...]


def runways(members: Mapping[int, Member], plans: Mapping[int, Plan]) -> tuple[Runway, ...]:
    """Give the runway of each moving mover on each of its paths, stops from any instant included."""
    found: dict[tuple[object, ...], Runway] = {}
    for index, plan in sorted(plans.items()):
        courses = members[index].courses
        for name, planned in plan.movers.items():
            if not planned.pieces:
                continue
            from_m = planned.start.station_m
            needed = planned.runway.required_m or planned.runway.total_m
            path = members[index].case.scenario.movers[name].path or ""
            one = Runway(name, path, from_m, from_m + needed, index, index)
            key = (name, courses[name])
            found[key] = one if key not in found else _both(found[key], one)
    return tuple(found.values())


def _both(a: Runway, b: Runway) -> Runway:
    first, last = min(a, b, key=lambda r: r.from_m), max(a, b, key=lambda r: r.to_m)
    return Runway(a.mover, a.path, first.from_m, last.to_m, first.first, last.last)


def rectangles(
    members: Mapping[int, Member], plans: Mapping[int, Plan], subject: str
) -> tuple[Rectangle, ...]:
    """Give a rectangle for each site, along the subject's heading; none where no plan tells its keep-out zone."""
    sites: dict[str, dict[int, Plan]] = {}
    for index, plan in sorted(plans.items()):
        site = members[index].case.scenario.site
        sites.setdefault("" if site is None else site.title, {})[index] = plan
    found = (_rectangle(site, some, subject) for site, some in sites.items())
    return tuple(one for one in found if one is not None)


def _rectangle(site: str, plans: Mapping[int, Plan], subject: str) -> Rectangle | None:
    heading_deg = next(
        (one.movers[subject].start.heading_deg for one in plans.values() if subject in one.movers),
        0.0,
    )
    c, s = math.cos(math.radians(heading_deg)), math.sin(math.radians(heading_deg))
    ways = {"ahead": (c, s), "behind": (-c, -s), "left": (-s, c), "right": (s, -c)}
    sides: dict[str, Side] = {}
    for index, plan in sorted(plans.items()):
        zone = None if plan.space is None else plan.space.keep_out
        points = [] if zone is None else [p for rings in zone.polygons for p in rings[0]]
        for name, (x, y) in ways.items():
            for point in points:
                at_m = x * point[0] + y * point[1]
                if name not in sides or at_m > sides[name].at_m + 1e-6:
                    sides[name] = Side(name, at_m, index)
    if not sides:
        return None
    ends = (-sides["behind"].at_m, sides["ahead"].at_m)
    flanks = (-sides["right"].at_m, sides["left"].at_m)
    corners = tuple(
        (round(u * c - v * s, 3), round(u * s + v * c, 3))
        for u, v in (
            (ends[0], flanks[0]),
            (ends[1], flanks[0]),
            (ends[1], flanks[1]),
            (ends[0], flanks[1]),
        )
    )
    return Rectangle(
        site, heading_deg, ends[1] - ends[0], flanks[1] - flanks[0], corners, tuple(sides.values())
    )
