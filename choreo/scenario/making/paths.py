"""Paths as written -> PathSpec."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import assert_never

from choreo.scenario.making.courses import check_no_course, course_of
from choreo.scenario.making.draft import Draft
from choreo.scenario.making.survey import Points, surveyed_points
from choreo.scenario.records.scenario import PathSpec, Piece
from choreo.scenario.text.document import Keys
from choreo.scenario.text.repeats import counted
from choreo.scenario.written import scenario as w
from choreo.words.kinds import PathKind, PieceKind

# No track is banked more.
STEEPEST_RAD = math.radians(60.0)


def path_of(draft: Draft, keys: Keys, path: w.PathWritten, folder: Path) -> PathSpec | None:
    """Make one path of its kind; folder: where files that it names are looked for."""
    choices: dict[PathKind, object] = {
        "pieces": path.pieces,
        "beside": path.beside,
        "surveyed": path.surveyed,
        "course": path.course,
    }
    chosen = draft.one_of(keys, f"path `{keys[-1]}`", choices)
    if chosen is None:
        return None
    kind, _ = chosen
    if path.closed and kind not in ("pieces", "surveyed"):
        draft.fault(
            "scenario.bad-value",
            (*keys, "closed"),
            where=f"path `{keys[-1]}`",
            what=f"`closed` is for a path of pieces or a surveyed one, not one that is `{kind}`",
            instead="Leave it out; beside a closed path, from its beginning to its end, a path is closed by itself.",
        )
    if kind != "course":
        check_no_course(draft, keys, path)
    match kind:
        case "pieces":
            return _chain(draft, keys, path, path.pieces or ())
        case "beside":
            return _beside(draft, keys, path)
        case "surveyed":
            file = folder / (path.surveyed or "")
            points = surveyed_points(draft, file, (*keys, "surveyed"))
            return _survey(path, points) if points else None
        case "course":
            return course_of(draft, keys, path)
    assert_never(kind)


def _chain(
    draft: Draft, keys: Keys, path: w.PathWritten, written: tuple[w.PieceWritten, ...]
) -> PathSpec | None:
    if path.start is None or not written:
        missing = "start" if path.start is None else "pieces"
        draft.fault("scenario.missing-key", keys, key=missing, where=f"path {keys[-1]}")
        return None
    pieces = [
        _piece(draft, (*keys, "pieces", index), index, piece) for index, piece in enumerate(written)
    ]
    _check_marks(draft, keys, written)
    whole = tuple(piece for piece in pieces if piece is not None)
    ways = {piece.backwards for piece in whole}
    banked = [index for index, piece in enumerate(written) if piece.bank is not None]
    if len(ways) > 1 and banked:
        where, second = f"path {keys[-1]}", "pieces of which some are driven backwards"
        place = (*keys, "pieces", banked[0], "bank")
        draft.fault("scenario.not-together", place, where=where, first="`bank`", second=second)
    if path.closed and len(ways) > 1:
        draft.fault(
            "scenario.not-together",
            (*keys, "closed"),
            where=f"path {keys[-1]}",
            first="`closed`",
            second="pieces of which some are driven backwards",
        )
        return None
    return PathSpec(start_m=path.start, heading_rad=path.heading, pieces=whole, closed=path.closed)


def _survey(path: w.PathWritten, points: Points) -> PathSpec:
    """Laps are named as repeated pieces are."""
    names = [counted("lap", number) for number in range(1, (path.laps or 1) + 1)]
    return PathSpec(points_m=points, closed=path.closed, laps=tuple(names) if path.closed else ())


def _beside(draft: Draft, keys: Keys, path: w.PathWritten) -> PathSpec:
    if path.from_station is not None and path.to_station is not None:
        _check_stretch(draft, keys, path.from_station, path.to_station)
    return PathSpec(
        beside=path.beside,
        offset_m=path.offset,
        reversed=path.reversed,
        from_m=path.from_station,
        to_m=path.to_station,
    )


def _check_stretch(draft: Draft, keys: Keys, from_m: float, to_m: float) -> None:
    if from_m >= to_m:
        draft.fault(
            "scenario.bad-value",
            (*keys, "to"),
            related=[(*keys, "from")],
            where=f"path `{keys[-1]}`",
            what=f"it ends at {to_m:g} m, before it begins at {from_m:g} m",
            instead="Write `from` below `to`; `reversed: yes` turns the direction.",
        )


def _check_marks(draft: Draft, keys: Keys, pieces: tuple[w.PieceWritten, ...]) -> None:
    """A named piece is a mark; each name once."""
    first: dict[str, int] = {}
    for index, piece in enumerate(pieces):
        if piece.name is None:
            continue
        known = first.setdefault(piece.name, index)
        if known != index:
            draft.fault(
                "scenario.same-name",
                (*keys, "pieces", index, "name"),
                related=[(*keys, "pieces", known, "name")],
                name=piece.name,
                first="a piece",
                second="another piece of this path",
            )


def _piece(draft: Draft, keys: Keys, index: int, piece: w.PieceWritten) -> Piece | None:
    chosen: tuple[PieceKind, w.PieceBlock] | None = draft.one_of(
        keys, f"piece {index + 1}", piece.by_kind()
    )
    if chosen is None:
        return None
    made = _shaped(draft, keys, chosen, piece)
    if piece.speed is not None and piece.speed.hi <= 0.0:
        draft.fault(
            "scenario.bad-value",
            (*keys, "speed"),
            where=f"piece {index + 1}",
            what="nothing is driven at 0 km/h",
            instead="Write the most, `speed: 30 km/h`, or a window, `speed: 28..32 km/h`.",
        )
    if made is None:
        return None
    bank = 0.0 if piece.bank is None else piece.bank
    _check_bank(draft, keys, index, chosen[0], bank)
    if piece.speed is None and piece.surface is None and not piece.drive and not bank:
        return made
    return replace(
        made, speed=piece.speed, surface=piece.surface, backwards=piece.drive, bank_rad=bank
    )


def _check_bank(draft: Draft, keys: Keys, index: int, kind: PieceKind, bank_rad: float) -> None:
    """A bank is that of a curve, and no wall."""
    what, instead = "", "Write it at an `arc`, a `clothoid` or a `bend`."
    if bank_rad and kind not in ("arc", "clothoid", "bend"):
        what = f"a {kind} has no inside that could lie lower"
    elif abs(bank_rad) > STEEPEST_RAD:
        what = f"a bank of {math.degrees(bank_rad):g} deg is steeper than any track"
        instead = f"Write at most {math.degrees(STEEPEST_RAD):g} deg."
    if what:
        where = f"piece {index + 1}"
        draft.fault("scenario.bad-value", (*keys, "bank"), where=where, what=what, instead=instead)


def _shaped(
    draft: Draft, keys: Keys, chosen: tuple[PieceKind, w.PieceBlock], piece: w.PieceWritten
) -> Piece | None:
    kind, block = chosen
    match block:
        case w.ArcWritten():
            return Piece(kind, piece.name, piece.at, radius_m=block.radius, angle_rad=block.angle)
        case w.ClothoidWritten():
            return Piece(
                kind,
                piece.name,
                piece.at,
                length_m=block.length,
                start_curvature_per_m=block.start,
                end_curvature_per_m=block.to,
            )
        case w.BendWritten():
            return _bend(draft, (*keys, kind), piece, block)
        case w.ShiftWritten():
            return _shift(draft, (*keys, kind), piece, block)
        case float():
            return Piece(kind, piece.name, piece.at, length_m=block)
    assert_never(block)


def _shift(draft: Draft, keys: Keys, piece: w.PieceWritten, shift: w.ShiftWritten) -> Piece | None:
    lengths = {"length": shift.length, "path length": shift.path_length}
    if draft.one_of(keys, "shift", lengths) is None:
        return None
    if shift.radius is not None and shift.transition is not None:
        draft.fault(
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


def _bend(draft: Draft, keys: Keys, piece: w.PieceWritten, bend: w.BendWritten) -> Piece | None:
    angles = {"angle": bend.angle, "arc angle": bend.arc_angle}
    clothoids = {"clothoid angle": bend.clothoid_angle, "clothoid length": bend.clothoid_length}
    if draft.one_of(keys, "bend", angles) is None or draft.one_of(keys, "bend", clothoids) is None:
        return None
    angle = bend.angle
    clothoid_angle = None if bend.clothoid_angle is None else abs(bend.clothoid_angle)
    if angle is None and bend.arc_angle is not None:
        if clothoid_angle is None:
            draft.fault(
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


def drives_backwards(
    draft: Draft, keys: Keys, mover: w.MoverWritten, paths: Mapping[str, PathSpec]
) -> bool:
    """Whether a mover's rear leads at the end of its path: it says so itself, or the pieces of its path do."""
    path = paths.get(mover.path or "")
    pieces = () if path is None else path.pieces
    by_path = any(piece.backwards for piece in pieces)
    other = "`stand`" if mover.stand is not None else "`drive` at pieces of its path"
    if mover.drive and (mover.stand is not None or by_path):
        draft.fault(
            "scenario.not-together", (*keys, "drive"), where=keys[-1], first=other, second="`drive`"
        )
    return pieces[-1].backwards if by_path else mover.drive


def mark_names(name: str, paths: Mapping[str, PathSpec]) -> list[str]:
    """Names of a path's pieces; a path beside another has that one's."""
    seen: set[str] = set()
    whole = True
    while name in paths and name not in seen:
        seen.add(name)
        spec = paths[name]
        if spec.beside is None:
            pieces = [piece.name for piece in spec.pieces if piece.name is not None]
            laps = spec.laps if whole else ()
            return [*pieces, *(section[0] for section in spec.sections), *laps]
        whole = whole and spec.from_m is None and spec.to_m is None
        name = spec.beside
    return []


def check_beside(draft: Draft, paths: Mapping[str, PathSpec], own: set[str]) -> None:
    """Every path beside another must lead to one that isn't."""
    for name, spec in paths.items():
        if name not in own or spec.beside is None:
            continue
        if spec.beside not in paths:
            if spec.beside not in draft.paths:
                draft.unknown(("paths", name, "beside"), "path", spec.beside, draft.paths)
            continue
        chain, current = [name], spec.beside
        while current in paths and current not in chain and paths[current].beside is not None:
            chain.append(current)
            current = paths[current].beside or ""
        if current == name:
            loop = " -> ".join([*chain, name])
            draft.fault("scenario.beside-loop", ("paths", name), path=name, loop=loop)
