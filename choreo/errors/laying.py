"""One mover's motion in many runs, laid phase by phase from what is off in each run.

A ramp starts from the true speed, goes at the achieved rate and ends at the speed that is really held then: its pieces
last longer by what has to be gained over what was planned, and shorter by the rate. Where the speed wanders, pieces are
cut finely: between two nodes of its course the speed changes in a straight line.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import field

import numpy as np
from numpy.typing import NDArray

from choreo.errors.actors import Actor, Step
from choreo.errors.draws import Draws
from choreo.errors.in_step import Company, Drive, Driven
from choreo.errors.motions import NEVER_S, RunMotion, Sideways
from choreo.motion.cubic import gained, travelled
from choreo.words.kinds import ErrorKind
from choreo.words.records import dataclass

Floats = NDArray[np.float64]
Spans = dict[int, tuple[Floats, Floats]]

# A phase that waits for something that hasn't happened yet is laid so long (s) beyond its planned end.
PATIENCE_S = 5.0
# The course of what wanders has so many nodes within its correlation: what it does in between is a thousandth of it.
NODES = 10
# The way beyond start and end (m) over which the course beside the path is laid.
BEYOND_M = 50.0


@dataclass(frozen=True, eq=False)
class Off:
    """What is off with one mover, one number a run, each of shape (runs,).

    wander_mps, over_s, numbers: standard deviation, correlation and normal numbers (nodes, runs) of the speed's course;
    over_s is 0 where it doesn't wander.
    """

    held_mps: Floats
    along_m: Floats
    position_m: Floats
    upwards: Floats
    downwards: Floats
    launch_s: Floats
    sideways: Sideways
    wander_mps: Floats
    over_s: float = 0.0
    numbers: Floats = field(default_factory=lambda: np.zeros((0, 0)))

    @property
    def node_s(self) -> float:
        """Time between two nodes of the speed's course."""
        return self.over_s / NODES


def off_of(actor: Actor, draws: Draws) -> Off:
    """Take what is off with one mover from what was drawn."""

    def value(kind: ErrorKind, perfect: float = 0.0) -> Floats:
        drawn = draws.of(kind, actor.name)
        return np.full(draws.runs, perfect) if drawn is None else drawn

    over = {(one.kind, one.owner): one.over for one in draws.sources}
    over_s = over.get(("speed wander", actor.name)) or 0.0
    numbers = np.zeros((0, 0))
    if over_s > 0.0:
        count = 1 + sum(_nodes(step, over_s / NODES) for step in actor.steps)
        numbers = draws.course("speed wander", actor.name, count)
    base = value("path offset") + value("start beside")
    return Off(
        value("speed held"),
        value("start along"),
        value("position"),
        value("achieved acceleration", 1.0),
        value("achieved braking", 1.0),
        value("launch"),
        _sideways(actor, draws, base, over.get(("path wander", actor.name))),
        value("speed wander"),
        over_s,
        numbers,
    )


def _sideways(actor: Actor, draws: Draws, base: Floats, over_m: float | None) -> Sideways:
    """The course beside the path: a stationary first-order course over the station, exact at its nodes."""
    sizes = draws.of("path wander", actor.name)
    if sizes is None or not over_m:
        return Sideways(base)
    step = over_m / NODES
    way_m = sum(_way_m(one) for one in actor.steps) + 2 * BEYOND_M
    course = draws.course("path wander", actor.name, math.ceil(way_m / step) + 2)
    kept = math.exp(-step / over_m)
    rest = math.sqrt(1.0 - kept**2)
    for node in range(1, len(course)):
        course[node] = kept * course[node - 1] + rest * course[node]
    return Sideways(base, actor.start_m - BEYOND_M, step, course * sizes)


def _way_m(step: Step) -> float:
    return max(step.from_mps, step.to_mps) * step.planned_s


def _nodes(step: Step, node_s: float) -> int:
    """Into how many parts a phase is cut where the speed wanders."""
    if step.changes_speed:
        return sum(max(1, math.ceil(one / node_s)) for one in step.durations_s)
    return math.ceil((step.planned_s + PATIENCE_S) / node_s)


@dataclass(eq=False)
class _Laid:
    """The motion so far: when, where and how fast it ends, shape (runs,); and its pieces, (runs,) or (pieces, runs)."""

    off: Off
    time_s: Floats
    station_m: Floats
    speed_mps: Floats
    wander_mps: Floats
    node: int = 1
    pieces: list[tuple[Floats, ...]] = field(default_factory=list)

    def add(
        self, lasting_s: Floats, accel: Floats, jerk: Floats, ends: tuple[Floats, Floats]
    ) -> None:
        """Add a piece, all of shape (runs,). ends: what wanders on top of its speed at its beginning and its end."""
        early, late = ends
        lasts = lasting_s > 0.0
        slope = np.where(lasts, (late - early) / np.where(lasts, lasting_s, 1.0), 0.0)
        speed, rate = self.speed_mps + early, accel + slope
        self.pieces.append((self.time_s, lasting_s, self.station_m, speed, rate, jerk))
        self.station_m = self.station_m + travelled(lasting_s, speed, rate, jerk)
        self.speed_mps = self.speed_mps + gained(lasting_s, accel, jerk)
        self.time_s = self.time_s + lasting_s

    def fading(self, lasting_s: Floats | float) -> tuple[Floats | float, Floats]:
        """Give what is left of the course after a time, and the size of what is new; shape (runs,) or a number."""
        kept = np.exp(-lasting_s / self.off.over_s)
        return kept, np.sqrt(1.0 - kept**2) * self.off.wander_mps

    def course(self, fading: tuple[Floats | float, Floats]) -> Floats:
        """Give what wanders at the next node, shape (runs,), exact however far that is."""
        kept, new = fading
        found = kept * self.wander_mps + new * self.off.numbers[self.node]
        self.node += 1
        return np.asarray(found)


def lay(
    actor: Actor,
    off: Off,
    acts_s: Mapping[str, Floats],
    meets_s: Mapping[str, Floats],
    company: Company | None = None,
) -> tuple[RunMotion, Spans]:
    """Lay a mover's motion; give it and when each phase begins and ends, by index.

    acts_s: when triggers act; meets_s: when encounters happen, that phases last until; shape (runs,), in s after go.
    What is in neither hasn't happened yet: its phase goes on. company: of one that goes in step.
    """
    runs = len(off.held_mps)
    zeros = np.zeros(runs)
    launch = actor.launch_s + off.launch_s
    if actor.launched_by is not None:
        launch = acts_s.get(actor.launched_by, np.full(runs, NEVER_S)) + actor.launch_late_s
    elif company is not None and company.stepping.at_once:
        launch = company.launched_s
    launch = np.minimum(launch, NEVER_S)
    spans: Spans = {}
    if actor.waits is not None:
        spans[actor.waits] = (zeros, launch)
    rolling = actor.start_mps + off.held_mps if actor.start_mps > 0.0 else zeros
    wander = off.wander_mps * off.numbers[0] if off.over_s > 0.0 else zeros
    station = actor.start_m + off.along_m
    laid = _Laid(off, launch, station, rolling, wander)
    if actor.start_mps > 0.0 and np.all(launch < NEVER_S):
        laid.time_s = np.minimum(launch, 0.0)
        rolls = launch - laid.time_s
        laid.station_m = station - rolling * rolls
        laid.add(rolls, zeros, zeros, (zeros, zeros))
    together = company.stepping.law.phases if company is not None else ()
    driven: Driven | None = None
    for step in actor.steps:
        begins = laid.time_s
        if company is not None and step.name in together:
            if driven is None:
                driven = company.driven((begins, laid.station_m, laid.speed_mps), _drive(off))
            ends = driven.reached_s[together.index(step.name)]
            if step.name == together[-1]:
                ends = _in_step(laid, driven, _ends_s(laid, step, acts_s, meets_s, ends))
            else:
                laid.time_s = ends
        elif step.changes_speed:
            _ramp(laid, step)
            ends = laid.time_s
        else:
            ends = _steady(laid, step, acts_s, meets_s)
        spans[step.index] = (begins, ends)
    if not laid.pieces:
        laid.add(zeros, zeros, zeros, (zeros, zeros))
    start, lasting, at, speed, accel, jerk = (
        np.concatenate([np.atleast_2d(each) for each in one])
        for one in zip(*laid.pieces, strict=True)
    )
    motion = RunMotion(start, lasting, at, speed, accel, jerk, off.sideways, off.position_m)
    return motion, spans


def _ramp(laid: _Laid, step: Step) -> None:
    """A ramp from the speed that is driven to the one that is really held then, at the achieved rate."""
    off = laid.off
    planned = step.to_mps - step.from_mps
    rate = off.upwards if planned > 0.0 else off.downwards
    longer = 1.0 / rate
    if planned != 0.0:
        wanted = step.to_mps + off.held_mps if step.to_mps > 0.0 else 0.0
        longer = np.maximum((wanted - laid.speed_mps) / (planned * rate), 0.0)
    for duration, accel, jerk in _commands(step):
        if duration <= 0.0:
            continue
        lasting, rates = duration * longer, accel * rate
        changes = np.where(longer > 0.0, jerk * rate / np.where(longer > 0.0, longer, 1.0), 0.0)
        _cut(laid, step, lasting, rates, changes, planned_s=duration)
    if step.to_mps == 0.0:
        laid.speed_mps = np.zeros_like(laid.speed_mps)


def _commands(step: Step) -> Iterator[tuple[float, float, float]]:
    table = zip(step.durations_s, step.accels_mps2, step.jerks_mps3, strict=True)
    return ((float(d), float(a), float(j)) for d, a, j in table)


def _cut(
    laid: _Laid, step: Step, lasting: Floats, rates: Floats, changes: Floats, *, planned_s: float
) -> None:
    """One command of a ramp: whole, or in parts where the speed wanders."""
    off = laid.off
    still = np.zeros_like(lasting)
    if off.over_s <= 0.0:
        laid.add(lasting, rates, changes, (still, still))
        return
    parts = max(1, math.ceil(planned_s / off.node_s))
    each = lasting / parts
    fading = laid.fading(each)
    for part in range(parts):
        early = laid.wander_mps * _grown(laid, step)
        rate = rates + changes * (part * each)
        laid.wander_mps = laid.course(fading)
        reached = laid.speed_mps + gained(each, rate, changes)
        late = laid.wander_mps * _grown(laid, step, reached)
        laid.add(each, rate, changes, (early, late))


def _grown(laid: _Laid, step: Step, speed: Floats | None = None) -> Floats | float:
    """How much of the course there is: none at rest, all of it at the speed that is held before or after a ramp."""
    if step.from_mps > 0.0 and step.to_mps > 0.0:
        return 1.0
    top = max(step.from_mps, step.to_mps)
    speed = laid.speed_mps if speed is None else speed
    return np.clip(speed / top, 0.0, 1.0) if top > 0.0 else 0.0


def _drive(off: Off) -> Drive:
    return Drive(off.held_mps, off.position_m, off.upwards, off.downwards, off.launch_s)


def _in_step(laid: _Laid, driven: Driven, ends: Floats) -> Floats:
    """All phases that were driven in step, the last of which ends then; give that."""
    until = np.minimum(ends, np.maximum(driven.time_s, driven.reached_s[-1]) + PATIENCE_S)
    goes_on = np.maximum(until - driven.time_s, 0.0)
    still = np.zeros_like(goes_on)
    last = np.stack((driven.time_s, goes_on, driven.station_m, driven.speed_mps, still, still))
    # Pieces after which every run goes on stay as they are.
    kept = driven.pieces.shape[1]
    while kept and (driven.pieces[0, kept - 1] + driven.pieces[1, kept - 1] > until).any():
        kept -= 1
    pieces = np.concatenate((driven.pieces[:, kept:], last[:, None, :]), axis=1)
    start, lasting = pieces[:2]
    np.clip(until - start, 0.0, lasting, out=lasting)
    # The piece in which it ends, or the first that comes only after that.
    ending = np.argmax(start + lasting >= until, axis=0)
    ending = np.where((start + lasting >= until).any(axis=0), ending, len(start) - 1)
    at = ending, np.arange(len(until))
    _, lasts, station, speed, accel, jerk = (one[at] for one in pieces)
    laid.time_s = start[at] + lasts
    laid.station_m = station + travelled(lasts, speed, accel, jerk)
    laid.speed_mps = speed + gained(lasts, accel, jerk)
    # What comes after its end begins there.
    over = start > laid.time_s
    if over.any():
        ended = (laid.time_s, still, laid.station_m, laid.speed_mps)
        for row, value in zip(pieces[:4], ended, strict=True):
            row[over] = np.broadcast_to(value, over.shape)[over]
    laid.pieces += [tuple(driven.pieces[:, :kept]), tuple(pieces)]
    return np.asarray(ends)


def _ends_s(
    laid: _Laid,
    step: Step,
    acts_s: Mapping[str, Floats],
    meets_s: Mapping[str, Floats],
    planned_s: Floats,
) -> Floats:
    """When a hold or a wait ends, NEVER_S where that isn't known yet. planned_s: where nothing else ends it."""
    begins = laid.time_s
    if step.ended_by is not None:
        acts = acts_s.get(step.ended_by)
        return np.full_like(begins, NEVER_S) if acts is None else acts + step.late_s
    if step.until is not None:
        ends = meets_s.get(step.until, np.full_like(begins, NEVER_S))
        # Where it is missed the phase ends when planned.
        missed = (step.until in meets_s) & (ends >= NEVER_S)
        return np.where(missed, planned_s, ends)
    if step.ends_at_s is not None:
        return np.full_like(begins, step.ends_at_s)
    if step.station_m is not None:
        return begins + _over(laid, step.station_m - laid.station_m - laid.off.position_m, step)
    if step.way_m is not None:
        return begins + _over(laid, np.full_like(begins, step.way_m), step)
    return planned_s


def _steady(
    laid: _Laid, step: Step, acts_s: Mapping[str, Floats], meets_s: Mapping[str, Floats]
) -> Floats:
    """A hold or a wait; give when it ends, NEVER_S where that isn't known yet."""
    begins = laid.time_s
    patient = begins + step.planned_s + PATIENCE_S
    ends = _ends_s(laid, step, acts_s, meets_s, begins + step.planned_s)
    lasting = np.clip(np.minimum(ends, patient) - begins, 0.0, None)
    still = np.zeros_like(lasting)
    moving = laid.speed_mps > 0.0
    if laid.off.over_s <= 0.0 or not moving.any():
        laid.add(lasting, still, still, (still, still))
        laid.node += _nodes(step, laid.off.node_s) if laid.off.over_s > 0.0 else 0
        return np.asarray(np.maximum(ends, begins))
    node_s = laid.off.node_s
    grown = 1.0 if step.from_mps > 0.0 else 0.0
    fading = laid.fading(node_s)
    for part in range(_nodes(step, node_s)):
        each = np.clip(lasting - part * node_s, 0.0, node_s)
        early = laid.wander_mps
        # A part that is broken off ends on the straight line to the node that it would have come to.
        late = early + (laid.course(fading) - early) * (each / node_s)
        laid.wander_mps = late
        laid.add(each, still, still, (early * grown, late * grown))
    return np.asarray(np.maximum(ends, begins))


def _over(laid: _Laid, way_m: Floats, step: Step) -> Floats:
    """How long a way takes at the speed that is held; as long as by plan where it stands."""
    moving = laid.speed_mps > 0.0
    return np.where(
        moving, np.maximum(way_m, 0.0) / np.where(moving, laid.speed_mps, 1.0), step.planned_s
    )
