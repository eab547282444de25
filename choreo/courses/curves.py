"""Courses round curves: steady circle, U-turn, braking in a turn, published turning paths, the S-bend.

Sources: ISO 4138 (steady circle), ISO 7975 (braking in a turn), both recalled; cones every 15 deg of a circle
GB/T 30677-2014, Annex A; EN-FC v1.1, 1.2.4 (turning paths) and EN-VA v1.1, 3.1.1 (S-bend), read. Checked by C23, C140
and C77 of tests/references/SOURCES.md.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from itertools import groupby
from operator import itemgetter

import numpy as np
from numpy.typing import NDArray

from choreo.courses.record import Cone, Course, CourseFault, Layout, Piece, Point, Side, Sizes

CONE_STEP_RAD = math.radians(15.0)
# A lane's edge along a circle is drawn by so many points to a full turn.
EDGE_POINTS = 144
# The way in and out of a circle is looked at so often (m): what stands in it is left out.
WAY_STEP_M = 0.05
# Where a straight goes over into a circle and back: length of each clothoid in m, common practice, no source.
USUAL_CLOTHOID_M = 30.0
# EN-FC 1.2.4, by speed in km/h and side: radius of the arc in m, angles of each clothoid and of the arc in deg.
TURNS: Mapping[tuple[int, str], tuple[float, float, float]] = {
    (10, "farside"): (9.00, 20.62, 48.75),
    (15, "farside"): (11.75, 20.93, 48.14),
    (20, "farside"): (14.75, 21.79, 46.42),
    (25, "farside"): (14.75, 21.79, 46.42),
    (10, "nearside"): (8.00, 22.85, 44.30),
}
TURN_OUTER_M = 1500.0
# EN-VA 3.1.1: parameters A of both clothoids, radius and length of the arc, in m; then the same to the other hand.
S_BEND = ((153.7, 787.0, 57.1, 105.0), (98.6, 374.0, 5.1, 120.8))
KMH = 1.0 / 3.6


def steady_circle(sizes: Sizes) -> Layout:
    """Lay out laps of a circle, each of them named, a straight and a clothoid before and after."""
    laps = sizes.laps or 1
    turn = sizes.left * 2.0 * math.pi
    names = ["lap", *(f"lap {number}" for number in range(2, laps + 1))]
    arcs = [Piece("arc", name, radius_m=sizes.radius_m, angle_rad=turn) for name in names]
    return _round("steady circle", sizes, arcs, 2.0 * math.pi)


def u_turn(sizes: Sizes) -> Layout:
    """Lay out a turn that leads back beside the way in; clothoids take their part of it.

    Raises CourseFault: clothoids that leave no arc.
    """
    angle = math.pi - _clothoid_m(sizes) / (sizes.radius_m or 1.0)
    if angle <= 0.0:
        what = f"clothoids of {_clothoid_m(sizes):g} m alone turn more than half round"
        raise CourseFault("clothoid", what, "Write a shorter `clothoid`, or a larger radius.")
    arc = Piece("arc", "turn", radius_m=sizes.radius_m, angle_rad=sizes.left * angle)
    return _round("U-turn", sizes, [arc], angle)


def braking_in_a_turn(sizes: Sizes) -> Layout:
    """Lay out a straight and a circle on which it is braked."""
    angle = sizes.left * abs(sizes.angle_rad or math.pi)
    arc = Piece("arc", "turn", radius_m=sizes.radius_m, angle_rad=angle)
    return _round("braking in a turn", sizes, [arc], abs(angle), out=False)


def _round(
    name: str, sizes: Sizes, arcs: list[Piece], turned_rad: float, *, out: bool = True
) -> Layout:
    radius = sizes.radius_m or 0.0
    bend = sizes.left / radius
    length = _clothoid_m(sizes)
    pieces = [Piece("line", length_m=sizes.run_up_m)]
    if length > 0.0:
        ends = {"start_curvature_per_m": 0.0, "end_curvature_per_m": bend}
        pieces.append(Piece("clothoid", "entry", length, **ends))
    pieces += arcs
    if out:
        if length > 0.0:
            ends = {"start_curvature_per_m": bend, "end_curvature_per_m": 0.0}
            pieces.append(Piece("clothoid", "exit", length, **ends))
        pieces.append(Piece("line", length_m=sizes.run_out_m))
    return Layout(_circle(name, sizes, length, turned_rad, out=out), tuple(pieces))


def _clothoid_m(sizes: Sizes) -> float:
    """The length of each clothoid in m."""
    if sizes.clothoid_m is not None:
        return sizes.clothoid_m
    return min(USUAL_CLOTHOID_M, sizes.radius_m or USUAL_CLOTHOID_M)


def clothoid_end(length_m: float, radius_m: float) -> tuple[float, float, float]:
    """Give x, y in m and the heading in rad at the end of a clothoid from straight to a radius, to the left.

    By Gauss-Legendre quadrature of 32 points: exact to rounding for what turns less than a half circle.
    """
    nodes, weights = np.polynomial.legendre.leggauss(32)
    along = (nodes + 1.0) / 2.0
    headings = along**2 * length_m / (2.0 * radius_m)
    shares = weights / 2.0
    x, y = (
        float(np.sum(shares * part)) * length_m for part in (np.cos(headings), np.sin(headings))
    )
    return x, y, length_m / (2.0 * radius_m)


def _circle(name: str, sizes: Sizes, clothoid_m: float, turned_rad: float, *, out: bool) -> Course:
    """The lane round a circle: its cones every 15 deg and its edges, where its width is given.

    Both are left open where the lane of the way in, or out, leads through.
    """
    if sizes.lane_width_m is None:
        return Course(name)
    radius, half, left = sizes.radius_m or 0.0, sizes.lane_width_m / 2.0, sizes.left
    if half >= radius:
        what = f"a lane {2 * half:g} m wide has no inner edge round a radius of {radius:g} m"
        raise CourseFault("lane width", what, "Write a narrower lane, or a larger radius.")
    x, y, heading = clothoid_end(clothoid_m, radius)
    middle = (sizes.run_up_m + x - radius * math.sin(heading), y + radius * math.cos(heading))

    def at(angle_rad: float, far_m: float) -> Point:
        turned = heading + angle_rad
        along = middle[0] + far_m * math.sin(turned)
        return along, left * (middle[1] - far_m * math.cos(turned))

    ways = _ways(sizes, clothoid_m)
    ways = np.concatenate((ways, np.exp(1j * turned_rad) * np.conj(ways))) if out else ways

    def free(angle_rad: float, far_m: float) -> bool:
        place = far_m * np.exp(1j * angle_rad)
        return float(np.abs(ways - place).min()) > half - WAY_STEP_M

    whole = turned_rad >= 2.0 * math.pi - 1e-9
    count = math.floor(turned_rad / CONE_STEP_RAD + 1e-9)
    angles = [index * CONE_STEP_RAD for index in range(count if whole else count + 1)]
    inner: Side = "left" if left > 0 else "right"
    outer: Side = "right" if left > 0 else "left"
    cones = tuple(
        Cone(f"{'inner' if side == inner else 'outer'} {number}", *at(angle, far), side)
        for number, angle in enumerate(angles, 1)
        for side, far in ((inner, radius - half), (outer, radius + half))
        if free(angle, far)
    )
    steps = np.linspace(0.0, turned_rad, max(2, int(EDGE_POINTS * turned_rad / (2 * math.pi)) + 1))
    bounds: list[tuple[Point, ...]] = []
    for far in (radius - half, radius + half):
        kept = [(free(float(step), far), at(float(step), far)) for step in steps]
        for there, run in groupby(kept, itemgetter(0)):
            chain = tuple(place for _, place in run)
            bounds += [chain] if there and len(chain) > 1 else []
    return Course(name, cones, tuple(bounds))


def _ways(sizes: Sizes, clothoid_m: float) -> NDArray[np.complex128]:
    """Places along the way in, shape (n,), from the middle of the circle; the arc begins on the real axis."""
    radius = sizes.radius_m or 0.0
    # From the arc backwards; the heading there is that of the imaginary axis.
    along = np.arange(0.0, clothoid_m + sizes.run_up_m, WAY_STEP_M) + WAY_STEP_M / 2.0
    back = np.minimum(along, clothoid_m)
    turned = (back - back**2 / (2.0 * clothoid_m)) / radius if clothoid_m > 0.0 else 0.0 * along
    steps = -1j * np.exp(-1j * turned) * WAY_STEP_M
    return np.asarray(radius + np.concatenate(([0.0], np.cumsum(steps))))


def turning_path(sizes: Sizes) -> Layout:
    """Lay out a turning path of EN-FC. Raises CourseFault: a speed or a side that it doesn't print."""
    key = round((sizes.speed_mps or 0.0) / KMH), sizes.side or ""
    exact = abs((sizes.speed_mps or 0.0) / KMH - key[0]) < 1e-6
    if not exact or key not in TURNS:
        words = ", ".join(f"{speed} km/h {side}" for speed, side in TURNS)
        asked = f"{(sizes.speed_mps or 0.0) / KMH:g} km/h {sizes.side}"
        key_at_fault = "side" if any(speed == key[0] for speed, _ in TURNS) else "speed"
        what = f"EN-FC prints no turning path for {asked}"
        raise CourseFault(key_at_fault, what, f"It has {words}.")
    radius, clothoid_deg, arc_deg = TURNS[key]
    bend = Piece(
        "bend",
        "turn",
        radius_m=radius,
        angle_rad=sizes.left * math.radians(2.0 * clothoid_deg + arc_deg),
        clothoid_angle_rad=math.radians(clothoid_deg),
        outer_curvature_per_m=1.0 / TURN_OUTER_M,
    )
    ends = Piece("line", length_m=sizes.run_up_m), Piece("line", length_m=sizes.run_out_m)
    return Layout(Course("EN-FC turning path"), (ends[0], bend, ends[1]))


def s_bend(sizes: Sizes) -> Layout:
    """Lay out the S-bend of EN-VA, clothoid lengths A^2/R."""
    pieces = [Piece("line", length_m=sizes.run_up_m)]
    for hand, name, (a_in, radius, arc_m, a_out) in zip(
        (1.0, -1.0), ("turn1", "turn2"), S_BEND, strict=True
    ):
        bend = hand * sizes.left / radius
        rise, fall = a_in**2 / radius, a_out**2 / radius
        pieces += [
            Piece(
                "clothoid", f"{name}-in", rise, start_curvature_per_m=0.0, end_curvature_per_m=bend
            ),
            Piece("arc", name, radius_m=radius, angle_rad=bend * arc_m),
            Piece(
                "clothoid", f"{name}-out", fall, start_curvature_per_m=bend, end_curvature_per_m=0.0
            ),
        ]
    pieces.append(Piece("line", length_m=sizes.run_out_m))
    return Layout(Course("S-bend"), tuple(pieces))
