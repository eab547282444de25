"""A placed scenario on its site in plain characters."""

from __future__ import annotations

import math
import textwrap

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from choreo.ground import Ground
from choreo.placement.record import Placement, Ring
from choreo.report.picture import CELL_RATIO, LEAST_WIDTH, Canvas, legend_lines, signs_of, up_words

# A picture fits a terminal, and is no mere line; one column is left free beside it.
MOST_ROWS = 24
LEAST_ROWS = 3
MARGIN_COLUMNS = 1
DRIVABLE, BLOCKED, SWEPT, MEETS = ".", "#", "+", "X"


def placement_picture(placement: Placement, ground: Ground, width: int) -> tuple[str, ...]:
    """Draw the site and on it the best place, in lines of at most width characters."""
    width = max(width, LEAST_WIDTH)
    canvas = _canvas(ground, width)
    cells = _cells(canvas, 1.0)
    # The inner half of a cell tells: a hair's overlap draws nothing.
    _fill(canvas, shapely.intersects(ground.drivable, _cells(canvas, 0.5)), DRIVABLE)
    obstacles = shapely.union_all(list(ground.obstacles.values()))
    _fill(canvas, shapely.intersects(obstacles, cells), BLOCKED)
    legend = [f"{DRIVABLE} drivable"]
    if ground.obstacles:
        legend.append(f"{BLOCKED} obstacle")
    if placement.best is not None:
        _fill(canvas, shapely.intersects(_shape(placement.footprint_polygons_m), cells), SWEPT)
        legend.append(f"{SWEPT} swept by plan or stop")
        signs = signs_of(placement.best.starts)
        starts, encounters = placement.best.starts, placement.best.encounters
        numbered = {name: str(n % 10) for n, name in enumerate(encounters, start=1)}
        marks = {name: MEETS if len(encounters) == 1 else sign for name, sign in numbered.items()}
        for name, mark in encounters.items():
            canvas.put(mark.x_m, mark.y_m, marks[name], over=True)
        for name, mark in starts.items():
            canvas.put(mark.x_m, mark.y_m, signs[name], over=True)
        legend += [f"{signs[name]} start of {name}" for name in starts]
        drawn = {cell for row in canvas.cells for cell in row}
        for name, sign in marks.items():
            hidden = "" if sign in drawn else " (under a start)"
            legend.append(f"{sign} {name}{hidden}")
    lines = ["".join(row).rstrip() for row in canvas.cells]
    up = up_words(ground.anchor)
    head = f"the site, {up}, a column is {canvas.metres_a_column:.3g} m"
    return ("", *textwrap.wrap(head, width), *lines, *legend_lines(legend, width))


def _canvas(ground: Ground, width: int) -> Canvas:
    everything = shapely.union_all([ground.drivable, *ground.obstacles.values()])
    left, low, right, high = everything.bounds
    wide, tall = right - left, high - low
    columns = width - 2 * MARGIN_COLUMNS
    scale = max(wide / (columns - 1), tall / (CELL_RATIO * (MOST_ROWS - 1)))
    rows = max(math.ceil(tall / (scale * CELL_RATIO)) + 1, LEAST_ROWS)
    left_m = (left + right) / 2 - scale * (width - 1) / 2
    top_m = (low + high) / 2 + scale * CELL_RATIO * (rows - 1) / 2
    return Canvas([[" "] * width for _ in range(rows)], scale, left_m, top_m)


def _cells(canvas: Canvas, share: float) -> NDArray[np.object_]:
    """The rectangles on the ground that the characters stand for, shrunk to a share, row by row."""
    step, high = canvas.metres_a_column, canvas.metres_a_column * CELL_RATIO
    columns, rows = len(canvas.cells[0]), len(canvas.cells)
    x_m, y_m = np.meshgrid(
        canvas.left_m + step * np.arange(columns), canvas.top_m - high * np.arange(rows)
    )
    half_x, half_y = share * step / 2, share * high / 2
    return np.asarray(shapely.box(x_m - half_x, y_m - half_y, x_m + half_x, y_m + half_y))


def _fill(canvas: Canvas, where: NDArray[np.bool_], sign: str) -> None:
    for row, columns in zip(canvas.cells, where, strict=True):
        for column in np.flatnonzero(columns):
            row[column] = sign


def _shape(polygons: tuple[tuple[Ring, ...], ...]) -> BaseGeometry:
    shape = shapely.union_all([shapely.Polygon(outer, holes) for outer, *holes in polygons])
    shapely.prepare(shape)
    return shape
