"""Limits on the ground: what it leaves of each mover's along its path, and the scenario with those limits.

The worst surface anywhere near the path counts everywhere on it. That is on the safe side for a plan; a proof
that there is none must not lean on it, unless the surface is the same all along.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache

import numpy as np

from choreo.geometry import Path, motion_headings
from choreo.ground import Ground
from choreo.ground.stop import LEAST_BRAKE_MPS2, Stop, stop_of
from choreo.ground.surface import LEVEL, Surface
from choreo.ground.under import surface_under
from choreo.plans.room_record import SurfaceUse
from choreo.scenario import Limits, Scenario
from choreo.scenario.records.edits import with_limits
from choreo.words import ChoreoError, Finding
from choreo.words.records import dataclass

# Ground is looked up at every metre of a path. Between two of them nothing is missed: the reach grows by the step.
PATH_STEP_M = 1.0
# ... and at no more than this many places, so that a path of some 20 km and more takes no longer.
MOST_POINTS = 20_000
# Less than this, in m/s2, is rounding.
LEAST_TAKEN = 1e-9
# What so many paths lie on is remembered.
MOST_KEPT = 32


@dataclass(frozen=True, slots=True)
class GroundLimits:
    """The limits that a scenario's ground leaves of its own, as the scenario that has them.

    surfaces, stops: by mover that moves; the worst surface near its path, and its stop by failsafe there. lowered: some
    limit is lower than written. alike: every limit that was lowered belongs to a surface that is the same all along the
    path, so that proofs hold with it.
    """

    scenario: Scenario
    surfaces: Mapping[str, Surface]
    stops: Mapping[str, Stop]
    alike: bool
    lowered: bool


def limits_on_ground(
    scenario: Scenario, paths: Mapping[str, Path], ground: Ground | None
) -> GroundLimits:
    """Lower every mover's limits to what the ground under its path leaves; warnings go into the notes.

    paths: by mover. Raises ChoreoError: space.too-slippery, space.rate-over-surface.
    """
    found = {}
    for name, mover in scenario.movers.items():
        if mover.programme:
            even = (LEVEL, True)
            reach = max(float(np.hypot(x, y)) for x, y in mover.body.corners_m)
            found[name] = even if ground is None else _under(reach, paths[name], ground)
    return _lowered(scenario, paths, found)


def limits_on_surface(
    scenario: Scenario, paths: Mapping[str, Path], surface: Surface
) -> GroundLimits:
    """Lower every mover's limits to what one surface, the same everywhere, leaves.

    paths: by mover. Raises ChoreoError: space.too-slippery, space.rate-over-surface.
    """
    moving = [name for name, mover in scenario.movers.items() if mover.programme]
    return _lowered(scenario, paths, dict.fromkeys(moving, (surface, False)))


def _lowered(
    scenario: Scenario, paths: Mapping[str, Path], found: Mapping[str, tuple[Surface, bool]]
) -> GroundLimits:
    limited = scenario
    stops: dict[str, Stop] = {}
    notes: list[Finding] = []
    faults: list[Finding] = []
    kept: list[str] = []
    alike, lowered = True, False
    for name, (surface, even) in found.items():
        mover = scenario.movers[name]
        stops[name] = stop_of(mover.limits, surface)
        limits, taken = limits_on(mover.limits, surface, bends=_bends(paths[name]))
        faults += _too_much(scenario, name, limits, stops[name], surface)
        if not taken:
            continue
        lowered, alike = True, alike and even
        limited = with_limits(limited, name, limits)
        # A table of accelerations is nothing that a repair changes.
        table = len(mover.limits.accelerate) > 1
        kept += [f"{name} {what}" for what in taken if not (table and what == "acceleration")]
        values = {
            "mover": name,
            "taken": "; ".join(taken.values()),
            "surface": surface_words(surface),
        }
        place = scenario.origin("movers", name, "limits")
        notes.append(Finding("space.surface", "warning", place, values))
    if faults:
        raise ChoreoError(tuple(faults))
    surfaces = {name: surface for name, (surface, _) in found.items()}
    if not lowered:
        return GroundLimits(scenario, surfaces, stops, True, False)
    # What the ground takes can't be given back by writing another limit.
    limited = replace(limited, notes=(*scenario.notes, *notes), keep=(*scenario.keep, *kept))
    return GroundLimits(limited, surfaces, stops, alike, True)


def limits_on(
    limits: Limits, surface: Surface, *, bends: bool = True
) -> tuple[Limits, dict[str, str]]:
    """Give what a surface leaves of limits, and which limits it lowers, with words for each.

    bends: the path has curvature; on a straight one cornering is left as it is.
    """
    # Between the rows of a table the lesser of two straight lines lies above the straight line between
    # the lesser ends: lowering the rows is on the safe side.
    table = tuple((speed, surface.accelerating(most)) for speed, most in limits.accelerate)
    brake = surface.braking(limits.brake_mps2)
    lateral = surface.cornering(limits.lateral_mps2) if bends else limits.lateral_mps2
    taken = {}
    if any(
        old - new > LEAST_TAKEN for (_, new), (_, old) in zip(table, limits.accelerate, strict=True)
    ):
        was, now = (max(most for _, most in rows) for rows in (limits.accelerate, table))
        taken["acceleration"] = f"accelerates with {now:.2f} instead of {was:.2f} m/s2"
    if limits.brake_mps2 - brake > LEAST_TAKEN:
        taken["braking"] = f"brakes with {brake:.2f} instead of {limits.brake_mps2:.2f} m/s2"
    if limits.lateral_mps2 - lateral > LEAST_TAKEN:
        had = math.isfinite(limits.lateral_mps2)
        instead = f" instead of {limits.lateral_mps2:.2f}" if had else ""
        taken["lateral acceleration"] = f"corners with {lateral:.2f}{instead} m/s2"
    new = replace(limits, accelerate=table, brake_mps2=brake, lateral_mps2=lateral)
    return (new, taken) if taken else (limits, {})


def _bends(path: Path) -> bool:
    return any(k_0 != 0.0 or k_1 != 0.0 for _, _, k_0, k_1 in path.stretches())


def surface_use(limits: Limits, written: Limits, surface: Surface) -> SurfaceUse:
    """Give a surface and the limits on it as plain data; limits: on it, written: of the file."""
    most, was = (max(value for _, value in one.accelerate) for one in (limits, written))
    return SurfaceUse(
        friction=surface.friction,
        uphill_ratio=surface.uphill_ratio,
        downhill_ratio=surface.downhill_ratio,
        accelerate_mps2=most if most < was else None,
        brake_mps2=limits.brake_mps2 if limits.brake_mps2 < written.brake_mps2 else None,
        lateral_mps2=limits.lateral_mps2 if limits.lateral_mps2 < written.lateral_mps2 else None,
    )


def surface_words(surface: Surface) -> str:
    """Give a surface in words: friction, steepest rise and fall."""
    parts = [] if surface.friction is None else [f"friction {surface.friction:g}"]
    if surface.uphill_ratio > 0:
        parts.append(f"rises up to {100 * surface.uphill_ratio:.2g} %")
    if surface.downhill_ratio > 0:
        parts.append(f"falls up to {100 * surface.downhill_ratio:.2g} %")
    if surface.side_ratio > 0:
        parts.append(f"up to {100 * surface.side_ratio:.2g} % across")
    return ", ".join(parts) or "level, friction not given"


@lru_cache(maxsize=MOST_KEPT)
def _under(reach: float, path: Path, ground: Ground) -> tuple[Surface, bool]:
    """The worst surface under a body that reaches so far (m) from its path; neighbours have the very same path."""
    count = min(max(int(path.length_m / PATH_STEP_M) + 1, 2), MOST_POINTS)
    stations = np.linspace(0.0, path.length_m, count)
    poses, headings = path.pose(stations), motion_headings(path, stations)
    step = path.length_m / (count - 1)
    return surface_under(ground, poses.x_m, poses.y_m, headings, reach + step)


def _too_much(
    scenario: Scenario, name: str, limits: Limits, stop: Stop, surface: Surface
) -> list[Finding]:
    """Faults of a mover that can't move, stop or stand, or not as its programme says, on a surface."""
    place = scenario.origin("movers", name, "limits")
    slips = surface.friction is not None and _slides(surface, surface.friction)
    accelerates = min(value for _, value in limits.accelerate)
    least = min(accelerates, limits.brake_mps2, limits.lateral_mps2)
    stopless = stop.brake_mps2 <= LEAST_BRAKE_MPS2
    if least <= 0.0 or slips or stopless:
        what = "stop by failsafe" if stopless else "accelerate, brake or corner"
        values = {"mover": name, "surface": surface_words(surface), "what": what}
        return [Finding("space.too-slippery", "error", place, values)]
    found = []
    for index, phase in enumerate(scenario.movers[name].programme):
        most = max(value for _, value in limits.accelerate)
        for what, rate, limit in (
            ("accelerate", phase.accelerate_mps2, most),
            ("brake", phase.brake_mps2, limits.brake_mps2),
        ):
            if rate is None or rate <= limit + LEAST_TAKEN or phase.implied:
                continue
            values = {
                "mover": name,
                "phase": phase.name,
                "what": what,
                "rate": f"{rate:g}",
                "limit": f"{math.floor(limit * 100) / 100:.2f}",
                "surface": surface_words(surface),
            }
            where = scenario.origin("movers", name, "programme", index, what)
            found.append(Finding("space.rate-over-surface", "error", where, values))
    return found


def _slides(surface: Surface, friction: float) -> bool:
    """Whether what stands slides down the steepest slope."""
    steepest = max(surface.uphill_ratio, surface.downhill_ratio, surface.side_ratio)
    return friction <= steepest
