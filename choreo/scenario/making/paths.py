"""Paths as written -> PathSpec, surveyed points read from their CSV."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from pathlib import Path

from choreo.scenario.making.making import Making
from choreo.scenario.records.scenario import PathSpec, Piece
from choreo.scenario.text.document import Keys, read_text
from choreo.scenario.written import scenario as w
from choreo.words import ChoreoError, Finding, Origin
from choreo.words.quantities import quoted
from choreo.words.tolerances import SAME_POINT_M
from choreo.words.units import NUMBER

PIECES = ("line", "arc", "clothoid", "bend", "shift")
HEADER = ["x_m", "y_m"]
PLAIN_NUMBER = re.compile(rf"\s*{NUMBER}\s*")
FARTHEST_M = 100_000


def path_of(making: Making, keys: Keys, path: w.PathWritten, folder: Path) -> PathSpec | None:
    """Make one path; its kind is told by which of pieces, beside, surveyed is there."""
    name = str(keys[-1])
    choices = {"pieces": path.pieces, "beside": path.beside, "surveyed": path.surveyed}
    kind = making.one_of(keys, f"path `{name}`", choices)
    if kind == "pieces" and path.pieces is not None:
        if path.start is None or not path.pieces:
            missing = "start" if path.start is None else "pieces"
            making.fault("scenario.missing-key", keys, key=missing, where=f"path {name}")
            return None
        pieces = [
            _piece(making, (*keys, "pieces", index), piece)
            for index, piece in enumerate(path.pieces)
        ]
        whole = tuple(piece for piece in pieces if piece is not None)
        _check_marks(making, keys, path.pieces)
        return PathSpec(start_m=path.start, heading_rad=path.heading, pieces=whole)
    if kind == "beside" and path.beside is not None:
        if path.from_station is not None and path.to_station is not None:
            _check_stretch(making, keys, path.from_station, path.to_station)
        return PathSpec(
            beside=path.beside,
            offset_m=path.offset,
            reversed=path.reversed,
            from_m=path.from_station,
            to_m=path.to_station,
        )
    if kind == "surveyed" and path.surveyed is not None:
        points = _surveyed(making, folder / path.surveyed, (*keys, "surveyed"))
        return PathSpec(points_m=points) if points else None
    return None


def _check_stretch(making: Making, keys: Keys, from_m: float, to_m: float) -> None:
    if from_m >= to_m:
        making.fault(
            "scenario.bad-value",
            (*keys, "to"),
            related=[(*keys, "from")],
            where=f"path `{keys[-1]}`",
            what=f"it ends at {to_m:g} m, before it begins at {from_m:g} m",
            instead="Write `from` below `to`; `reversed: yes` turns the direction.",
        )


def _check_marks(making: Making, keys: Keys, pieces: tuple[w.PieceWritten, ...]) -> None:
    """A named piece is a mark; each name once."""
    first: dict[str, int] = {}
    for index, piece in enumerate(pieces):
        if piece.name is None:
            continue
        known = first.setdefault(piece.name, index)
        if known != index:
            making.fault(
                "scenario.same-name",
                (*keys, "pieces", index, "name"),
                related=[(*keys, "pieces", known, "name")],
                name=piece.name,
                first="a piece",
                second="another piece of this path",
            )


def _piece(making: Making, keys: Keys, piece: w.PieceWritten) -> Piece | None:
    choices = {kind: getattr(piece, kind) for kind in PIECES}
    kind = making.one_of(keys, f"piece {int(keys[-1]) + 1}", choices)
    if kind is None:
        return None
    if piece.line is not None:
        return Piece("line", piece.name, piece.at, length_m=piece.line)
    if piece.arc is not None:
        arc = piece.arc
        return Piece("arc", piece.name, piece.at, radius_m=arc.radius, angle_rad=arc.angle)
    if piece.clothoid is not None:
        one = piece.clothoid
        return Piece(
            "clothoid",
            piece.name,
            piece.at,
            length_m=one.length,
            start_curvature_per_m=one.start,
            end_curvature_per_m=one.to,
        )
    if piece.shift is not None:
        return _shift(making, (*keys, "shift"), piece, piece.shift)
    if piece.bend is not None:
        return _bend(making, (*keys, "bend"), piece, piece.bend)
    return None


def _shift(
    making: Making, keys: Keys, piece: w.PieceWritten, shift: w.ShiftWritten
) -> Piece | None:
    lengths = {"length": shift.length, "path length": shift.path_length}
    if making.one_of(keys, "shift", lengths) is None:
        return None
    if shift.radius is not None and shift.transition is not None:
        making.fault(
            "scenario.not-together", keys, where="shift", first="`radius`", second="`transition`"
        )
        return None
    return Piece(
        "shift",
        piece.name,
        piece.at,
        offset_m=shift.offset,
        length_m=shift.length,
        path_length_m=shift.path_length,
        radius_m=shift.radius,
        transition_m=shift.transition,
    )


def _bend(making: Making, keys: Keys, piece: w.PieceWritten, bend: w.BendWritten) -> Piece | None:
    angles = {"angle": bend.angle, "arc angle": bend.arc_angle}
    clothoids = {"clothoid angle": bend.clothoid_angle, "clothoid length": bend.clothoid_length}
    if (
        making.one_of(keys, "bend", angles) is None
        or making.one_of(keys, "bend", clothoids) is None
    ):
        return None
    angle = bend.angle
    clothoid_angle = None if bend.clothoid_angle is None else abs(bend.clothoid_angle)
    if angle is None and bend.arc_angle is not None:
        if clothoid_angle is None:
            making.fault(
                "scenario.not-together",
                keys,
                where="bend",
                first="`arc angle`",
                second="`clothoid length`",
            )
            return None
        angle = bend.arc_angle + math.copysign(2 * clothoid_angle, bend.arc_angle)
    return Piece(
        "bend",
        piece.name,
        piece.at,
        radius_m=bend.radius,
        angle_rad=angle,
        clothoid_angle_rad=clothoid_angle,
        clothoid_length_m=bend.clothoid_length,
        outer_curvature_per_m=abs(bend.outer_radius),
    )


def _surveyed(making: Making, file: Path, keys: Keys) -> tuple[tuple[float, float], ...]:
    """Points of a CSV with the header x_m,y_m; faults point into the CSV."""
    try:
        text = read_text(file, making.document.origin(keys))
    except ChoreoError as error:
        making.findings += error.findings
        return ()
    making.files.append(str(file))
    rows = [line.split(",") if line.strip() else [] for line in text.splitlines()]
    faults: list[Finding] = []

    def fault(line: int, why: str, instead: str) -> None:
        origin = Origin(str(file), line, 1)
        faults.append(
            Finding("scenario.not-in-survey", "error", origin, {"why": why, "instead": instead}, ())
        )

    if not rows or [cell.strip() for cell in rows[0]] != HEADER:
        fault(
            1,
            "the header is not `x_m,y_m`",
            "Begin with the line `x_m,y_m`, then one point a line.",
        )
    points: list[tuple[float, float]] = []
    for line, row in enumerate(rows[1:], start=2):
        if not row or row[0].strip().startswith("#"):
            continue
        point = _point(row)
        if point is None:
            fault(
                line,
                f"`{quoted(','.join(row))}` is not a point",
                "Write two numbers in metres, like `12.5,3.0`.",
            )
        elif points and math.dist(points[-1], point) < SAME_POINT_M:
            fault(line, "this point is the same as the one before", "Remove one of them.")
        else:
            points.append(point)
    if not faults and len(points) < 2:
        fault(
            1,
            f"there is {'only one' if points else 'no'} point",
            "A path needs at least two points.",
        )
    making.findings += faults
    return () if faults else tuple(points)


def _point(row: list[str]) -> tuple[float, float] | None:
    if len(row) != len(HEADER) or not all(PLAIN_NUMBER.fullmatch(cell) for cell in row):
        return None
    x, y = (float(cell) for cell in row)
    return (x, y) if abs(x) <= FARTHEST_M and abs(y) <= FARTHEST_M else None


def mark_names(name: str, paths: Mapping[str, PathSpec]) -> list[str]:
    """Names of a path's pieces; a path beside another has that one's."""
    seen: set[str] = set()
    while name in paths and name not in seen:
        seen.add(name)
        spec = paths[name]
        if spec.beside is None:
            return [piece.name for piece in spec.pieces if piece.name is not None]
        name = spec.beside
    return []


def check_beside(making: Making, paths: Mapping[str, PathSpec], own: set[str]) -> None:
    """Every path beside another must lead to one that isn't."""
    for name, spec in paths.items():
        if name not in own or spec.beside is None:
            continue
        if spec.beside not in paths:
            if spec.beside not in making.paths:
                making.unknown(("paths", name, "beside"), "path", spec.beside, making.paths)
            continue
        chain, current = [name], spec.beside
        while current in paths and current not in chain and paths[current].beside is not None:
            chain.append(current)
            current = paths[current].beside or ""
        if current == name:
            loop = " -> ".join([*chain, name])
            making.fault("scenario.beside-loop", ("paths", name), path=name, loop=loop)
