"""Where each encounter can happen, asked of geometry once and kept for relinearising.

Most encounters reduce to fixed stations or to exact straight lines between stations. Where two movers
share a curved lane the relation is a curve: it is handed to the solver as a tangent and laid again
at the solution (Newton's way) until it no longer moves.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Any, assert_never

from choreo.geometry import (
    GapTrack,
    MeetingPoint,
    MeetingTrack,
    NearestOverlap,
    Path,
    conflict_zone,
    crossing_points,
    find_contact,
    gap_track,
    lap_of,
    last_leg_m,
    nearest_overlap,
)
from choreo.geometry.tolerances import SAME_M
from choreo.problem.out_of_reach import out_of_reach
from choreo.problem.records import (
    ContactPoint,
    ContactTrack,
    Encounter,
    GapAt,
    GapLine,
    PassAt,
    TriggerProblem,
)
from choreo.scenario import Body, Contact, Gap, Mover, Pass, Scenario, Span
from choreo.scenario import Encounter as ScenarioEncounter
from choreo.words import Finding, Origin
from choreo.words.kinds import Face
from choreo.words.records import dataclass

# A curve that bends away from its tangent by less than this (m) at all of so many places is a line.
LINE_M = 1e-9
LOOKS = 16


@dataclass(frozen=True)
class Question:
    """All that geometry is asked for one encounter: equal questions have the same meeting.

    sides: of both movers the path (as the very object), the body, where it may start, and whether it moves.
    """

    encounter: ScenarioEncounter
    origin: Origin
    sides: tuple[tuple[Path, Body, Span, bool], ...]


@dataclass(frozen=True)
class Meeting:
    """One encounter with every place where geometry allows it; `track` is set where it is a curve."""

    candidates: tuple[Encounter, ...]
    tracks: tuple[MeetingTrack | GapTrack | None, ...]


def question_of(name: str, scenario: Scenario, paths: Mapping[str, Path]) -> Question:
    """Give what meeting_of asks geometry for an encounter. paths: by mover."""
    encounter = scenario.encounters[name]
    sides = []
    for key in (encounter.of, encounter.with_):
        mover = scenario.movers[key]
        sides.append((paths[key], mover.body, mover.start.station, bool(mover.programme)))
    return Question(encounter, scenario.origin("encounters", name), tuple(sides))


def meeting_of(
    name: str, scenario: Scenario, paths: Mapping[str, Path]
) -> tuple[Meeting | None, list[Finding]]:
    """Ask geometry where an encounter can happen.

    paths: by mover. Returns the meeting, or None and the findings that say why there is none.
    """
    encounter = scenario.encounters[name]
    match encounter:
        case Contact():
            return _contact(name, encounter, scenario, paths)
        case Gap():
            return _gap(name, encounter, scenario, paths), []
        case Pass():
            return _pass(name, encounter, scenario, paths)


def station_range(mover: Mover, path: Path) -> tuple[float, float]:
    """Give the stations at which a mover's reference point can meet others, in m."""
    low = max(last_leg_m(path), mover.start.station.lo)
    high = path.length_m
    if not mover.programme:
        high = min(high, mover.start.station.hi)
    return low, high


def _contact(
    name: str, contact: Contact, scenario: Scenario, paths: Mapping[str, Path]
) -> tuple[Meeting | None, list[Finding]]:
    a, b = scenario.movers[contact.of], scenario.movers[contact.with_]
    path_a, path_b = paths[contact.of], paths[contact.with_]
    wanted: dict[str, Any] = {
        "face": contact.face,
        "impact_m": contact.impact_m,
        "point": contact.point,
        "range_a_m": station_range(a, path_a),
        "range_b_m": station_range(b, path_b),
        # What the verifier allows: a tenth of the contact's tolerance.
        "tolerance_m": contact.tolerance_m / 10,
    }
    found = find_contact(path_a, a.body, path_b, b.body, **wanted)
    origin = scenario.origin("encounters", name)
    if not found:
        return None, [_no_meeting(name, contact, scenario, paths, wanted)]
    candidates: list[Encounter] = []
    tracks: list[MeetingTrack | GapTrack | None] = []
    lines = any(isinstance(meeting, MeetingTrack) and meeting.linear for meeting in found)
    everywhere = _lines_anywhere(contact, scenario, paths, wanted) if lines else []
    for meeting in found:
        if isinstance(meeting, MeetingPoint):
            candidates.append(
                ContactPoint(
                    name,
                    origin,
                    contact.of,
                    contact.with_,
                    meeting.station_a_m,
                    meeting.station_b_m,
                )
            )
            tracks.append(None)
        else:
            lane = _lane(meeting, everywhere)
            candidates.append(_on_track(name, scenario, contact, meeting, lane))
            tracks.append(None if meeting.linear else meeting)
    return Meeting(tuple(candidates), tuple(tracks)), []


def _on_track(
    name: str,
    scenario: Scenario,
    contact: Contact,
    track: MeetingTrack,
    lane: tuple[float, float],
) -> ContactTrack:
    low, high = float(track.stations_b_m[0]), float(track.stations_b_m[-1])
    middle = (low + high) / 2
    station_a, slope = track.at(middle)
    return ContactTrack(
        name,
        scenario.origin("encounters", name),
        contact.of,
        contact.with_,
        station_a,
        middle,
        slope,
        Span(low, high),
        bool(track.linear),
        Span(*lane),
    )


def _lane(track: MeetingTrack, everywhere: list[tuple[float, float]]) -> tuple[float, float]:
    """The stations of `with_` at which a line between stations holds, wherever `of` might start."""
    low, high = float(track.stations_b_m[0]), float(track.stations_b_m[-1])
    if track.linear:
        for first, last in everywhere:
            if first <= low and high <= last:
                return first, last
    return low, high


def _lines_anywhere(
    contact: Contact, scenario: Scenario, paths: Mapping[str, Path], wanted: dict[str, Any]
) -> list[tuple[float, float]]:
    """Between which stations of `with_` lines between stations hold, wherever both start."""
    path_a, path_b = paths[contact.of], paths[contact.with_]
    anywhere = {
        **wanted,
        "range_a_m": (last_leg_m(path_a), path_a.length_m),
        "range_b_m": (last_leg_m(path_b), path_b.length_m),
    }
    a, b = scenario.movers[contact.of], scenario.movers[contact.with_]
    return [
        (float(whole.stations_b_m[0]), float(whole.stations_b_m[-1]))
        for whole in find_contact(path_a, a.body, path_b, b.body, **anywhere)
        if isinstance(whole, MeetingTrack) and whole.linear
    ]


def _no_meeting(
    name: str,
    contact: Contact,
    scenario: Scenario,
    paths: Mapping[str, Path],
    wanted: dict[str, Any],
) -> Finding:
    a, b = scenario.movers[contact.of], scenario.movers[contact.with_]
    ranges = (wanted["range_a_m"], wanted["range_b_m"])
    elsewhere = out_of_reach(name, contact, scenario, paths, ranges, wanted)
    if elsewhere is not None:
        return elsewhere
    asked = {key: value for key, value in wanted.items() if key != "tolerance_m"}
    nearest = nearest_overlap(paths[contact.of], a.body, paths[contact.with_], b.body, **asked)
    related = tuple(
        origin
        for origin in (
            scenario.origin("movers", contact.of, "path"),
            scenario.origin("movers", contact.with_, "path"),
        )
        if origin is not None
    )
    return Finding(
        "problem.no-meeting",
        "error",
        scenario.origin("encounters", name),
        {
            "encounter": name,
            "of": contact.of,
            "with": contact.with_,
            "wanted": _impact(a.body, contact.face, contact.impact_m),
            "nearest": _nearest_text(a.body, contact.face, nearest),
            "move": _move_text(contact, scenario, nearest),
        },
        related,
    )


def _move_text(contact: Contact, scenario: Scenario, nearest: NearestOverlap | None) -> str:
    """What may be moved so that two meet otherwise: a turn has no path that could lie beside another."""
    for name in (contact.with_, contact.of):
        if scenario.turning_radius_m(name) is not None:
            return f"Let {name} turn by another angle or about another point (`by:`, `about:`)"
    a, b = scenario.movers[contact.of], scenario.movers[contact.with_]
    if a.path is None or a.path != b.path or contact.face != "front" or nearest is None:
        return "Move one of the paths sideways (`beside:` with an `offset`)"
    aside_m = contact.impact_m - nearest.impact_m
    beside = f"{{beside: {a.path}, offset: {aside_m:.3f} m}}"
    return f"Give {contact.with_} a path of its own beside that of {contact.of}, `{beside}`"


def _nearest_text(body: Body, face: Face, nearest: NearestOverlap | None) -> str:
    if nearest is None:
        return "their bodies never touch on these paths"
    share = 0.5 + body.own(nearest.impact_m) / body.width_m
    written = face == "front" and 0.0 <= share <= 1.0
    asked = f" (`overlap: {100 * share:.0f} %`: where on its {body.leads})" if written else ""
    return f"the nearest these paths allow is {_impact(body, face, nearest.impact_m)}{asked}"


def _impact(body: Body, face: Face, impact_m: float) -> str:
    """An impact in m, counted from its own middle to its own left: the rear of one that drives backwards leads."""
    return f"{body.own(impact_m) if face == 'front' else impact_m:+.3f} m"


def _gap(name: str, gap: Gap, scenario: Scenario, paths: Mapping[str, Path]) -> Meeting:
    a, b = scenario.movers[gap.of], scenario.movers[gap.with_]
    same_path = a.path is not None and a.path == b.path
    records, tracks = [], []
    for line, track in gaps_between(gap.of, gap.with_, scenario, paths, gains=not same_path):
        records.append(
            GapAt(
                name=name,
                origin=scenario.origin("encounters", name),
                a=gap.of,
                b=gap.with_,
                measure=gap.measure,
                wanted=gap.wanted,
                at=gap.at,
                facing0_m=line.facing0_m,
                b0_m=line.b0_m,
                slope=line.slope,
                front_a_m=line.front_a_m,
                exact=line.exact,
                same_path=same_path,
                until=gap.held_until,
                tolerance=0.0 if gap.held_until is None else gap.tolerance,
            )
        )
        tracks.append(track)
    return Meeting(tuple(records), tuple(tracks))


def gaps_between(
    a: str, b: str, scenario: Scenario, paths: Mapping[str, Path], *, gains: bool = False
) -> list[tuple[GapLine, GapTrack]]:
    """Give the bumper gap from a mover to another: its tangent in the middle of b's way, and the curve itself.

    Several on a closed path, where it is not known how many laps lie between the two, the likeliest first.
    gains: whether one may pass the other once, so that it is a lap more or less.
    """
    one, other = scenario.movers[a], scenario.movers[b]
    track = gap_track(paths[a], one.body, paths[b], other.body)
    low, high = station_range(other, paths[b])
    middle = (low + high) / 2
    facing, slope = track.at(middle)
    exact = _is_line(track, low, high, facing, middle, slope)
    lap = lap_of(paths[a])
    if lap is None:
        return [(GapLine(b, facing, middle, slope, one.body.front_m, exact), track)]
    found = []
    for laps in _laps_between(scenario, a, b, track, paths, gains=gains):
        line = GapLine(b, facing + laps * lap, middle, slope, one.body.front_m, exact)
        found.append((line, replace(track, laps=laps)))
    return found


def start_range(mover: Mover, path: Path) -> tuple[float, float]:
    """Give the stations that a mover may start at, in m: of a closed path the first lap, unless it is written."""
    end = path.length_m if mover.path is not None else 0.0
    span, lap = mover.start.station, lap_of(path)
    if lap is not None and math.isinf(span.hi):
        end = lap
    return max(span.lo, 0.0), min(span.hi, end)


def _laps_between(
    scenario: Scenario,
    a: str,
    b: str,
    track: GapTrack,
    paths: Mapping[str, Path],
    *,
    gains: bool,
) -> list[int]:
    """Laps to add to a gap so that from where they start b is the next ahead of a, or still beside it."""
    lap = lap_of(paths[a]) or math.inf
    one, other = scenario.movers[a], scenario.movers[b]
    beside_m = one.body.length_m + other.body.length_m
    starts_a, starts_b = (start_range(mover, paths[name]) for mover, name in ((one, a), (other, b)))
    gaps = [track.at(at)[0] - start - one.body.front_m for start in starts_a for at in starts_b]
    few = math.ceil((-beside_m - max(gaps)) / lap)
    many = math.ceil((-beside_m - min(gaps)) / lap)
    known = sorted(range(few, many + 1), key=abs)
    return [*known, few - 1, many + 1] if gains else known


def _is_line(
    track: GapTrack, low: float, high: float, facing_m: float, at_m: float, slope: float
) -> bool:
    """Say whether a gap's relation is one line over the whole way of `b`, looked at in many places."""
    looks = [low + (high - low) * share / LOOKS for share in range(LOOKS + 1)]
    # Where a path winds, places that far apart may all lie on its straights.
    bends = [
        (max(one[0], low), min(one[1], high)) for one in track.path_b.stretches() if any(one[2:])
    ]
    looks += [(start + end) / 2 for start, end in bends if start < end]
    return all(
        abs(track.at(look)[0] - (facing_m + slope * (look - at_m))) < LINE_M for look in looks
    )


def _pass(
    name: str, wanted: Pass, scenario: Scenario, paths: Mapping[str, Path]
) -> tuple[Meeting | None, list[Finding]]:
    first = wanted.first
    second = wanted.with_ if first == wanted.of else wanted.of
    origin = scenario.origin("encounters", name)
    movers = scenario.movers
    match wanted.between:
        case "reference points":
            points = crossing_points(paths[first], paths[second])
            zone = min(points, default=None)
            once = all(math.dist(one, points[0]) < SAME_M for one in points)
        case "bodies":
            bodies = movers[first].body, movers[second].body
            strips = conflict_zone(paths[first], bodies[0], paths[second], bodies[1])
            zone = None if strips is None else (strips.exit_a_m, strips.entry_b_m)
            once = strips is None or strips.once
        case _:
            assert_never(wanted.between)
    if zone is None:
        values = {"encounter": name, "of": first, "with": second}
        return None, [Finding("problem.no-crossing", "error", origin, values, ())]
    record = PassAt(
        name,
        origin,
        first,
        second,
        wanted.measure,
        wanted.wanted,
        zone[0],
        zone[1],
        once,
    )
    return Meeting((record,), (None,)), []


def trigger_relaid(trigger: TriggerProblem, track: GapTrack, station_b_m: float) -> TriggerProblem:
    """Lay the tangent of a trigger's curved gap at another station of the mover that it is measured to."""
    if trigger.gap is None:
        raise AssertionError(trigger.name)
    facing, slope = track.at(station_b_m)
    line = replace(trigger.gap, facing0_m=facing, b0_m=station_b_m, slope=slope)
    return replace(trigger, gap=line)


def relaid(encounter: Encounter, track: MeetingTrack | GapTrack, station_b_m: float) -> Encounter:
    """Lay the tangent of a curved relation at another station of b."""
    value, slope = track.at(station_b_m)
    match encounter:
        case ContactTrack():
            return replace(encounter, a0_m=value, b0_m=station_b_m, slope=slope)
        case GapAt():
            return replace(encounter, facing0_m=value, b0_m=station_b_m, slope=slope)
        case ContactPoint() | PassAt():
            return encounter  # at given stations: there is no curve to follow
