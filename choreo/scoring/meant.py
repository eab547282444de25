"""What is measured once a run: where the bodies met, or were headed for; how it was set up; how long after what."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from choreo.errors.stage import Stage
from choreo.rules.applied import Rules
from choreo.rules.cast import Cast, last_ramp, speed_in_test
from choreo.rules.evaluating import Sampled
from choreo.rules.numbers import told
from choreo.rules.records import EventName, Instant, Role, Signal
from choreo.scoring.contacts import Touch
from choreo.scoring.moments import Moments
from choreo.scoring.projecting import stations_of
from choreo.scoring.run import RecordedRun

One = tuple[tuple[Role, Signal], tuple[Sampled, Sampled | float]]
# What a duration is counted to, and from.
DURATIONS: tuple[tuple[EventName, EventName], ...] = (
    ("steering begins", "indicator"),
    ("accelerator released", "warning"),
    ("brake pedal", "warning"),
)


def _at(time_s: float, value: float) -> Sampled:
    return Sampled(np.array([time_s]), np.array([value]))


def impact_signals(
    run: RecordedRun, cast: Cast, touch: Touch | None, moments: Moments
) -> Iterator[One]:
    """Where on the subject the contact was, or was headed for: as a share of its width, and in m."""
    contact = cast.contact()
    at = moments.times_s.get("contact")
    if contact is None or touch is None or touch.time_s is None:
        return
    when = touch.time_s if at is None else at
    name, one = contact
    roles = {mover: role for role, mover in cast.movers.items()}
    role = roles.get(one.with_ if one.of == cast.movers.get("subject") else one.of)
    if role is None:
        return
    planned = run.stage.plan.encounters[name].predicted
    body = run.stage.actors[one.of].mover.body
    if one.face == "front":
        yield (role, "impact offset"), (_at(when, touch.left_m), planned)
        shares = [_share(cast, role, one, planned, body.width_m) for one in (touch.left_m, planned)]
        yield (role, "impact location"), (_at(when, shares[0]), shares[1])
    else:
        yield (role, "impact offset"), (_at(when, touch.from_rear_m), planned)
        share = touch.from_rear_m / body.length_m
        yield (role, "impact location"), (_at(when, share), planned / body.length_m)


def _share(cast: Cast, role: Role, left_m: float, planned_m: float, width_m: float) -> float:
    """An impact location as a share of the width from the right edge, or from the left one.

    Protocols count from the side on which the other comes; that is the one from which the plan's own location is nearer
    to what the rule asks for.
    """
    share, planned = 0.5 + left_m / width_m, 0.5 + planned_m / width_m
    for rule in cast.family.of(Instant):
        if rule.role == role and rule.signal == "impact location":
            wanted = rule.reference.value
            if abs(1.0 - planned - wanted) < abs(planned - wanted):
                return 1.0 - share
    return share


def allowed_impact(stage: Stage, rules: Rules) -> str:
    """Give in words how fast an impact may be at the planned speeds of the test; empty where nothing is said."""
    impact, contact = rules.cast.family.impact, rules.cast.contact()
    if impact is None or contact is None:
        return ""
    speed = stage.plan.encounters[contact[0]].closing_mps
    if impact.of == "subject speed":
        speed = speed_in_test(rules.cast.of("subject")) or speed
    row = impact.at(speed)
    if row is None:
        return f"no impact speed is allowed for: {told(speed, 'm/s')} is beyond the table ({impact.source.words})"
    limits = ", ".join(f"{name} {told(one, 'm/s')}" for name, one in row[1].items())
    note = f"; {impact.source.note}" if impact.source.note else ""
    return f"at a {impact.of} of {told(row[0], 'm/s')}: {limits} ({impact.source.words}){note}"


def of_setup(run: RecordedRun, cast: Cast, moments: Moments) -> Iterator[One]:
    """Start marks beside the subject's path, ways until a speed was reached, and times from one event to another."""
    times = moments.times_s
    for role, name in cast.others().items():
        if name not in run.movers:
            continue
        mark = _start_distance(run, cast, name)
        if mark is not None:
            yield (role, "start distance"), (_at(times["run starts"], mark[0]), mark[1])
        ramp = last_ramp(run.stage.scenario.movers[name])
        fit = None if ramp is None else run.ramps[name].get(ramp[0])
        if fit is not None and "target steady" in times:
            stations = run.movers[name].station_m
            began, ended = (
                float(np.interp(t, run.time_s, stations)) for t in (fit.starts_s, fit.ends_s)
            )
            yield (role, "way to speed"), (_at(times["target steady"], ended - began), 0.0)
    for after, before in DURATIONS:
        if after in times and before in times:
            yield ("subject", "duration"), (_at(times[after], times[after] - times[before]), 0.0)


def _start_distance(run: RecordedRun, cast: Cast, name: str) -> tuple[float, float] | None:
    """How far beside the subject's path a mover stood, and by plan."""
    subject, actor = cast.movers.get("subject"), run.stage.actors[name]
    if subject is None or actor.start_mps > 0.0:
        return None
    path = run.stage.actors[subject].path
    starts = next((fit.starts_s for fit in run.ramps[name].values()), math.inf)
    track = run.movers[name].track
    before = (run.time_s < starts) & np.isfinite(track.x_m)
    if before.sum() < 3:
        return None
    pose = actor.path.pose(np.array([actor.start_m]))
    planned = float(abs(stations_of(path, pose.x_m, pose.y_m)[1][0]))
    beside = stations_of(path, track.x_m[before], track.y_m[before])[1]
    return float(np.abs(beside).mean()), planned
