"""Drive a motion that the judge found, by tiny steps, and look whether it is what the scenario asks for.

This knows the scenario, not the judge's rows: a mistake in those shows here as a fault.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from tests.harness.ramps import Profile
from tests.harness.records import Case, Contact, Gap, Mover, Phase, Rear

STEP_S = 0.01
SMALL = 2e-4


@dataclass(frozen=True)
class Part:
    """A phase as driven; speed_mps at its end. A ramp: seconds before at its first speed, after at its last."""

    phase: Phase
    speed_mps: float
    lasts_s: float
    profile: Profile | None = None
    before_s: float = 0.0
    after_s: float = 0.0
    crawl_m: float = 0.0


@dataclass(frozen=True)
class Drive:
    """A mover's whole motion; crossings: when the triggers that watch it are reached."""

    start_m: float
    launch_s: float
    parts: list[Part]
    crossings: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Track:
    """Sampled motion: times, stations, speeds, and the phases' starts and ends."""

    times: np.ndarray
    stations: np.ndarray
    speeds: np.ndarray
    spans: list[tuple[Phase, float, float]]

    def at(self, time: float) -> tuple[float, float]:
        """Station and speed; between samples the acceleration is constant."""
        speed = float(np.interp(time, self.times, self.speeds))
        here = int(np.clip(np.searchsorted(self.times, time) - 1, 0, len(self.times) - 1))
        since = max(0.0, min(time, float(self.times[-1])) - float(self.times[here]))
        return float(self.stations[here]) + since * (float(self.speeds[here]) + speed) / 2, speed

    def span(self, key: str) -> tuple[float, float]:
        """Start and end of the phase that lasts until, or is named, key."""
        return next(
            (low, high) for phase, low, high in self.spans if key in (phase.until, phase.name)
        )


def track(mover: Mover, drive: Drive) -> Track:
    """Sample speeds over time, then add stations up by trapezia."""
    times, speeds = [np.array([drive.launch_s])], [np.array([mover.start_mps])]
    spans = []

    def add(moments: np.ndarray, fast: np.ndarray) -> None:
        if len(moments):
            times.append(moments)
            speeds.append(fast)

    def hold(seconds: float) -> None:
        if seconds > 0:
            add(times[-1][-1:] + seconds, speeds[-1][-1:])

    for part in drive.parts:
        begin = float(times[-1][-1])
        if part.profile is None:
            hold(part.lasts_s)
        else:
            hold(part.before_s)
            crawls = part.crawl_m / part.profile.speeds[1] if part.crawl_m > 0 else 0.0
            add(times[-1][-1:] + part.profile.times[1], part.profile.speeds[1:2])
            hold(crawls)
            add(
                times[-1][-1] - part.profile.times[1] + part.profile.times[2:],
                part.profile.speeds[2:],
            )
            hold(part.after_s)
        spans.append((part.phase, begin, float(times[-1][-1])))
    t, v = np.concatenate(times), np.concatenate(speeds)
    ways = np.concatenate([[0.0], (np.diff(t) * (v[1:] + v[:-1]) / 2).cumsum()])
    return Track(t, drive.start_m + ways, v, spans)


def witness_faults(case: Case, drives: dict[str, Drive]) -> list[str]:
    """Everything in which the driven motion is not what the scenario asks for."""
    tracks = {one.name: track(one, drives[one.name]) for one in case.movers}
    faults = touches(case, drives)
    for mover in case.movers:
        faults += _limits(mover, drives[mover.name], tracks[mover.name])
    for one in case.encounters:
        faults += _encounter(case, one, tracks)
    for trigger in case.triggers:
        faults += _trigger(case, trigger.name, drives, tracks)
    for mover in case.movers:
        faults += _settled(case, mover, drives, tracks)
    return faults


def _limits(mover: Mover, drive: Drive, run: Track) -> list[str]:
    faults = []
    low, high = max(0.0, mover.start[0]), min(mover.path.length_m, mover.start[1])
    if not low - SMALL <= drive.start_m <= high + SMALL or drive.launch_s < -SMALL:
        faults.append(f"{mover.name} starts elsewhere")
    if run.stations[-1] > mover.path.length_m + SMALL:
        faults.append(f"{mover.name} leaves its path")
    if run.stations[-1] - run.stations[0] > mover.stroke_m + SMALL:
        faults.append(f"{mover.name} passes its stroke")
    if abs(run.speeds[-1]) > SMALL:
        faults.append(f"{mover.name} does not stop")
    steps = np.diff(run.times)
    long = steps > 1e-9
    accel = np.diff(run.speeds)[long] / steps[long]
    middle = ((run.speeds[1:] + run.speeds[:-1]) / 2)[long]
    most = np.interp(middle, [v for v, _ in mover.table], [a for _, a in mover.table])
    if (accel > most * 1.001 + 1e-3).any() or (accel < -mover.brake_mps2 * 1.001 - 1e-3).any():
        faults.append(f"{mover.name} accelerates or brakes too hard")
    if mover.path.radius_m and math.isfinite(mover.lateral_mps2):
        ends = mover.path.before_m, mover.path.before_m + mover.path.arc_m
        on_arc = (run.stations > ends[0] + SMALL) & (run.stations < ends[1] - SMALL)
        use = run.speeds[on_arc] ** 2 / mover.path.radius_m
        if (use > mover.lateral_mps2 + 0.02).any():
            faults.append(f"{mover.name} is too fast on the arc")
    for phase, begin, end in run.spans:
        way = run.at(end)[0] - run.at(begin)[0]
        for what, wanted, found, below in (
            ("within", phase.within_m, way, True),
            ("over", phase.over_m, way, False),
            ("lasting", phase.lasting_s, end - begin, False),
            ("for", phase.for_m, way, False),
            ("for", phase.for_s, end - begin, False),
        ):
            if wanted is not None and (
                found - wanted > SMALL or (not below and wanted - found > SMALL)
            ):
                faults.append(f"{mover.name} {what}: {found} for {wanted}")
    return faults


def _encounter(case: Case, one: Contact | Rear | Gap, tracks: dict[str, Track]) -> list[str]:
    a, b = case.mover(one.of), case.mover(one.with_)
    run_a, run_b = tracks[one.of], tracks[one.with_]
    faults = []
    if isinstance(one, Contact):
        time = run_a.span(one.name)[1]
        front, across = _xy(case, a, run_a.at(time)[0], one), _xy(case, b, run_b.at(time)[0], one)
        if abs(across[0] - b.width_m / 2 - front[0] - a.front_m) > SMALL:
            faults.append(f"{one.name}: the front is not there")
        if abs(across[1] - one.impact_m) > SMALL:
            faults.append(f"{one.name}: {across[1]} aside for {one.impact_m}")
        if abs(time - run_b.span(one.name)[1]) > SMALL:
            faults.append(f"{one.name}: holds end apart")
        return faults
    time = run_a.span(one.name)[1] if isinstance(one, Rear) else _gap_time(one, tracks)
    room = run_b.at(time)[0] - b.rear_m - run_a.at(time)[0] - a.front_m
    wanted = 0.0
    if isinstance(one, Gap):
        wanted = one.wanted * (run_a.at(time)[1] if one.measure == "time gap" else 1.0)
    if abs(room - wanted) > 10 * SMALL:
        faults.append(f"{one.name}: {room} m for {wanted} m")
    return faults


def _gap_time(one: Gap, tracks: dict[str, Track]) -> float:
    if one.at_phase is not None:
        return tracks[one.with_].span(one.at_phase)[0]
    return tracks[one.of].span(one.at_encounter or "")[1]


def _xy(case: Case, mover: Mover, station: float, one: Contact) -> tuple[float, float]:
    """Along and left of the last line of the lane: placed by the paths' own points, not by cross_m."""
    lane = case.mover(one.of).path
    x, y, _ = mover.path.point(station, 0.0)
    x0, y0, lane_heading = lane.point(0.0, 0.0)
    turn = math.radians(lane_heading)
    dx, dy = x - x0, y - y0
    return (
        dx * math.cos(turn) + dy * math.sin(turn),
        -dx * math.sin(turn) + dy * math.cos(turn),
    )


def _trigger(
    case: Case, name: str, drives: dict[str, Drive], tracks: dict[str, Track]
) -> list[str]:
    trigger = next(one for one in case.triggers if one.name == name)
    time = drives[trigger.watch].crossings[name]
    run = tracks[trigger.watch]
    station, speed = run.at(time)
    value = time
    if trigger.condition == "station":
        value = station
    elif trigger.condition != "time":
        value = run.at(run.span(trigger.to or "")[1])[0] - station
        value /= speed if trigger.condition == "time to collision" else 1.0
    faults = []
    low, high = trigger.setting
    if not low - SMALL <= value <= high + SMALL:
        faults.append(f"{name}: {value} for {trigger.setting}")
    holds = [
        (phase, begin, end) for phase, begin, end in run.spans
        if phase.kind == "hold" and begin + phase.settle_s - SMALL <= time <= end + SMALL
    ]  # fmt: skip
    if not holds and trigger.condition != "time":
        faults.append(f"{name}: reached unsettled")
    acts = time + trigger.latency_s + 0.5 / trigger.sampling_hz
    for mover in case.movers:
        waits = any(p.kind == "wait" and p.trigger == name for p in mover.phases)
        if waits and abs(drives[mover.name].launch_s - acts) > SMALL:
            faults.append(f"{mover.name} does not launch when {name} acts")
    return faults


def _settled(
    case: Case, mover: Mover, drives: dict[str, Drive], tracks: dict[str, Track]
) -> list[str]:
    faults = []
    for phase, begin, end in tracks[mover.name].spans:
        by = end if phase.settled_by is None else _event(case, phase.settled_by, tracks)
        if phase.kind == "hold" and by - begin < phase.settle_s - SMALL:
            faults.append(f"{mover.name} is settled for {by - begin} s only")
    return faults


def _event(case: Case, text: str, tracks: dict[str, Track]) -> float:
    if text in case.instants:
        before, by_s = case.instants[text]
        return _event(case, before, tracks) - by_s
    if text.startswith("start of "):
        mover, phase = text.removeprefix("start of ").split(".")
        return tracks[mover].span(phase)[0]
    one = next(one for one in case.encounters if one.name == text)
    return tracks[one.of].span(text)[1]


def touches(case: Case, drives: dict[str, Drive]) -> list[str]:
    """Bodies that touch although they shouldn't, or earlier than they should. Straight lanes only."""
    if any(mover.path.radius_m for mover in case.movers):
        return []  # two movers that meet at a right angle: they can't touch before
    tracks = {one.name: track(one, drives[one.name]) for one in case.movers}
    until = max(run.times[-1] for run in tracks.values())
    clock = np.arange(0.0, until + STEP_S, STEP_S)
    boxes = {
        one.name: _box(one, np.interp(clock, tracks[one.name].times, tracks[one.name].stations))
        for one in case.movers
    }
    intended = {
        frozenset((one.of, one.with_)): tracks[one.of].span(one.name)[1]
        for one in case.encounters
        if not isinstance(one, Gap)
    }
    faults = []
    names = list(boxes)
    for i, a in enumerate(names):
        for b in names[i + 1 :]:
            first = intended.get(frozenset((a, b)), math.inf)
            (ax0, ax1, ay0, ay1), (bx0, bx1, by0, by1) = boxes[a], boxes[b]
            hit = (ax0 <= bx1) & (bx0 <= ax1) & (ay0 <= by1) & (by0 <= ay1)
            hit &= clock < first - STEP_S
            if hit.any():
                faults.append(f"{a} touches {b} at {clock[hit][0]:.2f} s")
    return faults


def _box(mover: Mover, stations: np.ndarray) -> tuple[np.ndarray, ...]:
    """Sides of the body parallel to x and y over time."""
    path = mover.path
    turn = round(path.heading_deg / 90) % 4
    ahead = ((1, 0), (0, 1), (-1, 0), (0, -1))[turn]
    x, y = path.x_m + ahead[0] * stations, path.y_m + ahead[1] * stations
    half = mover.width_m / 2
    corners = [
        (x + ahead[0] * along - ahead[1] * across, y + ahead[1] * along + ahead[0] * across)
        for along in (mover.front_m, -mover.rear_m)
        for across in (half, -half)
    ]
    xs = np.array([one[0] for one in corners])
    ys = np.array([one[1] for one in corners])
    return xs.min(axis=0), xs.max(axis=0), ys.min(axis=0), ys.max(axis=0)
