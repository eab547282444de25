"""Pieces of a path that say how fast they are driven, or what they are made of, as stretches of its stations."""

from __future__ import annotations

from typing import Any

from choreo.geometry.loop import MORE_LAPS, LoopPath
from choreo.geometry.pieces import stretches_of
from choreo.geometry.poses import Path
from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class Section:
    """From one station to another (m): no slower and no faster than this (m/s), and its surface by name.

    piece: which of its path's pieces says it, from 0.
    """

    start_m: float
    end_m: float
    least_mps: float
    most_mps: float
    surface: str | None
    piece: int


def sections_of(spec: Any, path: Path) -> tuple[Section, ...]:
    """Give the sections of a path that say a speed or a surface, in the laps beyond the written ones of a loop too.

    spec: the record that the path was built from. Of a path beside another there are none: pieces belong to the path
    that they are written in.
    """
    found: list[Section] = []
    station = 0.0
    for number, piece in enumerate(spec.pieces):
        start, station = station, station + sum(one[0] for one in stretches_of(piece))
        if piece.speed is None and piece.surface is None:
            continue
        least, most = 0.0, float("inf")
        if piece.speed is not None:
            least = 0.0 if piece.speed.fixed else piece.speed.lo
            most = piece.speed.hi
        found.append(Section(start, station, least, most, piece.surface, number))
    if isinstance(path, LoopPath):
        beyond = [(path.laps + number) * path.lap_m for number in range(MORE_LAPS)]
        found += [
            Section(one.start_m + at, one.end_m + at, *_rest(one))
            for at in beyond
            for one in found
            if one.start_m < path.lap_m
        ]
    return tuple(found)


def _rest(one: Section) -> tuple[float, float, str | None, int]:
    return one.least_mps, one.most_mps, one.surface, one.piece
