"""Laps as paths: stretches of the main path and whole excursions, one after the other; and whether they join."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from choreo.circuits.following import following
from choreo.circuits.records import VEHICLE, Circuit, LapKey
from choreo.geometry import Path, bank_at
from choreo.geometry.poses import Poses
from choreo.geometry.sections import sections_of
from choreo.geometry.tolerances import LOOP_APART_M, LOOP_TURNED_RAD
from choreo.pace import zones_of
from choreo.scenario import PathSpec, Piece, Span
from choreo.words import Finding
from choreo.words.kinds import Severity
from choreo.words.quantities import quoted
from choreo.words.records import dataclass

# Curvature that jumps by more than this (1/m) at a join is told.
JUMP_PER_M = 1.0 / 500.0


@dataclass(frozen=True, slots=True)
class Part:
    """A stretch of a path by name, and the station of the lap at which it begins; m."""

    path: str
    start_m: float
    end_m: float
    lap_m: float
    excursion: str | None = None


def parts_of(circuit: Circuit, key: LapKey) -> tuple[Part, ...]:
    """Give what a lap is made of."""
    main, at, lap = circuit.written.main, 0.0, 0.0
    parts = []
    for name in key.excursions:
        one = circuit.excursions[name]
        for path, low, high, excursion in (
            (main, at, one.leaves_m, None),
            (one.path, 0.0, one.length_m, name),
        ):
            if high > low:
                parts.append(Part(path, low, high, lap, excursion))
                lap += high - low
        at = one.joins_m
    if circuit.lap_m > at:
        parts.append(Part(main, at, circuit.lap_m, lap))
    return tuple(parts)


def length_of(parts: Sequence[Part]) -> float:
    """Give the length of a lap in m."""
    return parts[-1].lap_m + parts[-1].end_m - parts[-1].start_m


def spec_of(circuit: Circuit, parts: Sequence[Part], tail_m: float) -> PathSpec:
    """Give the path of a lap, with so much of the next one behind it for what stops there."""
    pieces = [piece for part in parts for piece in _pieces(circuit, part)]
    if tail_m > 0.0:
        pieces += _pieces(circuit, Part(circuit.written.main, 0.0, tail_m, 0.0))
    first = parts[0]
    pose = circuit.paths[first.path].pose(np.array([first.start_m]))
    start = (float(pose.x_m[0]), float(pose.y_m[0]))
    return PathSpec(start_m=start, heading_rad=float(pose.heading_rad[0]), pieces=tuple(pieces))


def _pieces(circuit: Circuit, part: Part) -> Iterator[Piece]:
    path, spec = circuit.paths[part.path], circuit.base.paths[part.path]
    sections = sections_of(spec, path)
    zones = zones_of(path, sections, part.start_m, part.end_m)
    edges = np.array([part.start_m, *(one.end_m for one in zones)])
    guess = np.array([[one.k0_per_m for one in zones], [one.k1_per_m for one in zones]])
    bends, lengths = following(path, edges, guess)
    for zone, k0, k1, length in zip(zones, *bends.tolist(), lengths.tolist(), strict=True):
        middle = (zone.start_m + zone.end_m) / 2.0
        inside = [one for one in sections if one.start_m <= middle <= one.end_m]
        surface = next((one.surface for one in inside if one.surface is not None), None)
        speed = None
        if math.isfinite(zone.most_mps):
            speed = Span(zone.least_mps or zone.most_mps, zone.most_mps)
        yield Piece(
            "clothoid",
            None,
            length_m=length,
            start_curvature_per_m=k0,
            end_curvature_per_m=k1,
            speed=speed,
            surface=surface,
            bank_rad=float(bank_at(path, np.array([middle]))[0]),
            even_bank=True,
        )


def join_faults(circuit: Circuit) -> list[Finding]:
    """Find where excursions don't join the main path: apart, at an angle, against the traffic, too tight."""
    found: list[Finding] = []
    main = circuit.paths[circuit.written.main]
    for name, one in circuit.excursions.items():
        path = circuit.paths[one.path]
        ends = ("leaves", 0.0, one.leaves_m), ("joins", one.length_m, one.joins_m)
        round_m = [
            _apart(_at(path, own), _at(main, on_main))
            for (_, own, _), (_, _, on_main) in zip(ends, reversed(ends), strict=True)
        ]
        if max(round_m) <= LOOP_APART_M:
            found.append(_against(circuit, name, "leaves", one.leaves_m))
            continue
        for key, own, on_main in ends:
            found += _join(circuit, name, key, (path, own), (main, on_main))
    found += _too_tight(circuit)
    lap = circuit.lap_m
    before, after = _curvature(main, lap - 1e-9), _curvature(main, 0.0)
    if abs(after - before) > JUMP_PER_M:
        values = {
            "what": "the main path at its line",
            "before": _radius(before),
            "after": _radius(after),
        }
        found.append(_finding(circuit, "circuit.curvature", ("circuit", "main"), values, "warning"))
    return found


def _too_tight(circuit: Circuit) -> Iterator[Finding]:
    """No body follows a curve whose centre lies between its own wheels."""
    least = circuit.base.movers[VEHICLE].body.width_m / 2.0
    ways = {name: one.path for name, one in circuit.excursions.items()}
    for name, called in {"": circuit.written.main, **ways}.items():
        path = circuit.paths[called]
        tight = max(path.stretches(), key=lambda one: max(abs(one[2]), abs(one[3])))
        bent = max(abs(tight[2]), abs(tight[3]))
        if bent * least > 1.0:
            keys = ("circuit", "excursions", name) if name else ("circuit", "main")
            values = {
                "path": quoted(called),
                "radius": f"{1.0 / bent:g} m",
                "station": f"{tight[0]:.1f} m",
                "least": f"{least:.2f} m",
            }
            yield _finding(circuit, "circuit.too-tight", keys, values, "error")


def _join(
    circuit: Circuit, name: str, key: str, own: tuple[Path, float], main: tuple[Path, float]
) -> Iterator[Finding]:
    keys = ("circuit", "excursions", name, key)
    here, there = _at(*own), _at(*main)
    apart = _apart(here, there)
    turned = float(here.heading_rad[0] - there.heading_rad[0])
    turned = abs((turned + math.pi) % (2.0 * math.pi) - math.pi)
    values: dict[str, str | float] = {
        "excursion": quoted(name),
        "key": key,
        "station": f"{main[1]:.3f} m",
        "x": f"{float(there.x_m[0]):.3f}",
        "y": f"{float(there.y_m[0]):.3f}",
    }
    if apart > LOOP_APART_M:
        values |= {"apart": f"{apart:.3f} m", "instead": _instead(main[0], here, key)}
        yield _finding(circuit, "circuit.apart", keys, values, "error")
        return
    if turned > math.pi / 2.0:
        yield _against(circuit, name, key, main[1])
        return
    if turned > LOOP_TURNED_RAD:
        values |= {"turned": f"{math.degrees(turned):.3f} deg"}
        yield _finding(circuit, "circuit.not-tangential", keys, values, "error")
        return
    inside = 1e-9 if key == "joins" else 0.0
    bends = (_curvature(own[0], own[1] - inside), _curvature(main[0], main[1]))
    if abs(bends[0] - bends[1]) > JUMP_PER_M:
        told = {
            "what": f"excursion `{quoted(name)}` where it {key}",
            "before": _radius(bends[1]),
            "after": _radius(bends[0]),
        }
        yield _finding(circuit, "circuit.curvature", keys, told, "warning")


def _against(circuit: Circuit, name: str, key: str, station_m: float) -> Finding:
    """An excursion whose path goes the other way, at an end of it or as a whole."""
    one = circuit.excursions[name]
    values = {
        "excursion": quoted(name),
        "key": key,
        "station": f"{station_m:.3f} m",
        "leaves": f"{one.leaves_m:.3f} m",
        "joins": f"{one.joins_m:.3f} m",
    }
    keys = ("circuit", "excursions", name, key)
    return _finding(circuit, "circuit.against-traffic", keys, values, "error")


def _at(path: Path, station_m: float) -> Poses:
    return path.pose(np.array([station_m]))


def _apart(one: Poses, other: Poses) -> float:
    return math.hypot(float(one.x_m[0] - other.x_m[0]), float(one.y_m[0] - other.y_m[0]))


def _instead(main: Path, here: Poses, key: str) -> str:
    """What makes an end of an excursion lie on the main path: another station, if there is one where it is."""
    x, y = float(here.x_m[0]), float(here.y_m[0])
    nearest = main.nearest(x, y)
    apart = _apart(here, _at(main, nearest))
    if apart <= LOOP_APART_M:
        return f"Write `{key}: {nearest:.3f} m`; or let the excursion's path lead there."
    end = "begins" if key == "leaves" else "ends"
    return f"Let its path lead there: it {end} at [{x:.3f} m, {y:.3f} m], {apart:.3f} m beside the main path."


def _finding(
    circuit: Circuit,
    code: str,
    keys: tuple[str | int, ...],
    values: dict[str, str | float] | dict[str, str],
    severity: Severity,
) -> Finding:
    return Finding(code, severity, circuit.origin(*keys), dict(values), ())


def _curvature(path: Path, station_m: float) -> float:
    return float(path.pose(np.array([station_m])).curvature_per_m[0])


def _radius(curvature_per_m: float) -> str:
    return (
        "straight" if curvature_per_m == 0.0 else f"a radius of {1.0 / abs(curvature_per_m):.1f} m"
    )
