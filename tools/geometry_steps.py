"""What the steps and counts of the geometry's searches decide: every one halved and doubled, and the answers compared.

    python tools/geometry_steps.py [NAME ...]

Meetings, conflict zones and crossings are looked for on random pairs of paths (lines and bends, in all directions) with
the usual steps, then with each step or count changed alone. A line says how many contacts, zones and crossings came
or went, how far the others moved in metres, how far the nearest overlaps moved (which only advise), and how the time
changed.
"""

from __future__ import annotations

import importlib
import math
import random
import sys
import time
from collections.abc import Iterator
from types import SimpleNamespace

import numpy as np

from choreo.geometry import (
    CurvePath,
    MeetingPoint,
    conflict_zone,
    crossing_point,
    find_contact,
    nearest_overlap,
)

PAIRS = 60
STEPS = {
    "crossing": ("STEP_M", "MOST_SAMPLES", "ITERATIONS", "MOST_SEEDS"),
    "nearest": ("STEP_M", "ITERATIONS", "LEAST_STRETCH"),
    "meeting_sweep": (
        "LOOK_M",
        "MOST_LOOKS",
        "ROWS",
        "LEAST_ROW_M",
        "MOST_ROW_M",
        "FINE_ROW_M",
        "COLUMN_M",
        "ITERATIONS",
        "BRACKETINGS",
        "LONGEST_STEP_M",
        "LINK_RATIO",
        "LINK_M",
    ),
    "meeting_choose": (
        "NEWTON_STEPS",
        "SECTIONS",
        "LEVELS",
        "END_LEVELS",
        "BISECTIONS",
        "LEAST_NEARLY_M",
    ),
    "zone": (
        "STEP_M",
        "MOST_SAMPLES",
        "SECTIONS",
        "COARSE",
        "GRAZE_SAMPLES",
        "LEVELS",
        "ITERATIONS",
    ),
}


def body(length_m: float, width_m: float, front_m: float) -> SimpleNamespace:
    """A rectangle round its reference point."""
    rear_m, half = length_m - front_m, width_m / 2
    corners = ((front_m, half), (-rear_m, half), (-rear_m, -half), (front_m, -half))
    return SimpleNamespace(corners_m=corners, front_m=front_m, rear_m=rear_m)


BODIES = (body(4.3, 1.8, 3.4), body(0.6, 0.5, 0.3), body(1.9, 0.6, 0.9), body(12.0, 2.5, 9.0))


def path(rng: random.Random) -> CurvePath:
    """A line, a bend with clothoids, a line: through about the middle of the ground."""
    curvature, turn = rng.uniform(-0.08, 0.08), rng.uniform(0.2, 1.6)
    arc_m, spiral_m = turn / max(abs(curvature), 0.01), rng.uniform(5.0, 15.0)
    before_m = rng.uniform(20.0, 80.0)
    heading = rng.uniform(-math.pi, math.pi)
    x = rng.uniform(-8.0, 8.0) - before_m * math.cos(heading)
    y = rng.uniform(-8.0, 8.0) - before_m * math.sin(heading)
    stretches = [
        (before_m, 0.0, 0.0),
        (spiral_m, 0.0, curvature),
        (arc_m, curvature, curvature),
        (spiral_m, curvature, 0.0),
        (rng.uniform(20.0, 80.0), 0.0, 0.0),
    ]
    return CurvePath(stretches, (x, y), heading)


Answer = tuple[str, list[float]]


def answers() -> Iterator[Answer]:
    """What is found for every pair: the question, and the stations in m; none where there is no answer."""
    rng = random.Random(20)
    for _ in range(PAIRS):
        a, b = path(rng), path(rng)
        body_a, body_b = BODIES[0], rng.choice(BODIES)
        face = rng.choice(("front", "side"))
        impact_m = rng.uniform(-0.8, 0.8) if face == "front" else rng.uniform(0.2, 4.1)
        found = find_contact(a, body_a, b, body_b, face=face, impact_m=impact_m)
        points = [one for one in found if isinstance(one, MeetingPoint)]
        stations = [one for point in points for one in (point.station_a_m, point.station_b_m)]
        yield "contact", stations
        near = nearest_overlap(a, body_a, b, body_b, face=face, impact_m=impact_m)
        yield "overlap", [] if near is None else [near.impact_m]
        yield "zone", list(conflict_zone(a, body_a, b, body_b) or ())
        yield "crossing", list(crossing_point(a, b) or ())
        yield "foot", [b.nearest(rng.uniform(-40.0, 40.0), rng.uniform(-40.0, 40.0))]


def timed() -> tuple[list[Answer], float]:
    """All answers, and the seconds that they took."""
    start = time.perf_counter()
    found = list(answers())
    return found, time.perf_counter() - start


def main(wanted: list[str]) -> None:
    """Print the table."""
    usual, usual_s = timed()
    answered = sum(bool(found) for _, found in usual)
    print(f"{answered} of {len(usual)} questions have an answer; {usual_s:.1f} s")
    for name, constants in STEPS.items():
        module = importlib.import_module(f"choreo.geometry.{name}")
        for constant in constants:
            if wanted and name not in wanted and constant not in wanted:
                continue
            value = getattr(module, constant)
            for factor in (0.5, 2.0):
                setattr(module, constant, type(value)(value * factor))
                found, took_s = timed()
                setattr(module, constant, value)
                print(
                    f"{name}.{constant} {value:g} x {factor:g}: {compared(usual, found)}, "
                    f"time x {took_s / usual_s:.2f}",
                    flush=True,
                )


def compared(usual: list[Answer], found: list[Answer]) -> str:
    """How two sets of answers differ, in words."""
    moved = {"overlap": 0.0, "other": 0.0}
    came = went = 0
    for (question, before), (_, after) in zip(usual, found, strict=True):
        came += len(after) > len(before)
        went += len(after) < len(before)
        if before and len(after) == len(before):
            which = "overlap" if question == "overlap" else "other"
            moved[which] = max(moved[which], float(abs(np.subtract(before, after)).max()))
    return (
        f"{came} came, {went} went, others moved {moved['other']:.1e} m, "
        f"nearest overlaps {moved['overlap']:.1e} m"
    )


if __name__ == "__main__":
    main(sys.argv[1:])
