"""Single lane changes: of any size, and those that Euro NCAP prints for oncoming, cutting-in and leaving targets.

Sources, read: EN-FC v1.1, 3.1.1.2 (head-on: some values in the document's own brackets), EN-VA v1.1, 2.1.4, 2.2.4
(cut-in) and 2.1.5 (cut-out). Checked by C31 to C34, C154 and C161 of tests/references/SOURCES.md.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from choreo.courses.record import Course, CourseFault, Layout, Piece, Sizes

KMH = 1.0 / 3.6
# By the speed in km/h of who changes lane: how far ahead in m, tightest radius in m.
HEAD_ON: Mapping[int, tuple[float, float]] = {
    50: (44.0, 1.0 / 0.0076),
    70: (60.0, 1.0 / 0.0039),
    90: (78.0, 1.0 / 0.0023),
    100: (88.0, 1.0 / 0.0019),
}
CUT_IN: Mapping[int, tuple[float, float]] = {10: (14.5, 15.0), 70: (60.0, 250.0)}
CUT_OUT: Mapping[int, tuple[float, float]] = {50: (44.0, 130.0), 70: (60.0, 250.0)}
# How far aside in m: a car, a motorcycle that cuts in.
CAR_M, MOTORCYCLE_M = 3.5, 2.5


def lane_change(sizes: Sizes) -> Layout:
    """Lay out a lane change of any size; with a radius its transitions are solved."""
    return _change(
        "lane change", sizes, sizes.aside_m or 0.0, sizes.length_m or 0.0, sizes.radius_m
    )


def head_on(sizes: Sizes) -> Layout:
    """Lay out how an oncoming target leaves its lane. Raises CourseFault: a speed that EN-FC doesn't print."""
    return _change("EN-FC head-on", sizes, CAR_M, *_printed("EN-FC", sizes, HEAD_ON))


def cut_in(sizes: Sizes) -> Layout:
    """Lay out how a slower target cuts in. Raises CourseFault: a speed or a way aside that EN-VA doesn't print."""
    aside = CAR_M if sizes.aside_m is None else sizes.aside_m
    if aside not in (CAR_M, MOTORCYCLE_M):
        what = f"EN-VA prints no cut-in of {aside:g} m"
        instead = f"Write {CAR_M:g} m (cars) or {MOTORCYCLE_M:g} m (motorcycles), or `course: lane change`."
        raise CourseFault("aside", what, instead)
    return _change("EN-VA cut-in", sizes, aside, *_printed("EN-VA", sizes, CUT_IN))


def cut_out(sizes: Sizes) -> Layout:
    """Lay out how a lead leaves its lane. Raises CourseFault: a speed that EN-VA doesn't print."""
    return _change("EN-VA cut-out", sizes, CAR_M, *_printed("EN-VA", sizes, CUT_OUT))


def _printed(
    source: str, sizes: Sizes, rows: Mapping[int, tuple[float, float]]
) -> tuple[float, float]:
    speed = (sizes.speed_mps or 0.0) / KMH
    for printed, row in rows.items():
        if math.isclose(speed, printed, rel_tol=1e-9):
            return row
    words = ", ".join(f"{one} km/h" for one in rows)
    what = f"{source} prints no such lane change for {speed:g} km/h"
    raise CourseFault("speed", what, f"It has {words}; `course: lane change` has any size.")


def _change(
    name: str, sizes: Sizes, aside_m: float, length_m: float, radius_m: float | None
) -> Layout:
    offset = sizes.left * aside_m
    pieces = (
        Piece("line", length_m=sizes.run_up_m),
        Piece("shift", "change", length_m, radius_m=radius_m, offset_m=offset),
        Piece("line", length_m=sizes.run_out_m),
    )
    return Layout(Course(name), pieces)
