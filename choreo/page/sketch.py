"""How two bodies stand to each other at an encounter: a small drawing to scale, black on white."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import assert_never

import numpy as np

from choreo.geometry import Path, body_corners
from choreo.page.markup import text
from choreo.plans.record import EncounterPlan
from choreo.scenario import Scenario

# In px of the drawing: its size, three in a row on an A4 sheet; room for names beside the bodies, and around them; the
# longest scale bar, a line's height; letters of a name.
WIDE, HIGH = 230.0, 140.0
BESIDE, MARGIN = 64.0, 16.0
BAR, LINE, LONGEST = 50.0, 12.0, 16
# Bodies smaller than this (m) are not drawn any larger.
LEAST_M = 1.5
Points = list[tuple[float, float]]


def encounter_sketch(
    scenario: Scenario, paths: dict[str, Path], name: str, one: EncounterPlan
) -> str:
    """Draw both bodies from above, the first one's way upwards, and where they touch."""
    of, other = _in_frame(scenario, paths, one)
    touch = _touch(scenario, one, other)
    corners = [*of, *other] + ([] if touch is None else [touch])
    across = [-y for _, y in corners]
    along = [x for x, _ in corners]
    wide, high = max(max(across) - min(across), LEAST_M), max(max(along) - min(along), LEAST_M)
    scale = min((WIDE - 2 * BESIDE) / wide, (HIGH - 2 * MARGIN) / high)
    middle = ((max(across) + min(across)) / 2, (max(along) + min(along)) / 2)

    def put(point: tuple[float, float]) -> tuple[float, float]:
        x, y = point
        return WIDE / 2 + (-y - middle[0]) * scale, HIGH / 2 - (x - middle[1]) * scale

    front = scenario.movers[one.of].body.front_m
    parts = [
        _polygon([put(p) for p in of], "of"),
        _polygon([put(p) for p in other], "with"),
        _axis(put((front + 2 * high, 0.0)), put((front - 2 * high, 0.0))),
        *_names([put(p) for p in of], one.of, [put(p) for p in other], one.with_),
    ]
    if touch is not None:
        parts.append(_tolerated(one, touch, put))
        parts.append(_target(put(touch)))
    leads = scenario.movers[one.of].body.leads
    label = f"Sketch of {name} from above, {leads} of {one.of} upwards"
    return (
        f'<svg class="sketch" viewBox="0 0 {WIDE:.0f} {HIGH:.0f}" role="img" '
        f'aria-label="{text(label)}">{"".join(parts)}{scale_bar(BAR / scale, scale, HIGH)}</svg>'
    )


def _in_frame(
    scenario: Scenario, paths: dict[str, Path], one: EncounterPlan
) -> tuple[Points, Points]:
    of = [(float(x), float(y)) for x, y in scenario.movers[one.of].body.corners_m]
    pose = paths[one.with_].pose(np.array([one.station_with_m]))
    corners = body_corners(scenario.movers[one.with_].body.corners_m, pose)[0]
    return of, _to_frame(paths, one, corners)


def _to_frame(paths: dict[str, Path], one: EncounterPlan, points: np.ndarray) -> Points:
    """Site points, shape (n, 2) in m, in the body frame of the encounter's first mover."""
    pose = paths[one.of].pose(np.array([one.station_of_m]))
    dx, dy = points[:, 0] - pose.x_m[0], points[:, 1] - pose.y_m[0]
    cos, sin = math.cos(pose.heading_rad[0]), math.sin(pose.heading_rad[0])
    return [
        (float(x * cos + y * sin), float(y * cos - x * sin)) for x, y in zip(dx, dy, strict=True)
    ]


def _touch(scenario: Scenario, one: EncounterPlan, other: Points) -> tuple[float, float] | None:
    """The wanted impact point in the first body's frame: on its front, or on the flank that is met; None: no impact."""
    body, wanted_m = scenario.movers[one.of].body, one.wanted[0]
    match one.measure:
        case "overlap":
            return body.front_m, wanted_m
        case "side":
            left = sum(y for _, y in other) > 0
            return wanted_m - body.rear_m, body.width_m / 2 * (1 if left else -1)
        case "distance" | "time gap" | "time to collision" | "time":
            return None
        case _:
            assert_never(one.measure)


def _tolerated(
    one: EncounterPlan,
    touch: tuple[float, float],
    put: Callable[[tuple[float, float]], tuple[float, float]],
) -> str:
    """The stretch of the met face on which the impact is tolerated: a thick line along it."""
    (x, y), tolerance = touch, one.tolerance
    along = (tolerance, 0.0) if one.measure == "side" else (0.0, tolerance)
    a, b = put((x - along[0], y - along[1])), put((x + along[0], y + along[1]))
    return f'<path class="tolerated" d="M{a[0]:.1f} {a[1]:.1f}L{b[0]:.1f} {b[1]:.1f}"/>'


def _polygon(points: Points, kind: str) -> str:
    listed = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    return f'<polygon class="{kind}" points="{listed}"/>'


def _axis(ahead: tuple[float, float], behind: tuple[float, float]) -> str:
    return (
        f'<line class="axis" x1="{ahead[0]:.1f}" y1="{max(ahead[1], 0):.1f}" '
        f'x2="{behind[0]:.1f}" y2="{min(behind[1], HIGH):.1f}"/>'
    )


def _target(at: tuple[float, float]) -> str:
    x, y = at
    return (
        f'<g class="target"><circle cx="{x:.1f}" cy="{y:.1f}" r="6"/>'
        f'<line x1="{x - 10:.1f}" x2="{x + 10:.1f}" y1="{y:.1f}" y2="{y:.1f}"/>'
        f'<line x1="{x:.1f}" x2="{x:.1f}" y1="{y - 10:.1f}" y2="{y + 10:.1f}"/></g>'
    )


def _names(of: Points, of_name: str, other: Points, other_name: str) -> list[str]:
    """Names to the right of their bodies; one above the other where they would meet."""
    heights = [sum(y for _, y in points) / len(points) for points in (of, other)]
    if abs(heights[0] - heights[1]) < LINE:
        heights[1] = heights[0] - LINE
    return [
        _name(max(x for x, _ in points) + 5, height + 4, name)
        for points, height, name in ((of, heights[0], of_name), (other, heights[1], other_name))
    ]


def _name(x: float, y: float, name: str) -> str:
    shown = name if len(name) <= LONGEST else f"{name[: LONGEST - 1]}\u2026"
    at = min(x, WIDE - 5.6 * len(shown) - 3)
    return f'<text x="{at:.1f}" y="{y:.1f}">{text(shown)}</text>'


def scale_bar(most_m: float, scale: float, high: float, left: float = 8.0) -> str:
    """Draw the longest round length up to most_m at the foot of a drawing; scale: px per m; high, left: px."""
    step = 10.0 ** math.floor(math.log10(most_m))
    length = max(m * step for m in (1.0, 2.0, 5.0) if m * step <= most_m)
    right, y = left + length * scale, high - 6
    return (
        f'<path class="scale" d="M{left:g} {y - 5:.1f}V{y:.1f}H{right:.1f}V{y - 5:.1f}"/>'
        f'<text class="scale-text" x="{right + 5:.1f}" y="{y:.1f}">{length:g} m</text>'
    )
