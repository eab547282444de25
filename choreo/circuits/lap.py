"""One kind of lap, planned, simulated and, on a site that draws ground, surveyed as a scenario of its own."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from choreo.case import Answer, answer, case_at
from choreo.case.whole import survey
from choreo.circuits.laying import Part, length_of, parts_of, spec_of
from choreo.circuits.records import VEHICLE, Circuit, LapKey, Seam, Spell
from choreo.geometry.sections import Section, sections_of
from choreo.pace.caps import window_at, window_told
from choreo.plans.record import MoverPlan, Piece
from choreo.scenario import Phase, Scenario, Span, Start
from choreo.scenario.records.scenario import Drive
from choreo.solve import Solvers
from choreo.words import ChoreoError, Finding, Origin
from choreo.words.display import short_kmh
from choreo.words.quantities import quoted
from choreo.words.records import dataclass

PATH = "lap"
AFTER = "stop after the line"
# Speeds and accelerations that differ by less than this (m/s, m/s2) are the same across a seam, stations by less (m).
SAME = 1e-6
# A lap stops where it is told to as exactly as this (m), rounding included.
STOP_M = 1e-3
BISECTIONS = 60


@dataclass(frozen=True)
class Lap:
    """A kind of lap. lasts_s: from line to line; spells: in their order; enters, leaves: at the line."""

    key: LapKey
    parts: tuple[Part, ...]
    length_m: float
    lasts_s: float
    spells: tuple[Spell, ...]
    enters: Seam
    leaves: Seam
    answer: Answer

    @property
    def way_m(self) -> float:
        return self.length_m

    def passes(self, circuit: Circuit) -> Iterator[str]:
        """Give the named pieces that it passes from end to end."""
        for part in self.parts:
            for name, (start, end) in circuit.paths[part.path].marks.items():
                if part.start_m - SAME <= start and end <= part.end_m + SAME:
                    yield name


def planned_lap(circuit: Circuit, key: LapKey, line_mps: float, solvers: Solvers) -> Lap:
    """Plan a kind of lap that passes the line at a speed in m/s (the first one from rest, the last one to rest).

    Raises ChoreoError: circuit.no-lap, and what limits on the ground raise.
    """
    parts = parts_of(circuit, key)
    scenario = _scenario(circuit, key, parts, line_mps)
    try:
        case = case_at(scenario, circuit.ground, solvers)
    except ChoreoError as error:
        raise ChoreoError(tuple(_told(circuit, key, one) for one in error.findings)) from None
    found = answer(case)
    mover = found.plan.movers.get(VEHICLE)
    if found.plan.verdict != "feasible" or mover is None:
        values = {"lap": key.name, "what": f"its plan is {found.plan.verdict}", "instead": ""}
        place = circuit.origin("circuit", "laps")
        raise ChoreoError((Finding("circuit.no-lap", "error", place, values, ()),))
    end_s = next((one.start_s for one in mover.pieces if one.phase == AFTER), _end_s(mover))
    length = length_of(parts)
    sections = sections_of(scenario.paths[PATH], case.paths[VEHICLE])
    spells = tuple(_spells(mover, sections, end_s))
    first = mover.pieces[0]
    last = [one for one in mover.pieces if one.start_s < end_s - 1e-12][-1]
    leaves = Seam(
        last.speed_mps + last.duration_s * (last.accel_mps2 + last.duration_s * last.jerk_mps3 / 2),
        last.accel_mps2 + last.duration_s * last.jerk_mps3,
    )
    enters = Seam(first.speed_mps, first.accel_mps2)
    lasts = end_s - mover.launch_s
    return Lap(key, parts, length, lasts, spells, enters, leaves, found)


def surveyed(lap: Lap) -> Lap:
    """Give the lap with the room that it takes: stops from any instant, the fit on the site."""
    return replace(lap, answer=survey(lap.answer, ()))


def _scenario(circuit: Circuit, key: LapKey, parts: Sequence[Part], line_mps: float) -> Scenario:
    base = circuit.base
    mover = base.movers[VEHICLE]
    limits = mover.limits
    slowest = limits.failsafe.brake_mps2 if limits.failsafe is not None else 1.0
    least = min(limits.brake_mps2, slowest)
    # Room behind the line for whatever stops there, failsafe included; no more than a lap.
    tail = min(0.99 * circuit.lap_m, line_mps * 3.0 + line_mps**2 / least + 1.0)
    phases: list[Phase] = []
    for part in parts:
        one = None if part.excursion is None else circuit.excursions[part.excursion]
        if one is None or one.stop_m is None:
            continue
        at = part.lap_m + one.stop_m
        name = f"to the stop of {one.name}"
        phases.append(Phase("hold", name, to=Span.at(0.0), drive=Drive(at, None, False, 0.0, None)))
        phases.append(Phase("wait", f"stands in {one.name}", lasting_s=one.stop_s))
    end = 0.0 if key.last else line_mps
    goal = Drive(length_of(parts), None, False, end, None)
    phases.append(Phase("hold", "to the line", to=Span.at(end), drive=goal))
    if not key.last:
        phases.append(Phase("stop", AFTER))
    start = Start(Span.at(0.0), 0.0 if key.first else line_mps, at_go=True)
    driven = replace(mover, path=PATH, start=start, programme=tuple(phases))
    return replace(
        base,
        title=f"{base.title}: lap `{key.name}`",
        paths={PATH: spec_of(circuit, parts, tail)},
        movers={VEHICLE: driven},
    )


def window_missed(
    circuit: Circuit, key: LapKey, missed: Mapping[str, str | float], lap_m: float = math.inf
) -> ChoreoError:
    """Give the fault of a window that a lap can't keep, at the window's place in the file.

    missed: a WindowMissed's values; lap_m: where its stations go on beyond a lap, that lap's length.
    """
    station, middle = (float(missed[one]) % lap_m for one in ("station_m", "middle_m"))
    speed = float(missed["speed_mps"])
    part = next(one for one in reversed(parts_of(circuit, key)) if one.lap_m <= middle)
    spec, shift = circuit.base.paths[part.path], part.start_m - part.lap_m
    window = window_at(middle + shift, sections_of(spec, circuit.paths[part.path]))
    instead = missed["instead"]
    one = None if part.excursion is None else circuit.excursions[part.excursion]
    if one is not None and one.stop_m is not None and abs(station + shift - one.stop_m) < STOP_M:
        instead = (
            f"It stops there: write the most alone (`speed: {short_kmh(window.most_mps)}`), or let it stop elsewhere "
            "(`at`)."
        )
    elif speed < SAME and (key.first or key.last):
        instead = (
            "That lap begins or ends at rest there: let the main path begin where no window lies."
        )
    values = {
        "lap": key.name,
        "window": window_told(window, spec.pieces[window.piece].name),
        "what": f"at station {station + shift:.1f} m of `{quoted(part.path)}` {missed['told']}",
        "instead": instead,
    }
    place = circuit.base.origin("paths", part.path, "pieces", window.piece, "speed")
    return ChoreoError((Finding("circuit.window-missed", "error", place, values, ()),))


def _told(circuit: Circuit, key: LapKey, finding: Finding) -> Finding:
    if finding.code == "problem.window-missed":
        return window_missed(circuit, key, finding.values).findings[0]
    if finding.code != "problem.no-drive":
        return finding
    values = {**finding.values, "lap": key.name}
    told = finding.values.get("station_m")
    place = None if told is None else place_of_speed(circuit, key, float(told))
    return Finding("circuit.no-lap", "error", place or place_of_lap(circuit, key), values, ())


def place_of_lap(circuit: Circuit, key: LapKey) -> Origin:
    """Give where a kind of lap is written: at its excursion, or at the main path's name."""
    if key.excursions:
        return circuit.origin("circuit", "excursions", key.excursions[0])
    return circuit.origin("circuit", "main")


def place_of_speed(circuit: Circuit, key: LapKey, station_m: float) -> Origin | None:
    """Give where the speed is written that begins, or else holds, at a station of a lap in m; None where none is."""
    part = next(one for one in reversed(parts_of(circuit, key)) if one.lap_m <= station_m + SAME)
    spec, at = circuit.base.paths[part.path], station_m + part.start_m - part.lap_m
    inside = [
        one
        for one in sections_of(spec, circuit.paths[part.path])
        if one.most_mps < math.inf and one.start_m - SAME <= at <= one.end_m + SAME
    ]
    if not inside:
        return None
    return circuit.base.origin("paths", part.path, "pieces", inside[-1].piece, "speed")


def _end_s(mover: MoverPlan) -> float:
    last = mover.pieces[-1]
    return last.start_s + last.duration_s


def _spells(mover: MoverPlan, sections: Sequence[Section], end_s: float) -> Iterator[Spell]:
    """How long it is on each surface, in order, until a time in s."""
    edges = sorted({edge for one in sections for edge in (one.start_m, one.end_m)})
    now = mover.launch_s
    at = mover.start.station_m

    def under(station_m: float) -> str | None:
        inside = (one for one in sections if one.start_m <= station_m <= one.end_m and one.surface)
        return next((one.surface for one in inside), None)

    for piece in mover.pieces:
        if piece.start_s >= end_s - 1e-12:
            break
        if piece.start_s > now + 1e-9:
            yield Spell(under(at), piece.start_s - now, 0.0, True)
        lasts = min(piece.duration_s, end_s - piece.start_s)
        stands = abs(piece.speed_mps) < SAME and piece.accel_mps2 == 0.0 == piece.jerk_mps3
        there = _station(piece, lasts)
        times = [0.0]
        times += [_when(piece, lasts, one) for one in edges if piece.station_m < one < there]
        times.append(lasts)
        for low, high in pairwise(times):
            if high > low:
                a, b = _station(piece, low), _station(piece, high)
                yield Spell(under((a + b) / 2.0), high - low, b - a, stands)
        now, at = piece.start_s + lasts, there
    if end_s > now + 1e-9:
        yield Spell(under(at), end_s - now, 0.0, True)


def _station(piece: Piece, u_s: float) -> float:
    return piece.station_m + u_s * (
        piece.speed_mps + u_s * (piece.accel_mps2 / 2 + u_s * piece.jerk_mps3 / 6)
    )


def _when(piece: Piece, lasts_s: float, station_m: float) -> float:
    low, high = 0.0, lasts_s
    for _ in range(BISECTIONS):
        middle = (low + high) / 2.0
        low, high = (middle, high) if _station(piece, middle) < station_m else (low, middle)
    return (low + high) / 2.0


def seam_faults(
    circuit: Circuit, laps: Mapping[LapKey, Lap], follow: set[tuple[LapKey, LapKey]]
) -> list[Finding]:
    """Find where a lap doesn't begin as the one before it ends: speed, acceleration (where it may not jump), place."""
    found = []
    jerky = circuit.base.movers[VEHICLE].limits.jerk_mps3 < float("inf")
    for before, after in sorted(follow, key=lambda pair: (pair[0].name, pair[1].name)):
        a, b = laps[before].leaves, laps[after].enters
        off = []
        if abs(a.speed_mps - b.speed_mps) > SAME:
            off.append(f"speed {a.speed_mps:.6f} and {b.speed_mps:.6f} m/s")
        if jerky and abs(a.accel_mps2 - b.accel_mps2) > SAME:
            off.append(f"acceleration {a.accel_mps2:.6f} and {b.accel_mps2:.6f} m/s2")
        apart, turned = _line_of(laps[before], laps[after])
        if apart > 0.01 + SAME or turned > 0.1 + SAME:
            off.append(f"{apart:.3f} m and {turned:.3f} deg apart at the line")
        if off:
            values = {"before": before.name, "after": after.name, "what": "; ".join(off)}
            found.append(Finding("circuit.seam", "error", circuit.origin("circuit"), values, ()))
    return found


def _line_of(before: Lap, after: Lap) -> tuple[float, float]:
    """How far in m, and turned by how many degrees, the end of a lap lies from the beginning of the next."""
    ends = []
    for lap, station in ((before, before.length_m), (after, 0.0)):
        pose = lap.answer.paths[VEHICLE].pose(np.array([station]))
        ends.append((float(pose.x_m[0]), float(pose.y_m[0]), float(pose.heading_rad[0])))
    (x, y, h), (u, v, g) = ends
    turned = abs((h - g + math.pi) % (2.0 * math.pi) - math.pi)
    return math.hypot(x - u, y - v), math.degrees(turned)
