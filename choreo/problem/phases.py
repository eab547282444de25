"""A mover's programme as phases in SI: rates, directions and what ends each phase."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import pairwise, zip_longest
from typing import assert_never

from choreo.motion import table_value_mps2
from choreo.problem.records import AT_GO, Direction, Hold, Phase, Ramp, Wait
from choreo.scenario import Mover, Span
from choreo.scenario import Phase as ScenarioPhase
from choreo.words.origin import Origin

Table = tuple[tuple[float, float], ...]
Place = Callable[..., Origin | None]
# Where `free` and ranges from zero begin, a slow walk: an open speed is a driving speed, else the shortest runway would
# be found at a standstill. A range that says where it begins begins there.
LEAST_OPEN_SPEED_MPS = 1.0


def phases_of(mover: Mover, place: Place) -> tuple[Phase, ...]:
    """Turn a programme into phases; place(*keys) gives the origin below the mover.

    A ramp that changes nothing (both speeds given and equal) is kept out: it has no shape to solve.
    """
    phases: list[Phase] = []
    if mover.start.at_go:
        phases.append(Wait(AT_GO, place("start"), None, launch_latency_s(mover)))
    speed = Span.at(mover.start.speed_mps)
    unclear: Direction = 1
    for index, phase in enumerate(mover.programme):
        origin = place("programme", index)
        match phase.kind:
            case "wait":
                late = launch_latency_s(mover) if phase.for_trigger is not None else 0.0
                wait = (phase.for_trigger, phase.for_s, phase.lasting_s, late)
                phases.append(Wait(phase.name, origin, *wait))
            case "hold":
                phases.append(_hold(phase, origin))
            case "ramp" | "stop":
                ramp = _ramp(mover, phase, speed, origin, unclear)
                # Between two open speeds the author's intent is a change of direction: up, down, up.
                unclear = 1 if ramp.direction < 0 else -1
                unchanged = speed.fixed and ramp.to.fixed and speed.lo == ramp.to.lo
                speed = ramp.to
                if not unchanged:
                    phases.append(ramp)
            case _:
                assert_never(phase.kind)
    return tuple(_braked_late(phases, mover.brake_latency_s))


def launch_latency_s(mover: Mover) -> float:
    """Give the time from the command to move to the motion; who rolls needs no such command."""
    return 0.0 if mover.start.speed_mps > 0 else mover.launch_latency_s


def _braked_late(phases: list[Phase], latency_s: float) -> Iterator[Phase]:
    """Holds that a trigger ends last until the brakes act."""
    for phase, after in zip_longest(phases, phases[1:]):
        ended = (
            isinstance(phase, Hold) and phase.until is not None and phase.until.kind == "trigger"
        )
        brakes = isinstance(after, Ramp) and after.direction < 0
        yield replace(phase, latency_s=latency_s) if ended and brakes else phase


def left_out(mover: Mover, phases: tuple[Phase, ...]) -> Iterator[tuple[str, int]]:
    """Give the names of ramps that change nothing and so are no phases, with the boundary at which each would be."""
    kept, boundary = {phase.name for phase in phases}, 1 if mover.start.at_go else 0
    for phase in mover.programme:
        if phase.name in kept:
            boundary += 1
        else:
            yield phase.name, boundary


def least_open_speed(most_mps: float) -> float:
    """Give the least speed in m/s that one which is left open up to most_mps may come to."""
    return min(LEAST_OPEN_SPEED_MPS, most_mps / 2)


def _hold(phase: ScenarioPhase, origin: Origin | None) -> Hold:
    return Hold(
        name=phase.name,
        origin=origin,
        settle_s=phase.settle_s,
        settled_by=phase.settled_by,
        for_s=phase.for_s,
        for_m=phase.for_m,
        until=phase.until,
        ends_at_m=phase.ends_m,
    )


def _ramp(
    mover: Mover, phase: ScenarioPhase, speed: Span, origin: Origin | None, unclear: Direction
) -> Ramp:
    """unclear: the direction of a ramp between two open speeds that says nothing of it."""
    stop = phase.kind == "stop"
    limits = mover.limits
    to = Span.at(0.0) if stop else phase.to
    if not to.fixed:
        most = min(to.hi, limits.speed_mps)
        to = Span(to.lo if to.lo > 0 else least_open_speed(most), most)
    direction: Direction = 1 if to.middle > speed.middle else -1
    if to.middle == speed.middle and not stop:
        direction = unclear
    rate = phase.brake_mps2 if direction < 0 or stop else phase.accelerate_mps2
    chosen = phase.brake if direction < 0 else phase.accelerate
    usual = _usual_mps2(mover, direction)
    if stop and rate is None:
        rate = usual
    table, limit = limit_table(mover, direction), None
    shaped = phase.over_m is not None or phase.lasting_s is not None
    if rate is not None:
        table = capped(table, rate)
    elif chosen is not None:
        table = capped(table, chosen.hi) if math.isfinite(chosen.hi) else table
    elif usual is not None and not shaped and phase.within_m is None:
        limit, table = table, capped(table, usual)
    rated = (stop or rate is not None) and len(table) == 1 and not shaped
    jerk = min(limits.jerk_mps3, phase.jerk_mps3 or math.inf)
    return Ramp(
        name=phase.name,
        origin=origin,
        direction=direction,
        to=to,
        table=table,
        jerk_mps3=jerk,
        rated=rated,
        is_stop=stop,
        build_up_s=phase.build_up_s,
        within_m=phase.within_m,
        over_m=phase.over_m,
        lasting_s=phase.lasting_s,
        limit=limit,
        ends_at_m=phase.rests_m,
        chosen=chosen is not None,
        least_mps2=chosen.lo if chosen is not None and chosen.lo > 0 else None,
    )


def _usual_mps2(mover: Mover, direction: Direction) -> float | None:
    if mover.usual is None:
        return None
    return mover.usual.brake_mps2 if direction < 0 else mover.usual.accelerate_mps2


def limit_table(mover: Mover, direction: Direction) -> Table:
    """Give the (speed m/s, magnitude m/s2) table that limits a ramp up or down."""
    if direction < 0:
        return ((0.0, mover.limits.brake_mps2),)
    return mover.limits.accelerate


def capped(table: Table, rate_mps2: float) -> Table:
    """Give min(table, rate) exactly, with a knot wherever the table crosses the rate."""
    if all(accel >= rate_mps2 for _, accel in table):
        return ((table[0][0], rate_mps2),)
    knots = {speed for speed, _ in table}
    for (low, a_low), (high, a_high) in pairwise(table):
        if (a_low - rate_mps2) * (a_high - rate_mps2) < 0:
            knots.add(low + (high - low) * (rate_mps2 - a_low) / (a_high - a_low))
    return tuple((v, min(rate_mps2, table_value_mps2(table, v))) for v in sorted(knots))
