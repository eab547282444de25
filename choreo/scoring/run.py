"""A recorded run on the clock and the paths of its plan, as one that was performed: judged by what stress judges by.

Time counts from go. Where no channel says when that was, it is the planned launch of whoever moves first, by the start
of that ramp: never by what fits best, which would hide the latencies that are looked for.
"""

from __future__ import annotations

import math
from dataclasses import field, replace

import numpy as np

from choreo.errors.actors import Actor
from choreo.errors.crossing import Watched, acts_of
from choreo.errors.draws import Draws
from choreo.errors.execution import Performed
from choreo.errors.laying import Spans
from choreo.errors.motions import NEVER_S, RunMotion, Sideways
from choreo.errors.stage import Stage
from choreo.recordings.record import Floats, Recording, Remark, Track
from choreo.scoring.projecting import averaged, stations_of, steadied
from choreo.scoring.ramps import RampFit, fit_ramp
from choreo.words import ChoreoError, Finding, Origin
from choreo.words.display import KMH_PER_MPS, seconds
from choreo.words.records import dataclass

GO = "go"
# A mover that was never nearer to its path than this (m) is another one, or of another scenario.
FARTHEST_M = 20.0
# Bins of a path in which its offsets are averaged (m).
BIN_M = 0.1
# Slower than this (m/s) a heading is not looked at.
MOVES_MPS = 1.0
# A speed that scatters by more than this (m/s) is averaged over so long (s) before a trigger is looked for in it: the
# first sample beyond a setting comes too soon by as much as its noise reaches.
CALM_MPS, CALMED_S = 0.003, 0.5
# Of a hold its speed is taken between these shares.
HELD_FROM, HELD_TO = 0.3, 0.9


@dataclass(frozen=True, eq=False)
class OnPath:
    """One recorded mover on its planned path, each of shape (n,): station, beside (left +), and its track, steadied.

    turned_rad: its headings sample by sample.
    """

    station_m: Floats
    beside_m: Floats
    track: Track
    turned_rad: Floats


@dataclass(frozen=True, eq=False)
class RecordedRun:
    """One run. time_s: after go, shape (n,). ramps: by mover and index of the phase. performed: as of one drawn run.

    held_mps: the speeds held, by mover and index of the phase, where they were recorded. standing: movers that weren't
    recorded and stand. missing: movers that weren't recorded and move. aligned_by: what time counts from, in words.
    acted_s: from when on a mover's own system drove it, in s after go.
    """

    recording: Recording
    stage: Stage
    time_s: Floats
    movers: dict[str, OnPath]
    ramps: dict[str, dict[int, RampFit]]
    held_mps: dict[str, dict[int, float]]
    performed: Performed
    missing: tuple[str, ...]
    standing: tuple[str, ...]
    aligned_by: str
    aligned_with: str | None
    remarks: tuple[Remark, ...] = field(default=())
    acted_s: dict[str, float] = field(default_factory=dict)

    def driven_until(self, mover: str) -> float:
        """Give until when (s after go) what a mover does is its drive's: its first encounter, its own system acting."""
        met = [
            float(self.performed.met[key].time_s[0])
            for key, two in self.stage.plan.encounters.items()
            if mover in two.pair
        ]
        met += [self.acted_s[mover]] if mover in self.acted_s else []
        return min([at for at in met if at < NEVER_S / 2], default=float(self.time_s[-1]))

    def known(self, mover: str, from_s: float, until_s: float) -> bool:
        """Whether a mover was recorded all through a time, in s after go."""
        if mover in self.standing:
            return True
        if mover in self.missing or from_s < self.time_s[0] or until_s > self.time_s[-1]:
            return False
        begins = self.recording.time_s[0] - self.time_s[0]
        gaps = self.recording.gaps_s.get(mover, ())
        return not any(a < until_s + begins and b > from_s + begins for a, b in gaps)

    def jumped(self, until_s: float, *movers: str) -> tuple[str, float] | None:
        """Give who of some jumped after go and before a moment, and when, in s after go; None: nobody."""
        begins = self.recording.time_s[0] - self.time_s[0]
        for name in movers:
            for at in self.recording.jumps_s.get(name, ()):
                if 0.0 <= at - begins <= until_s:
                    return name, float(at - begins)
        return None

    def beside_of(self, mover: str, other: str) -> Floats:
        """Give how far another recorded mover is beside a mover's path (left +), in m, shape (n,)."""
        track = self.movers[other].track
        return stations_of(self.stage.actors[mover].path, track.x_m, track.y_m)[1]


def run_of(stage: Stage, recording: Recording, place: Origin) -> RecordedRun:
    """Lay a recording on its plan. place: of the description, for faults.

    Raises ChoreoError: recording.elsewhere, recording.unknown-mover, recording.no-launch.
    """
    _refuse_strangers(stage, recording, place)
    movers = {
        name: _on_path(stage.actors[name], recording, track)
        for name, track in recording.tracks.items()
    }
    _refuse_elsewhere(movers, place)
    for name, one in movers.items():
        _refuse_turned(stage.actors[name], one, place)
    go_s, by, whom = _go_of(stage, recording, movers, place)
    time_s = recording.time_s - go_s
    missing = tuple(n for n, a in stage.actors.items() if n not in movers and a.moves)
    standing = tuple(n for n, a in stage.actors.items() if n not in movers and not a.moves)
    ramps: dict[str, dict[int, RampFit]] = {}
    held: dict[str, dict[int, float]] = {}
    motions: dict[str, RunMotion] = {}
    spans: dict[str, Spans] = {}
    for name, actor in stage.actors.items():
        if name in movers:
            speed = movers[name].track.speed_mps
            held[name], ramps[name] = phases_of(stage, actor, time_s, speed)
            motions[name] = _motion(time_s, movers[name])
        else:
            ramps[name], held[name] = {}, {}
            motions[name] = _still(actor)
        spans[name] = spans_of(stage, actor, ramps[name])
    performed = Performed(Draws((), np.zeros((1, 0)), 0), motions, spans, {}, {}, {})
    calm = {name: _motion(time_s, _calmed(time_s, one)) for name, one in movers.items()}
    for name in stage.scenario.triggers:
        watched = Watched({**motions, **calm}, spans)
        crossed, acts = acts_of(stage, name, performed.draws, watched)
        performed.crossings_s[name] = crossed
        performed.acts_s[name] = _acted(stage, name, ramps, acts)
    return RecordedRun(
        recording,
        stage,
        time_s,
        movers,
        ramps,
        held,
        performed,
        missing,
        standing,
        by,
        whom,
        recording.remarks,
    )


def _refuse_strangers(stage: Stage, recording: Recording, place: Origin) -> None:
    strange = [name for name in recording.tracks if name not in stage.actors]
    if strange:
        known = ", ".join(f"`{name}`" for name in stage.actors)
        values = {"mover": strange[0], "known": known}
        raise ChoreoError([Finding("recording.unknown-mover", "error", place, values)])


def _refuse_elsewhere(movers: dict[str, OnPath], place: Origin) -> None:
    for name, one in movers.items():
        beside = np.abs(one.beside_m)
        nearest = float(np.nanmedian(beside)) if np.isfinite(beside).any() else math.inf
        if nearest > FARTHEST_M:
            values = {
                "mover": name,
                "away": f"{nearest:.0f}" if math.isfinite(nearest) else "unknown",
            }
            raise ChoreoError([Finding("recording.elsewhere", "error", place, values)])


def _refuse_turned(actor: Actor, one: OnPath, place: Origin) -> None:
    """A body that points against its path all the way: most often a heading that is turned by half a circle."""
    way = one.track.heading_rad - actor.mover.body.points_rad
    known = (one.track.speed_mps > MOVES_MPS) & np.isfinite(one.station_m) & np.isfinite(way)
    if known.sum() < 10:
        return
    path = actor.path.pose(one.station_m[known]).heading_rad
    off = float(np.median(np.abs(np.angle(np.exp(1j * (way[known] - path))))))
    if off > math.pi / 2:
        values = {
            "why": f"{actor.name} points {math.degrees(off):.0f} deg away from where its path points",
            "instead": "Look at `from` and `clockwise` of its heading, or which antenna is its front; of who backs up "
            "record a heading.",
        }
        raise ChoreoError([Finding("recording.unfit", "error", place, values)])


def _on_path(actor: Actor, recording: Recording, track: Track) -> OnPath:
    clean = steadied(recording.time_s, track, actor.mover.body.points_rad)
    station, beside = stations_of(actor.path, clean.x_m, clean.y_m)
    return OnPath(station, beside, clean, track.heading_rad)


def _go_of(
    stage: Stage, recording: Recording, movers: dict[str, OnPath], place: Origin
) -> tuple[float, str, str | None]:
    """When go was on the recording's clock, by what, and whose launch that was."""
    if GO in recording.events_s:
        return recording.events_s[GO], "go as its channel says", None
    why = "no launch is in it"
    first = sorted(
        (actor.launch_s, name)
        for name, actor in stage.actors.items()
        if name in movers and actor.moves and actor.launched_by is None
    )
    for launch_s, name in first:
        actor, one = stage.actors[name], movers[name]
        if actor.start_mps > 0.0:
            passes = np.flatnonzero(one.station_m >= actor.start_m)
            if len(passes) and passes[0] > 0:
                at = float(recording.time_s[passes[0]])
                return at - launch_s, f"{name} passing its start mark", name
            continue
        step = next((one for one in actor.steps if one.changes_speed and one.from_mps == 0.0), None)
        if step is None or not len(step.durations_s):
            continue
        speeds = one.track.speed_mps
        held = _plateau(recording.time_s, speeds, step.to_mps)
        fit = fit_ramp(step, recording.time_s, speeds, (0.0, held), None)
        if fit is not None:
            return fit.starts_s - launch_s, f"the launch of {name}", name
        why = _cut_off(recording, name, speeds, step.to_mps) or why
    for name, trigger in stage.plan.triggers.items():
        if name in recording.events_s:
            seen_s = trigger.time_s + trigger.expected_detection_s
            return recording.events_s[name] - seen_s, f"trigger {name} detecting", None
    raise ChoreoError([Finding("recording.no-launch", "error", place, {"why": why})])


def _cut_off(recording: Recording, name: str, speed_mps: Floats, planned_mps: float) -> str | None:
    """Say that a recording ends while a mover that set off is still getting faster; None where it doesn't."""
    known = speed_mps[np.isfinite(speed_mps)]
    if not len(known) or not MOVES_MPS < known.max() < 0.9 * planned_mps:
        return None
    lasting = seconds(float(recording.time_s[-1] - recording.time_s[0]))
    return (
        f"it ends after {lasting}, when `{name}` drove {known[-1] * KMH_PER_MPS:.1f} km/h "
        f"and not yet {planned_mps * KMH_PER_MPS:.1f} km/h"
    )


def _plateau(time_s: Floats, speed_mps: Floats, planned_mps: float) -> float:
    """The speed that is held nearest to a planned one: the middle of those within a tenth of it."""
    near = np.abs(speed_mps - planned_mps) < max(0.1 * planned_mps, 0.2)
    return float(np.median(speed_mps[near])) if near.sum() > 5 else planned_mps


def phases_of(
    stage: Stage, actor: Actor, time_s: Floats, speed_mps: Floats
) -> tuple[dict[int, float], dict[int, RampFit]]:
    """Give the speeds in m/s at which holds were driven, where enough of them is recorded, and the ramps, by phase.

    time_s: after go, speed_mps: nan where it isn't known; both of shape (n,).
    """
    held = _held(stage, actor, time_s, speed_mps)
    planned = {step.index: step.to_mps for step in actor.steps if not step.changes_speed}
    return held, _ramps(stage, actor, time_s, speed_mps, {**planned, **held})


def _held(stage: Stage, actor: Actor, time_s: Floats, speed_mps: Floats) -> dict[int, float]:
    found = {}
    for step in actor.steps:
        if step.changes_speed or step.to_mps <= 0.0:
            continue
        begins, lasting = _planned(stage, actor, step.index)
        during = (time_s > begins + HELD_FROM * lasting) & (time_s < begins + HELD_TO * lasting)
        speeds = speed_mps[during & np.isfinite(speed_mps)]
        if len(speeds) >= 5:
            found[step.index] = float(np.mean(speeds))
    return found


def _planned(stage: Stage, actor: Actor, index: int) -> tuple[float, float]:
    """When a phase begins by plan, and how long it lasts."""
    begins = actor.launch_s
    for step in actor.steps:
        if step.index == index:
            return begins, step.planned_s
        begins += step.planned_s
    return begins, 0.0


def _ramps(
    stage: Stage, actor: Actor, time_s: Floats, speed_mps: Floats, held: dict[int, float]
) -> dict[int, RampFit]:
    found: dict[int, RampFit] = {}
    late_s = 0.0
    for number, step in enumerate(actor.steps):
        if not step.changes_speed:
            continue
        before = actor.steps[number - 1].index if number else None
        after = actor.steps[number + 1].index if number + 1 < len(actor.steps) else None
        speeds = (
            step.from_mps if before is None else held.get(before, step.from_mps),
            step.to_mps if after is None else held.get(after, step.to_mps),
        )
        begins, _ = _planned(stage, actor, step.index)
        known = np.isfinite(speed_mps)
        fit = fit_ramp(step, time_s[known], speed_mps[known], speeds, begins + late_s)
        if fit is not None:
            found[step.index] = fit
            late_s = fit.starts_s - begins
    return found


def spans_of(stage: Stage, actor: Actor, ramps: dict[int, RampFit]) -> Spans:
    """Give when each phase began and ended: ramps as recorded, the others in between."""
    first = next((step.index for step in actor.steps if step.index in ramps), None)
    launch = actor.launch_s
    if first is not None:
        launch += ramps[first].starts_s - _planned(stage, actor, first)[0]
    spans: Spans = {}
    if actor.waits is not None:
        spans[actor.waits] = (np.zeros(1), np.array([launch]))
    at = launch
    for number, step in enumerate(actor.steps):
        fit = ramps.get(step.index)
        begins = at if fit is None else fit.starts_s
        ends = begins + step.planned_s if fit is None else fit.ends_s
        if number + 1 < len(actor.steps) and fit is None:
            following = ramps.get(actor.steps[number + 1].index)
            ends = ends if following is None else following.starts_s
        spans[step.index] = (np.array([begins]), np.array([ends]))
        at = ends
    return spans


def _motion(time_s: Floats, one: OnPath) -> RunMotion:
    """The record as pieces of constant acceleration from sample to sample."""
    known = np.isfinite(one.station_m) & np.isfinite(one.track.speed_mps)
    times, station, speed = time_s[known], one.station_m[known], one.track.speed_mps[known]
    lasting = np.diff(times)
    column = (slice(None), None)
    return RunMotion(
        times[:-1][column],
        lasting[column],
        station[:-1][column],
        speed[:-1][column],
        (np.diff(speed) / lasting)[column],
        np.zeros_like(lasting)[column],
        _sideways(one),
        np.zeros(1),
    )


def _calmed(time_s: Floats, one: OnPath) -> OnPath:
    """With a speed that is averaged where it scatters."""
    speed = one.track.speed_mps
    over = max(round(CALMED_S / float(np.median(np.diff(time_s)))), 1)
    changes = np.abs(np.diff(speed, 2))
    changes = changes[np.isfinite(changes)]
    scatter = 1.4826 * float(np.median(changes)) / math.sqrt(6.0) if len(changes) else 0.0
    if scatter <= CALM_MPS:
        return one
    return replace(one, track=replace(one.track, speed_mps=averaged(speed, over)))


def _sideways(one: OnPath) -> Sideways:
    """How far beside its path it was at each place, averaged over short stretches."""
    known = np.isfinite(one.station_m) & np.isfinite(one.beside_m)
    station, beside = one.station_m[known], one.beside_m[known]
    first = float(station.min())
    bins = ((station - first) / BIN_M).astype(int)
    count = np.bincount(bins)
    mean = np.bincount(bins, weights=beside) / np.maximum(count, 1)
    filled = np.flatnonzero(count)
    nodes = np.interp(np.arange(len(count) + 1), filled, mean[filled])
    return Sideways(np.zeros(1), first + BIN_M / 2.0, BIN_M, nodes[:, None])


def _still(actor: Actor) -> RunMotion:
    zero = np.zeros((1, 1))
    start = np.full((1, 1), actor.start_m)
    return RunMotion(zero, zero, start, zero, zero, zero, Sideways(np.zeros(1)), np.zeros(1))


def _acted(
    stage: Stage, name: str, ramps: dict[str, dict[int, RampFit]], expected: Floats
) -> Floats:
    """When a trigger acted: the first motion that it set off; where none is seen, as expected of its setting."""
    starts = []
    for mover, actor in stage.actors.items():
        first = actor.steps[0].index if actor.steps else -1
        if actor.launched_by == name and first in ramps[mover]:
            starts.append(ramps[mover][first].starts_s - actor.launch_late_s)
        for step, after in zip(actor.steps, actor.steps[1:], strict=False):
            if step.ended_by == name and after.index in ramps[mover]:
                starts.append(ramps[mover][after.index].starts_s - step.late_s)
    return np.array([min(starts)]) if starts else np.where(expected < NEVER_S, expected, NEVER_S)
