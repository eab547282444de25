"""Double lane changes: ISO 3888-1 and -2, and a national winter form.

Sources: open programs that lay these courses out (second-hand; they differ in what the offset of part 1 joins and in
the last width of part 2, so that both are chosen by whoever writes the course); the winter form GB/T 30677-2014,
Annex A. Checked by C135 to C138 of tests/references/SOURCES.md.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from choreo.courses.record import Cone, Course, CourseFault, Lane, Layout, Piece, Side, Sizes
from choreo.words.kinds import PieceKind

# Lengths of lane, change, lane, change, lane in m.
SEVERE_M = (15.0, 30.0, 25.0, 25.0, 15.0)
AVOIDANCE_M = (12.0, 13.5, 11.0, 12.5, 12.0)
SEVERE_OFFSET_M, WINTER_OFFSET_M, AVOIDANCE_GAP_M = 3.5, 1.0, 1.0
# The winter form has its cones no farther apart than this.
WINTER_SPACING_M = 5.0
NEAR_EDGES = "near edge to near edge"
READINGS = ("right edge to right edge", "centre to near edge", "centre to centre")
WINTER_READINGS = (*READINGS, NEAR_EDGES)
# What steers through cones is as wide as this (m): between a bicycle and twice a lorry. Common practice, no source.
NARROWEST_M, WIDEST_M = 0.3, 5.0
# The winter form's widths by vehicle width: what is added to 1.1, 1.2, 1.3 of it.
SEVERE_ADDED_M, WINTER_ADDED_M = 0.25, 1.25


def severe(sizes: Sizes) -> Layout:
    """Lay out ISO 3888-1. Raises CourseFault: the reading of the offset."""
    widths = _widths(sizes, SEVERE_ADDED_M)
    centre = _second(sizes, widths, SEVERE_OFFSET_M, READINGS)
    lanes = _lanes(SEVERE_M, widths, (0.0, centre, 0.0), sizes)
    return _layout("ISO 3888-1", sizes, lanes, _at_ends(lanes))


def winter(sizes: Sizes) -> Layout:
    """Lay out the national winter form. Raises CourseFault: the reading of the offset."""
    widths = _widths(sizes, WINTER_ADDED_M)
    centre = _second(sizes, widths, WINTER_OFFSET_M, WINTER_READINGS)
    lanes = _lanes(SEVERE_M, widths, (0.0, centre, 0.0), sizes)
    places = [np.linspace(one.from_m, one.to_m, _count(one) + 1) for one in lanes]
    return _layout("winter lane change", sizes, lanes, places)


def avoidance(sizes: Sizes) -> Layout:
    """Lay out ISO 3888-2. The last lane's right edge is in line with that of the first."""
    width = _width_m(sizes)
    widths = (1.1 * width + 0.25, width + 1.0, sizes.last_width_m or 0.0)
    centre = widths[0] / 2.0 + AVOIDANCE_GAP_M + widths[1] / 2.0
    last = (widths[2] - widths[0]) / 2.0
    lanes = _lanes(AVOIDANCE_M, widths, (0.0, centre, last), sizes)
    middles = [np.linspace(one.from_m, one.to_m, 3) for one in lanes]
    return _layout("ISO 3888-2", sizes, lanes, middles)


def _width_m(sizes: Sizes) -> float:
    width = sizes.vehicle_width_m or 0.0
    if not NARROWEST_M <= width <= WIDEST_M:
        what = f"a vehicle {width:g} m wide drives through no such course"
        instead = f"Was another unit meant? Write {NARROWEST_M:g} to {WIDEST_M:g} m, `1.80 m` say."
        raise CourseFault("vehicle width", what, instead)
    return width


def _widths(sizes: Sizes, added_m: float) -> tuple[float, float, float]:
    width = _width_m(sizes)
    return 1.1 * width + added_m, 1.2 * width + added_m, 1.3 * width + added_m


def _second(
    sizes: Sizes, widths: Sequence[float], offset_m: float, readings: Sequence[str]
) -> float:
    """Where the middle of the second lane lies: the offset by the reading that is chosen."""
    first, second = widths[0] / 2.0, widths[1] / 2.0
    by_reading: Mapping[str, float] = {
        "right edge to right edge": offset_m - first + second,
        "centre to near edge": offset_m + second,
        "centre to centre": offset_m,
        NEAR_EDGES: first + offset_m + second,
    }
    if sizes.offset_read_as not in readings:
        words = ", ".join(f"`{one}`" for one in readings)
        what = f"`{sizes.offset_read_as}` is no reading of the offset of {offset_m:g} m"
        raise CourseFault("offset read as", what, f"Write one of {words}.")
    return by_reading[sizes.offset_read_as or ""]


def _lanes(
    lengths_m: Sequence[float], widths: Sequence[float], middles: Sequence[float], sizes: Sizes
) -> list[Lane]:
    begins = np.concatenate(([0.0], np.cumsum(lengths_m))) + sizes.run_up_m
    lanes = []
    for index, (width, middle) in enumerate(zip(widths, middles, strict=True)):
        edges = sorted(sizes.left * (middle + half) for half in (-width / 2.0, width / 2.0))
        section = 2 * index
        ends = float(begins[section]), float(begins[section + 1])
        lanes.append(Lane(f"section{section + 1}", *ends, edges[0], edges[1]))
    return lanes


def _at_ends(lanes: Sequence[Lane]) -> list[np.ndarray]:
    return [np.array([one.from_m, one.to_m]) for one in lanes]


def _count(lane: Lane) -> int:
    return int(np.ceil((lane.to_m - lane.from_m) / WINTER_SPACING_M - 1e-9))


def cones_of(lanes: Sequence[Lane], places: Sequence[np.ndarray]) -> tuple[Cone, ...]:
    """Give the cones of lanes, at places along x in m of each, on both sides."""
    sides: tuple[Side, Side] = ("right", "left")
    return tuple(
        Cone(
            f"{lane.name} {side} {number}",
            float(x),
            lane.left_m if side == "left" else lane.right_m,
            side,
        )
        for lane, at in zip(lanes, places, strict=True)
        for number, x in enumerate(at, 1)
        for side in sides
    )


def _layout(name: str, sizes: Sizes, lanes: Sequence[Lane], places: Sequence[np.ndarray]) -> Layout:
    pieces = [Piece("line", length_m=sizes.run_up_m)]
    for index, lane in enumerate(lanes):
        if index:
            before = lanes[index - 1]
            offset = lane.middle_m - before.middle_m
            length = lane.from_m - before.to_m
            section = f"section{2 * index}"
            kind: PieceKind = "shift" if offset else "line"
            pieces.append(Piece(kind, section, length, offset_m=offset or None))
        pieces.append(Piece("line", lane.name, lane.to_m - lane.from_m))
    pieces.append(Piece("line", length_m=sizes.run_out_m))
    bounds = tuple(
        ((lane.from_m, edge), (lane.to_m, edge))
        for lane in lanes
        for edge in (lane.right_m, lane.left_m)
    )
    course = Course(
        name,
        cones_of(lanes, places),
        bounds,
        tuple(lanes),
        sizes.line or "centres",
        0.05 if sizes.margin_m is None else sizes.margin_m,
        sizes.vehicle_width_m,
    )
    return Layout(course, tuple(pieces))
