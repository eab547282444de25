"""Rates of ramps and lengths of holds that nobody wrote, as quantities that a plan may be sought over."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

from choreo.case.choices import Open
from choreo.plans.record import Piece, Plan
from choreo.scenario import Mover, Phase, Scenario, Span
from choreo.scenario.records.edits import with_phase

# Gentler than this share of what the limits allow no ramp is driven that anybody stages.
GENTLEST = 0.2
# What changes a speed by less than this (m/s) is no ramp.
NO_RAMP_MPS = 1e-6


def unwritten(scenario: Scenario, plan: Plan) -> Iterator[Open]:
    """Give them by mover, of phases that begin before the last encounter of a feasible plan; later ones move none."""
    last_s = max((one.time_s for one in plan.encounters.values()), default=0.0)
    for name, mover in scenario.movers.items():
        for index, phase in enumerate(mover.programme):
            pieces = _pieces(plan, name, index)
            if phase.driven or phase.follows or not pieces or pieces[0].start_s >= last_s:
                continue
            if phase.kind == "ramp" and not _rated(phase):
                yield from _rate(name, mover, index, phase, pieces)
            if phase.kind == "hold" and _any_length(phase):
                yield _length(name, index, phase)


def _rated(phase: Phase) -> bool:
    """Whether something says how quickly a ramp goes."""
    stated = phase.accelerate_mps2, phase.brake_mps2, phase.within_m, phase.over_m, phase.lasting_s
    return any(one is not None for one in stated)


def _any_length(hold: Phase) -> bool:
    """Whether nothing says how long a hold lasts."""
    stated = hold.for_s, hold.for_m, hold.until, hold.for_trigger, hold.until_lateral_mps2
    return all(one is None for one in stated)


def _pieces(plan: Plan, mover: str, index: int) -> list[Piece]:
    return [one for one in plan.movers[mover].pieces if one.phase_index == index]


def _rate(name: str, mover: Mover, index: int, phase: Phase, pieces: list[Piece]) -> Iterator[Open]:
    """A ramp's rate, between a gentle one and the limit, or as its author says."""
    gained_mps = sum((p.accel_mps2 + p.jerk_mps3 * p.duration_s / 2) * p.duration_s for p in pieces)
    if abs(gained_mps) < NO_RAMP_MPS:
        return
    up = gained_mps > 0.0
    limit = max(rate for _, rate in mover.limits.accelerate) if up else mover.limits.brake_mps2
    asked = (phase.accelerate if up else phase.brake) or Span(0.0, math.inf)
    key = "accelerate" if up else "brake"

    def put(scenario: Scenario, value: float) -> Scenario:
        old = scenario.movers[name].programme[index]
        faster = replace(old, accelerate_mps2=value, accelerate=None)
        slower = replace(old, brake_mps2=value, brake=None)
        return with_phase(scenario, name, index, faster if up else slower)

    def chosen(plan: Plan) -> float:
        found = _pieces(plan, name, index)
        return max(
            max(abs(p.accel_mps2), abs(p.accel_mps2 + p.jerk_mps3 * p.duration_s)) for p in found
        )

    span = Span(max(asked.lo, GENTLEST * limit), min(asked.hi, limit))
    if span.lo < span.hi:
        keys = ("movers", name, "programme", index, "ramp", key)
        yield Open(f"{name} {phase.name} {key}", "m/s2", span, put, chosen, keys)


def _length(name: str, index: int, phase: Phase) -> Open:
    """How long a hold lasts: at least as long as it settles."""

    def put(scenario: Scenario, value: float) -> Scenario:
        old = scenario.movers[name].programme[index]
        return with_phase(scenario, name, index, replace(old, for_s=value))

    def chosen(plan: Plan) -> float:
        return sum(one.duration_s for one in _pieces(plan, name, index))

    keys = ("movers", name, "programme", index, "hold", "for")
    return Open(f"{name} {phase.name} for", "s", Span(phase.settle_s, math.inf), put, chosen, keys)
