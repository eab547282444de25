"""Contacts that the paths allow but these starts and path ends don't: where they would be."""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import cached_property
from typing import Any

import numpy as np

from choreo.geometry import MeetingPoint, Path, PosedInArrays, Poses, find_contact
from choreo.scenario import Contact, Mover, Scenario
from choreo.words import Finding
from choreo.words.records import dataclass

# How far a path is supposed to go on straight beyond its ends when a meeting is looked for there.
BEYOND_M = 50.0
# ... and one that turns about a point so much further (rad).
QUARTER_TURN_RAD = math.pi / 2
# The chord of a turn's beginning, as a share of its way.
CHORD_RATIO = 0.01

LONGER = "Let the mover start before that station, or make its path longer at that end (`by:` of a turn)."
AWAY = "Does the path of {mover} lead away from there? Then write `heading: {turned}`."


@dataclass(frozen=True)
class LongerPath:
    """A path with its continuations; its stations count from the first one's beginning.

    radius_m: of one that turns about a point, which it goes on about; None of all others, which go on straight.
    """

    path: Path
    beyond_m: float
    radius_m: float | None = None

    @property
    def length_m(self) -> float:
        """Arc length with both continuations, in m."""
        return self.path.length_m + 2 * self.beyond_m

    @property
    def marks(self) -> dict[str, tuple[float, float]]:
        """The path's marks in stations of this one, in m."""
        shift = self.beyond_m
        return {name: (a + shift, b + shift) for name, (a, b) in self.path.marks.items()}

    def pose(self, s_m: Any) -> Poses:
        """Give the poses at stations s_m, shape (n,), in m."""
        own_m = np.asarray(s_m) - self.beyond_m
        if self.radius_m is None:
            return self.path.pose(own_m)
        inside_m = np.clip(own_m, 0.0, self.path.length_m)
        turned = self.path.pose(inside_m)
        x_m, y_m, bend = self._turn
        angle = (own_m - inside_m) * bend
        cos, sin = np.cos(angle), np.sin(angle)
        out_x, out_y = turned.x_m - x_m, turned.y_m - y_m
        return Poses(
            x_m + cos * out_x - sin * out_y,
            y_m + sin * out_x + cos * out_y,
            turned.heading_rad + angle,
            turned.curvature_per_m,
        )

    @cached_property
    def _turn(self) -> tuple[float, float, float]:
        """The point that it turns about, in the site frame in m, and the curvature in 1/m: a short chord shows it."""
        chord_m, bend = CHORD_RATIO * self.path.length_m, self.path.stretches()[0][2]
        ends = self.path.pose(np.array([0.0, chord_m]))
        (x_m, to_x_m), (y_m, to_y_m) = ends.x_m.tolist(), ends.y_m.tolist()
        ahead = math.atan2(to_y_m - y_m, to_x_m - x_m) - chord_m * bend / 2
        return x_m - math.sin(ahead) / bend, y_m + math.cos(ahead) / bend, bend

    # A record derives from no class.
    pose_at = PosedInArrays.pose_at

    def stretches(self) -> tuple[tuple[float, float, float, float], ...]:
        """Give the path's stretches of curvature and a straight one at either end."""
        shift, end = self.beyond_m, self.length_m
        own = tuple((a + shift, b + shift, k0, k1) for a, b, k0, k1 in self.path.stretches())
        bend = 0.0 if self.radius_m is None else own[0][2]
        return ((0.0, shift, bend, bend), *own, (end - shift, end, bend, bend))

    def nearest(self, x_m: float, y_m: float, near_m: float | None = None) -> float:
        """Give the station in m nearest to a point in the site frame (m)."""
        near = None if near_m is None else near_m - self.beyond_m
        return self.path.nearest(x_m, y_m, near) + self.beyond_m


Stations = tuple[float, float]


def out_of_reach(
    name: str,
    contact: Contact,
    scenario: Scenario,
    paths: Mapping[str, Path],
    ranges_m: tuple[Stations, Stations],
    wanted: Mapping[str, Any],
) -> Finding | None:
    """Find where a contact would happen if its movers could be there; None where it would nowhere.

    ranges_m: stations that the movers of and with can be at, in m. wanted: what find_contact was asked.
    """
    pair = (contact.of, contact.with_)
    for beyond_m in (0.0, BEYOND_M):
        longer, wide, beyond = [], [], []
        for mover, own_m in zip(pair, ranges_m, strict=True):
            stands = not scenario.movers[mover].programme
            radius_m = scenario.turning_radius_m(mover)
            more_m = beyond_m if radius_m is None else min(beyond_m, QUARTER_TURN_RAD * radius_m)
            beyond.append(more_m)
            longer.append(LongerPath(paths[mover], more_m, radius_m))
            low, high = own_m if stands else (-more_m, paths[mover].length_m + more_m)
            wide.append((low + more_m, high + more_m))
        a, b = (scenario.movers[mover].body for mover in pair)
        asked = {**wanted, "range_a_m": wide[0], "range_b_m": wide[1]}
        found = find_contact(longer[0], a, longer[1], b, **asked)
        places = [place for one in found for place in _places(one, *beyond)]
        if places:
            nearest = min(places, key=lambda place: _missed_m(place, ranges_m))
            return _finding(name, pair, scenario, paths, ranges_m, nearest)
    return None


def _places(meeting: Any, beyond_a_m: float, beyond_b_m: float) -> list[tuple[float, float]]:
    """Stations of both in m of their own paths: of a point, or along a track."""
    if isinstance(meeting, MeetingPoint):
        return [(meeting.station_a_m - beyond_a_m, meeting.station_b_m - beyond_b_m)]
    return [
        (float(a) - beyond_a_m, float(b) - beyond_b_m)
        for a, b in zip(meeting.stations_a_m, meeting.stations_b_m, strict=True)
    ]


def _missed_m(place: tuple[float, float], ranges_m: tuple[Stations, Stations]) -> float:
    pairs = zip(place, ranges_m, strict=True)
    return sum(max(low - at, at - high, 0.0) for at, (low, high) in pairs)


def _finding(
    name: str,
    pair: tuple[str, str],
    scenario: Scenario,
    paths: Mapping[str, Path],
    ranges_m: tuple[Stations, Stations],
    place: tuple[float, float],
) -> Finding:
    reasons, related, instead = [], [], LONGER
    for mover, at, own_m in zip(pair, place, ranges_m, strict=True):
        along = Along(scenario.turning_radius_m(mover))
        reason = _why(mover, scenario.movers[mover], at, own_m, paths[mover].length_m, along)
        if reason is not None:
            reasons.append(reason[0])
            related.append(scenario.origin("movers", mover, reason[1]))
            if at < 0 and along.radius_m is None:
                turned = _turned_deg(paths[mover])
                instead = f"{AWAY.format(mover=mover, turned=turned)} {LONGER}"
    values = {
        "encounter": name,
        "of": pair[0],
        "with": pair[1],
        "at_of": Along(scenario.turning_radius_m(pair[0])).words(place[0]),
        "at_with": Along(scenario.turning_radius_m(pair[1])).words(place[1]),
        "why": " and ".join(reasons) or "they can't be there together",
        "instead": instead,
    }
    origin = scenario.origin("encounters", name)
    return Finding("problem.meeting-out-of-reach", "error", origin, values, tuple(related))


def _turned_deg(path: Path) -> str:
    """The heading at a path's beginning turned round, in degrees, as people write it."""
    heading = math.degrees(path.pose(np.array([0.0])).heading_rad[0]) + 180.0
    return f"{(heading + 180.0) % 360.0 - 180.0:.6g} deg"


@dataclass(frozen=True)
class Along:
    """How a way along a mover's path is told: in m, or of one that turns about a point in degrees of its turn.

    radius_m: from that point to its reference point; None of every other mover.
    """

    radius_m: float | None

    def words(self, way_m: float) -> str:
        """Tell a way with its unit."""
        if self.radius_m is None:
            return f"{way_m:.3f} m"
        return f"{math.degrees(way_m / self.radius_m):.2f} deg"


def _why(
    name: str, mover: Mover, at_m: float, own_m: Stations, length_m: float, along: Along
) -> tuple[str, str] | None:
    """Why a mover can't be at a station, and the key that says so."""
    low, high = own_m
    if at_m < 0:
        return f"the path of {name} begins {along.words(-at_m)} after that", "path"
    if at_m > length_m:
        return f"the path of {name} ends at {along.words(length_m)}", "path"
    if at_m < low:
        start = "starts" if mover.start.station.fixed else "starts at the earliest"
        return f"{name} {start} at station {along.words(low)}", "start"
    if at_m > high:
        return f"{name} stands at station {along.words(high)}", "start"
    return None
