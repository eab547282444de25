"""Where and how fast: the few places at which a crew checks a mover against its plan."""

from __future__ import annotations

import numpy as np

from choreo.geometry import Path
from choreo.page.tolerances import SAME_MOMENT_S
from choreo.plans.record import Plan
from choreo.report.turned import speed_of
from choreo.track.motion import PlannedMotion, motion_of
from choreo.words.records import dataclass

# More than so many a driver does not check on the way; ranks up to this name their gate, others share one silently.
MOST_GATES = 4
NAMED_RANK = 2
# Bisections until a time is exact to the last bit.
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


def gates_of(name: str, plan: Plan, path: Path, hinge_m: float | None = None) -> tuple[Gate, ...]:
    """Choose the three or four gates of a moving mover that say most, by time.

    Encounters first, then triggers that watch it and the end of its first ramp, then named instants
    and other ramps, then the middle of its first ramp's speeds, then ends of holds.

    hinge_m: of a door, how far its reference point is from its hinge.
    """
    mover = plan.movers[name]
    motion = motion_of(mover)
    if not motion.moves:
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
        half_s = _reached_s(motion, half_mps, mover.launch_s, ramps[0].time_s)
        wanted.append((3, half_s, f"on the way, at {speed_of(half_mps, hinge_m)}"))
    wanted += [(4, event.time_s, event.name) for event in mover.ends_of("hold")]
    ordered = sorted(_single(wanted))[:MOST_GATES]
    return tuple(
        _gate(motion, path, time, what) for _, time, what in sorted(ordered, key=lambda w: w[1])
    )


def _single(wanted: list[tuple[int, float, str]]) -> list[tuple[int, float, str]]:
    """One gate a moment: what happens at the same time shares a line."""
    kept: list[tuple[int, float, str]] = []
    for rank, time, what in sorted(wanted):
        same = [i for i, one in enumerate(kept) if abs(one[1] - time) < SAME_MOMENT_S]
        if same and rank > NAMED_RANK:
            continue
        if same:
            old = kept[same[0]]
            kept[same[0]] = (old[0], old[1], f"{old[2]}, {what}")
        else:
            kept.append((rank, time, what))
    return kept


def _reached_s(motion: PlannedMotion, speed_mps: float, from_s: float, until_s: float) -> float:
    """When a ramp upwards that lasts from from_s until until_s reaches a speed, by bisection: it is monotone."""
    low, high = from_s, until_s
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if motion.state(middle).speed_mps < speed_mps else (low, middle)
    return high


def _gate(motion: PlannedMotion, path: Path, time_s: float, what: str) -> Gate:
    state = motion.state(time_s)
    pose = path.pose(np.array([state.station_m]))
    return Gate(
        what, time_s, state.station_m, float(pose.x_m[0]), float(pose.y_m[0]), state.speed_mps
    )
