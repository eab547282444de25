"""What geometry allows but a mover on a track may not manage: jumps of curvature, rough surveys."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from itertools import groupby, pairwise
from operator import itemgetter

import numpy as np

from choreo.courses import COURSES, banking
from choreo.geometry import Path, banks_of
from choreo.geometry.banks import Bank
from choreo.problem.records import MoverProblem, Ramp
from choreo.scenario import Scenario
from choreo.words import Finding
from choreo.words.display import kmh
from choreo.words.tolerances import (
    CURVATURE_JUMP_PER_M,
    ROUGH_RADIUS_M,
    ROUGH_RATIO,
    ROUGH_WINDOW_M,
)

# Stations that differ by less than this (m) are the same.
SAME_M = 1e-6
# Speeds less than so many times apart are told once.
SAME_RATIO = 1.001
# So many places of jumps of curvature are told besides the largest one's.
JUMPS_TOLD = 5

Stretches = tuple[tuple[float, float, float, float], ...]


def path_notes(
    scenario: Scenario, paths: Mapping[str, Path], movers: tuple[MoverProblem, ...]
) -> list[Finding]:
    """Look over each path that something moves on, once a path: jumps of curvature, rough surveys."""
    findings: list[Finding] = []
    noted: set[str] = set()
    for mover in movers:
        spec = scenario.movers[mover.name]
        if spec.path is None or not spec.programme or spec.path in noted:
            continue
        path = paths[mover.name]
        if _is_surveyed(scenario, spec.path):
            finding = _rough(scenario, spec.path, path.stretches(), mover)
        elif math.isfinite(spec.limits.jerk_mps3):
            finding = _jump(scenario, spec.path, path.stretches(), mover)
        else:
            finding = None
        if finding is not None:
            noted.add(spec.path)
            findings.append(finding)
    return findings


def bank_notes(
    scenario: Scenario, paths: Mapping[str, Path], movers: tuple[MoverProblem, ...]
) -> list[Finding]:
    """Tell the neutral speed of each banked piece that something drives, and between which speeds it holds there."""
    found = []
    for mover in movers:
        spec, path = scenario.movers[mover.name], paths[mover.name]
        told: set[tuple[float, float]] = set()
        for start, end, bank in _joined_banks(path) if spec.programme else ():
            bends = [(k0, k1) for a, b, k0, k1 in path.stretches() if a < end and b > start]
            # Where curvature and bank grow, what is told is the curve behind.
            if all(k0 != k1 for k0, k1 in bends):
                continue
            radius = 1.0 / max(abs(k) for both in bends for k in both)
            # Laps are alike.
            if (round(end - start, 3), bank) in told:
                continue
            told.add((round(end - start, 3), bank))
            values = {
                "path": spec.path or "",
                "place": _place(path, start, end),
                "bank": f"{math.degrees(bank):g} deg",
                "radius": f"{radius:.2f} m",
                "what": _speeds_on(mover, radius, bank),
            }
            origin = scenario.origin("paths", spec.path or "")
            found.append(Finding("problem.bank", "note", origin, values, ()))
    return found


def _place(path: Path, start_m: float, end_m: float) -> str:
    """From where to where, as stations and in the site frame."""
    ends = path.pose(np.array([start_m, end_m]))
    (x0, x1), (y0, y1) = ends.x_m.tolist(), ends.y_m.tolist()
    return (
        f"{start_m:.1f} m to {end_m:.1f} m ([{x0:.1f} m, {y0:.1f} m] to [{x1:.1f} m, {y1:.1f} m])"
    )


def _joined_banks(path: Path) -> Iterator[Bank]:
    """Banked stretches, neighbours of one bank as one."""
    for bank, run in groupby(banks_of(path), key=itemgetter(2)):
        start, end = math.nan, math.nan
        for first, last, _ in run:
            if abs(first - end) < SAME_M:
                end = last
                continue
            if not math.isnan(start):
                yield start, end, bank
            start, end = first, last
        yield start, end, bank


def _speeds_on(mover: MoverProblem, radius_m: float, bank_rad: float) -> str:
    neutral = banking.neutral_mps(radius_m, bank_rad)
    words = [f"at {kmh(neutral)} nothing pulls sideways" if neutral else "it falls to the outside"]
    if math.isfinite(mover.lateral_mps2):
        friction = mover.lateral_mps2 / banking.GRAVITY_MPS2
        highest = banking.highest_mps(radius_m, bank_rad, friction)
        lowest = banking.lowest_mps(radius_m, bank_rad, friction)
        holds = "any speed" if math.isinf(highest) else f"up to {kmh(highest)}"
        words.append(f"the {mover.lateral_mps2:.2f} m/s2 of {mover.name} hold {holds}")
        if lowest > 0.0:
            most = max((max(one.least_mps) for one in mover.steeps), default=lowest)
            where = (
                f" ({kmh(most)} where bank and curve grow)" if most > lowest * SAME_RATIO else ""
            )
            words.append(f"below {kmh(lowest)}{where} it slides down")
    return ", ".join(words)


def _is_surveyed(scenario: Scenario, name: str) -> bool:
    """A path through points, or beside one."""
    beside = scenario.paths[name].beside
    while beside is not None:
        name = beside
        beside = scenario.paths[name].beside
    return bool(scenario.paths[name].points_m)


def _fastest_mps(mover: MoverProblem) -> float:
    """The fastest that the programme asks for, not what it leaves open."""
    ends = [phase.to.lo for phase in mover.phases if isinstance(phase, Ramp)]
    return max([mover.start_speed_mps, *ends])


def _jump(
    scenario: Scenario, name: str, stretches: Stretches, mover: MoverProblem
) -> Finding | None:
    """The jumps that the mover may pass: the largest one, and where the others are."""
    jumps = [
        (end, before, after)
        for (_, end, _, before), (_, _, after, _) in pairwise(stretches)
        if end > mover.start.lo and abs(after - before) > CURVATURE_JUMP_PER_M
    ]
    if not jumps:
        return None
    station_m, before, after = max(jumps, key=lambda jump: abs(jump[2] - jump[1]))
    others = [f"{end:.3f}" for end, _, _ in jumps if end != station_m]
    more = f" and {len(others) - JUMPS_TOLD} more" if len(others) > JUMPS_TOLD else ""
    values = {
        "path": name,
        "before": _curvature(before),
        "after": _curvature(after),
        "station": f"{station_m:.3f} m",
        "others": f", and again at {', '.join(others[:JUMPS_TOLD])} m{more}" if others else "",
        "instead": _instead(scenario, name),
    }
    origin = scenario.origin("paths", name)
    return Finding("problem.curvature-jump", "note", origin, values, ())


def _instead(scenario: Scenario, name: str) -> str:
    """What can be written against a jump: a course has its own figures, and some have clothoids."""
    course = scenario.paths[name].course
    if course is None:
        return "Use a `bend` with clothoids there, or a `clothoid` between the two."
    if COURSES[course.name][0].takes("clothoid"):
        return "Write a longer `clothoid`."
    return f"That is how {course.name} is laid out: look at how well your driving robot follows it there."


def _curvature(curvature_per_m: float) -> str:
    """1/50 m to the left and -1/50 m to the right, 0 when straight."""
    if abs(curvature_per_m) < CURVATURE_JUMP_PER_M / 10:
        return "0"
    sign = "-" if curvature_per_m < 0 else ""
    return f"{sign}1/{abs(1 / curvature_per_m):.3g} m"


def _rough(
    scenario: Scenario, name: str, stretches: Stretches, mover: MoverProblem
) -> Finding | None:
    """The tightest place, if no road is so tight, or if it is a kink that the mover is too fast for."""
    size = np.abs(np.array(stretches)[:, 2:]).max(axis=1)
    index = int(size.argmax())
    tight = float(size[index])
    station_m = (stretches[index][0] + stretches[index][1]) / 2
    too_fast = tight * _fastest_mps(mover) ** 2 > mover.lateral_mps2
    kink = tight > ROUGH_RATIO * abs(_mean_per_m(stretches, station_m))
    walks = scenario.movers[mover.name].kind == "pedestrian"
    if (walks or tight * ROUGH_RADIUS_M <= 1) and not (too_fast and kink):
        return None
    values = {"path": name, "radius": f"{1 / tight:.3g} m", "station": f"{station_m:.1f} m"}
    origin = scenario.origin("paths", name)
    return Finding("problem.rough-survey", "warning", origin, values, ())


def _mean_per_m(stretches: Stretches, station_m: float) -> float:
    """The curvature that is left when it is averaged over a window: what the road does, not its points."""
    low, high = station_m - ROUGH_WINDOW_M / 2, station_m + ROUGH_WINDOW_M / 2
    start, end, k0, k1 = np.array(stretches).T
    parts = np.maximum(np.minimum(end, high) - np.maximum(start, low), 0.0)
    length_m = float(parts.sum())
    return float(parts @ (k0 + k1)) / 2 / length_m if length_m > 0 else 0.0
