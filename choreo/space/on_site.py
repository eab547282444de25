"""What the ground under a mover's path leaves of its limits: the scenario as its site lets it be driven.

The worst surface anywhere near the path counts everywhere on it. That is on the safe side for a plan; a proof
that there is none must not lean on it, unless the surface is the same all along.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from choreo.geometry import Path
from choreo.ground import Ground
from choreo.ground.surface import LEVEL, Surface
from choreo.ground.under import surface_under
from choreo.plan.space_record import SurfaceUse
from choreo.scenario import Limits, Mover, Scenario
from choreo.words import ChoreoError, Finding

PATH_STEP_M = 1.0
MOST_POINTS = 20_000


@dataclass(frozen=True, slots=True)
class OnSite:
    """A scenario with the limits that its ground leaves.

    surfaces: by mover that moves. alike: every limit that was lowered belongs to a surface that is the same all
    along the path, so that proofs hold with it.
    """

    scenario: Scenario
    surfaces: Mapping[str, Surface]
    alike: bool
    lowered: bool


def on_site(scenario: Scenario, paths: Mapping[str, Path], ground: Ground | None) -> OnSite:
    """Lower every mover's limits to what the ground under its path leaves; warnings go into the notes.

    paths: by mover. Raises ChoreoError: space.too-slippery, space.rate-over-surface.
    """
    movers: dict[str, Mover] = {}
    surfaces: dict[str, Surface] = {}
    notes: list[Finding] = []
    faults: list[Finding] = []
    alike, lowered = True, False
    for name, mover in scenario.movers.items():
        surface, even = LEVEL, True
        if ground is not None and mover.programme:
            surface, even = _under(mover, paths[name], ground)
        if mover.programme:
            surfaces[name] = surface
        limits, taken = limits_on(mover.limits, surface)
        if not taken:
            movers[name] = mover
            continue
        lowered, alike = True, alike and even
        faults += _too_much(scenario, name, mover, limits, surface)
        movers[name] = replace(mover, limits=limits)
        values = {"mover": name, "taken": "; ".join(taken), "surface": surface_words(surface)}
        place = scenario.origin("movers", name, "limits")
        notes.append(Finding("space.surface", "warning", place, values))
    if faults:
        raise ChoreoError(tuple(faults))
    if not lowered:
        return OnSite(scenario, surfaces, True, False)
    staged = replace(scenario, movers=movers, notes=(*scenario.notes, *notes))
    return OnSite(staged, surfaces, alike, True)


def on_surface(scenario: Scenario, surface: Surface) -> OnSite:
    """Lower every mover's limits to what one surface, the same everywhere, leaves.

    Raises ChoreoError: space.too-slippery, space.rate-over-surface.
    """
    movers: dict[str, Mover] = {}
    faults: list[Finding] = []
    for name, mover in scenario.movers.items():
        limits, taken = limits_on(mover.limits, surface)
        if taken and mover.programme:
            faults += _too_much(scenario, name, mover, limits, surface)
        movers[name] = replace(mover, limits=limits) if mover.programme else mover
    if faults:
        raise ChoreoError(tuple(faults))
    surfaces = {name: surface for name, mover in scenario.movers.items() if mover.programme}
    return OnSite(replace(scenario, movers=movers), surfaces, False, surface != LEVEL)


def limits_on(limits: Limits, surface: Surface) -> tuple[Limits, list[str]]:
    """Give what a surface leaves of limits, and which limits it lowers, in words."""
    # Between the rows of a table the lesser of two straight lines lies above the straight line between
    # the lesser ends: lowering the rows is on the safe side.
    table = tuple((speed, surface.accelerating(most)) for speed, most in limits.accelerate)
    brake, lateral = surface.braking(limits.brake_mps2), surface.cornering(limits.lateral_mps2)
    taken = []
    if any(new < old for (_, new), (_, old) in zip(table, limits.accelerate, strict=True)):
        was, now = (max(most for _, most in rows) for rows in (limits.accelerate, table))
        taken.append(f"accelerates with {now:.2f} instead of {was:.2f} m/s2")
    if brake < limits.brake_mps2:
        taken.append(f"brakes with {brake:.2f} instead of {limits.brake_mps2:.2f} m/s2")
    if lateral < limits.lateral_mps2 and math.isfinite(limits.lateral_mps2):
        taken.append(f"corners with {lateral:.2f} instead of {limits.lateral_mps2:.2f} m/s2")
    new = replace(limits, accelerate=table, brake_mps2=brake, lateral_mps2=lateral)
    return new, taken


def surface_use(limits: Limits, written: Limits, surface: Surface) -> SurfaceUse:
    """Tell a surface and the limits on it as plain data; limits: on it, written: of the file."""
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
    """Tell a surface in words: friction, steepest rise and fall."""
    parts = [] if surface.friction is None else [f"friction {surface.friction:g}"]
    if surface.uphill_ratio > 0:
        parts.append(f"rises up to {100 * surface.uphill_ratio:.2g} %")
    if surface.downhill_ratio > 0:
        parts.append(f"falls up to {100 * surface.downhill_ratio:.2g} %")
    return ", ".join(parts) or "level, friction not given"


def _under(mover: Mover, path: Path, ground: Ground) -> tuple[Surface, bool]:
    count = min(max(int(path.length_m / PATH_STEP_M) + 1, 2), MOST_POINTS)
    poses = path.pose(np.linspace(0.0, path.length_m, count))
    reach = max(float(np.hypot(x, y)) for x, y in mover.body.corners_m)
    step = path.length_m / (count - 1)
    return surface_under(ground, poses.x_m, poses.y_m, poses.heading_rad, reach + step)


def _too_much(
    scenario: Scenario, name: str, mover: Mover, limits: Limits, surface: Surface
) -> list[Finding]:
    """Faults of a mover that can't move, or not as its programme says, on a surface."""
    place = scenario.origin("movers", name, "limits")
    least = min(min(value for _, value in limits.accelerate), limits.brake_mps2)
    if least <= 0.0:
        values = {"mover": name, "surface": surface_words(surface)}
        return [Finding("space.too-slippery", "error", place, values)]
    found = []
    for index, phase in enumerate(mover.programme):
        most = max(value for _, value in limits.accelerate)
        for what, rate, limit in (
            ("accelerate", phase.accelerate_mps2, most),
            ("brake", phase.brake_mps2, limits.brake_mps2),
        ):
            if rate is None or rate <= limit or phase.implied:
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
