"""Where and how fast: the few places at which a crew checks a mover against its plan."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from choreo.geometry import Path
from choreo.page.tolerances import SAME_MOMENT_S
from choreo.plans.record import MoverPlan, Plan
from choreo.track.states import state_at
from choreo.words.display import kmh

MOST_GATES = 4
MOST_TELLING = 2
HALVINGS = 60


@dataclass(frozen=True, slots=True)
class Gate:
    """A place on a mover's path, when it should be there and how fast."""

    what: str
    time_s: float
    station_m: float
    x_m: float
    y_m: float
    speed_mps: float


def gates_of(name: str, plan: Plan, path: Path) -> tuple[Gate, ...]:
    """Choose the three or four gates of a moving mover that tell most, by time.

    Encounters first, then triggers that watch it and the end of its first ramp, then named instants
    and other ramps, then the middle of its first ramp's speeds, then ends of holds.
    """
    mover = plan.movers[name]
    if not mover.pieces:
        return ()
    wanted = [
        (0, one.time_s, f"encounter {n}")
        for n, one in plan.encounters.items()
        if name in (one.of, one.with_)
    ]
    wanted += [
        (1, one.time_s, f"trigger {n} fires")
        for n, one in plan.triggers.items()
        if one.watch == name
    ]
    ramps = mover.ends_of("ramp")
    wanted += [(2 if index else 1, event.time_s, event.name) for index, event in enumerate(ramps)]
    wanted += [(2, one.time_s, n) for n, one in plan.instants.items()]
    if ramps and ramps[0].speed_mps > mover.start.speed_mps:
        half_mps = (mover.start.speed_mps + ramps[0].speed_mps) / 2
        wanted.append((3, _half_way_s(mover, ramps[0].time_s), f"on the way, at {kmh(half_mps)}"))
    wanted += [(4, event.time_s, event.name) for event in mover.ends_of("hold")]
    ordered = sorted(_single(wanted))[:MOST_GATES]
    return tuple(
        _gate(mover, path, time, what) for _, time, what in sorted(ordered, key=lambda w: w[1])
    )


def _single(wanted: list[tuple[int, float, str]]) -> list[tuple[int, float, str]]:
    """One gate a moment: what happens at the same time shares a line."""
    kept: list[tuple[int, float, str]] = []
    for rank, time, what in sorted(wanted):
        same = [i for i, one in enumerate(kept) if abs(one[1] - time) < SAME_MOMENT_S]
        if same and rank > MOST_TELLING:
            continue
        if same:
            old = kept[same[0]]
            kept[same[0]] = (old[0], old[1], f"{old[2]}, {what}")
        else:
            kept.append((rank, time, what))
    return kept


def _half_way_s(mover: MoverPlan, end_s: float) -> float:
    """When the first ramp has gained half of its speed, by halving: ramps are monotone in speed."""
    target = (mover.start.speed_mps + state_at(mover, end_s).speed_mps) / 2
    low, high = mover.launch_s, end_s
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if state_at(mover, middle).speed_mps < target else (low, middle)
    return high


def _gate(mover: MoverPlan, path: Path, time_s: float, what: str) -> Gate:
    state = state_at(mover, time_s)
    pose = path.pose(np.array([state.station_m]))
    return Gate(
        what, time_s, state.station_m, float(pose.x_m[0]), float(pose.y_m[0]), state.speed_mps
    )
