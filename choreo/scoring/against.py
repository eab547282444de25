"""A run against its plan: what was off, by how much, and where that comes from."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Literal

import numpy as np

from choreo.errors.meetings import event_s
from choreo.errors.motions import NEVER_S
from choreo.scoring.run import RecordedRun
from choreo.words.kinds import Unit
from choreo.words.records import dataclass

Aspect = Literal[
    "start along",
    "start beside",
    "path offset",
    "launch",
    "detection",
    "latency",
    "achieved acceleration",
    "achieved braking",
    "speed held",
    "settled",
    "state",
    "encounter time",
    "closing speed",
]

# A speed this near (m/s) to the one that is held counts as settled where nobody says how near: common practice,
# no source.
SETTLED_MPS = 0.5 / 3.6
# What rounding makes of a speed on its bound (m/s).
STEADY = 1e-9
# Below this speed (m/s) it stands: what noise of a speed channel may show. Common practice, no source.
STANDS_MPS = 0.3
# Averaged over so many seconds around an instant.
AROUND_S = 0.02


@dataclass(frozen=True, slots=True)
class Off:
    """One figure of a run beside that of its plan, SI; unit None: a ratio.

    aspect, owner: what of which mover, trigger or encounter. phase: by name, where it is of one. points_to: what it
    comes from, in words. u: its standard uncertainty by the scatter of its samples, 0 where that isn't known.
    """

    aspect: Aspect
    owner: str
    what: str
    planned: float
    recorded: float
    unit: Unit | None
    points_to: str
    phase: str = ""
    u: float = 0.0

    @property
    def off(self) -> float:
        """Recorded less planned."""
        return self.recorded - self.planned


def against_plan(run: RecordedRun) -> list[Off]:
    """Give what a run's figures are beside the plan's."""
    found: list[Off] = []
    for name in run.movers:
        if run.stage.actors[name].moves:
            found += _mark(run, name)
            found += _drive(run, name)
    for name in run.stage.scenario.triggers:
        found += _trigger(run, name)
    found += _instants(run)
    found += _encounters(run)
    return found


def _mark(run: RecordedRun, name: str) -> Iterator[Off]:
    """Where it stood before its launch."""
    actor, one = run.stage.actors[name], run.movers[name]
    launch_s = float(run.performed.motions[name].start_s[0, 0])
    first = next((fit.starts_s for fit in run.ramps[name].values()), None)
    until = first if first is not None else actor.launch_s
    if actor.start_mps > 0.0:
        return
    before = (run.time_s < until) & np.isfinite(one.station_m)
    if before.sum() < 3 or until <= launch_s:
        return
    if float(np.median(one.track.speed_mps[before])) > STANDS_MPS:
        return  # the recording begins while it drives: where it stood is not known
    station = float(np.mean(one.station_m[before]))
    beside = float(np.mean(one.beside_m[before]))
    yield Off(
        "start along",
        name,
        "start mark along the path",
        actor.start_m,
        station,
        "m",
        "where it was placed",
        u=_u(one.station_m[before]),
    )
    yield Off(
        "start beside",
        name,
        "start mark beside the path",
        0.0,
        beside,
        "m",
        "where it was placed",
        u=_u(one.beside_m[before]),
    )


def _u(values: np.ndarray) -> float:
    """Of a mean."""
    return float(np.std(values) / np.sqrt(max(len(values), 1)))


def _drive(run: RecordedRun, name: str) -> Iterator[Off]:
    """Its launch, its ramps, the speeds that it held, and how far beside its path it drove."""
    actor, one = run.stage.actors[name], run.movers[name]
    ramps = run.ramps[name]
    first = actor.steps[0] if actor.steps else None
    if (
        first is not None
        and first.index in ramps
        and actor.launched_by is None
        and name != run.aligned_with
    ):
        fit = ramps[first.index]
        yield Off(
            "launch",
            name,
            "launch",
            actor.launch_s,
            fit.starts_s,
            "s",
            "delay of its launch",
            u=fit.start_u_s,
        )
    for step in actor.steps:
        if step.changes_speed and step.index in ramps:
            up = step.to_mps > step.from_mps
            aspect: Aspect = "achieved acceleration" if up else "achieved braking"
            yield Off(
                aspect,
                name,
                f"{step.name}: share of its rate",
                1.0,
                ramps[step.index].achieved_ratio,
                None,
                "what its drive achieves",
                step.name,
            )
        elif step.index in run.held_mps[name]:
            yield Off(
                "speed held",
                name,
                f"{step.name}: speed",
                step.to_mps,
                run.held_mps[name][step.index],
                "m/s",
                "the speed that it holds",
                step.name,
            )
    driving = (
        (run.time_s <= run.driven_until(name))
        & (one.track.speed_mps > 0.5)
        & np.isfinite(one.beside_m)
    )
    if driving.sum() > 5:
        yield Off(
            "path offset",
            name,
            "beside its path on average",
            0.0,
            float(np.mean(one.beside_m[driving])),
            "m",
            "how it follows its path",
            u=_u(one.beside_m[driving]),
        )
    yield from _settled(run, name)


def _settled(run: RecordedRun, name: str) -> Iterator[Off]:
    """How long a hold that has to be settled was steady up to when it has to be, beside how long by plan."""
    actor, one = run.stage.actors[name], run.movers[name]
    tolerances = run.stage.scenario.tolerances.get(name)
    band = None if tolerances is None else tolerances.speed_mps
    low, high = band or (-SETTLED_MPS, SETTLED_MPS)
    performed = run.performed
    known = (performed.motions, performed.spans, performed.acts_s)
    for step in actor.steps:
        phase = actor.mover.programme[step.index]
        planned_s = step.planned_s
        if phase.settle_s <= 0.0 or step.changes_speed:
            continue
        begins, ends = (float(side[0]) for side in performed.spans[name][step.index])
        if phase.settled_by is not None:
            by = float(event_s(run.stage, phase.settled_by, known)[0])
            # By plan the event is as long before the hold's end as it was in the run.
            planned_s -= max(ends - by, 0.0) if by < NEVER_S / 2 else 0.0
            ends = min(ends, by)
        inside = (run.time_s >= begins) & (run.time_s <= ends)
        if not inside.any():
            continue
        off = one.track.speed_mps - step.to_mps
        # A sample that is missing says nothing: what it is between counts.
        loose = inside & ((off < low - STEADY) | (off > high + STEADY))
        last = run.time_s[loose].max() if loose.any() else begins
        yield Off(
            "settled",
            name,
            f"{step.name}: steady before the event, {phase.settle_s:g} s needed",
            planned_s,
            max(ends - float(last), 0.0),
            "s",
            "when it came to its speed, and how it held it",
            step.name,
        )


def _trigger(run: RecordedRun, name: str) -> Iterator[Off]:
    """When it saw its setting, and how long that took to become motion."""
    planned, trigger = run.stage.plan.triggers[name], run.stage.scenario.triggers[name]
    crossed = float(run.performed.crossings_s[name][0])
    acts = float(run.performed.acts_s[name][0])
    if trigger.watch in run.missing or crossed >= NEVER_S / 2:
        return
    seen = run.recording.events_s.get(name)
    go_s = float(run.recording.time_s[0] - run.time_s[0])
    detected = crossed + planned.expected_detection_s if seen is None else seen - go_s
    if seen is not None:
        yield Off(
            "detection",
            name,
            "from its setting to its detection",
            planned.expected_detection_s,
            detected - crossed,
            "s",
            "what it measures, and how often it looks",
        )
    moved = [
        fit
        for mover, actor in run.stage.actors.items()
        if actor.launched_by == name
        for fit in list(run.ramps[mover].values())[:1]
    ]
    moved += [
        run.ramps[mover][after.index]
        for mover, actor in run.stage.actors.items()
        for step, after in zip(actor.steps, actor.steps[1:], strict=False)
        if step.ended_by == name and after.index in run.ramps[mover]
    ]
    if moved:
        yield Off(
            "latency",
            name,
            "from detection to motion",
            planned.latency_s,
            acts - detected,
            "s",
            "latency of the trigger and its link",
            u=math.hypot(moved[0].start_u_s, _sample_s(run) / math.sqrt(12.0) if seen else 0.0),
        )


def _sample_s(run: RecordedRun) -> float:
    """The time between two samples, within which a signal rose."""
    return float(np.median(np.diff(run.time_s)))


def _instants(run: RecordedRun) -> Iterator[Off]:
    """Where everybody was, and how fast, at the named instants of the plan."""
    for name, instant in run.stage.plan.instants.items():
        for mover, state in instant.movers.items():
            if mover not in run.movers or not run.stage.actors[mover].moves:
                continue
            if instant.time_s > run.acted_s.get(mover, NEVER_S):
                continue
            near = np.abs(run.time_s - instant.time_s) <= AROUND_S
            one = run.movers[mover]
            if not np.isfinite(one.station_m[near]).any():
                continue
            yield Off(
                "state",
                mover,
                f"station at {name}",
                state.station_m,
                float(np.nanmean(one.station_m[near])),
                "m",
                "its mark, its launch and its ramps",
            )


def _encounters(run: RecordedRun) -> Iterator[Off]:
    for name, planned in run.stage.plan.encounters.items():
        found = run.performed.met[name]
        acted_s = min((run.acted_s.get(who, NEVER_S) for who in planned.pair), default=NEVER_S)
        if found.time_s[0] >= min(NEVER_S / 2, acted_s):
            continue
        yield Off(
            "encounter time",
            name,
            "when it happens",
            planned.time_s,
            float(found.time_s[0]),
            "s",
            "all of the above together",
        )
        if planned.touches:
            yield Off(
                "closing speed",
                name,
                "closing speed",
                planned.closing_mps,
                float(found.closing_mps[0]),
                "m/s",
                "the speeds that both hold",
            )
