"""What became of each run: encounters, contacts that nobody wants, whether it is valid and what failed first."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from choreo.errors.draws import Draws
from choreo.errors.execution import Performed, perform
from choreo.errors.keeping import SLACK, kept
from choreo.errors.meetings import Met
from choreo.errors.motions import NEVER_S, RunMotion
from choreo.errors.stage import Bystanders, Stage
from choreo.errors.touching import Couple
from choreo.plans.record import EncounterPlan
from choreo.track.motion import motion_of
from choreo.words.records import dataclass

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Codes = NDArray[np.int16]

# Of a run that is valid.
VALID = -1
# How far a run is off the plan is looked at where the plan changes, and so long (s) after its end; in between it is no
# larger than this many times that, and this (m).
LATER_S = 10.0
BETWEEN = 1.25
ROUNDING_M = 0.01


@dataclass(frozen=True, eq=False)
class Outcomes:
    """Many runs judged. encounters: by name. failed, (runs,): what failed first, an index of
    Stage.conditions, or VALID.

    touches_s: of each pair of Stage.bystanders, when they touch, shape (pairs, runs); NEVER_S where they don't.
    """

    encounters: dict[str, Met]
    failed: Codes
    touches_s: Floats

    @property
    def valid(self) -> Flags:
        """Which runs are valid, shape (runs,)."""
        return np.asarray(self.failed == VALID)


def run(stage: Stage, draws: Draws) -> Outcomes:
    """Perform and judge."""
    return outcomes(stage, perform(stage, draws))


def outcomes(stage: Stage, performed: Performed) -> Outcomes:
    """Judge what was performed: tolerances and limits kept, nothing else touched, ways long enough."""
    touches = [_touch_s(stage, one, performed.motions) for one in stage.bystanders]
    first = np.full(performed.draws.runs, np.inf)
    failed = np.full(performed.draws.runs, VALID, dtype=np.int16)
    for code, (fails, time_s) in enumerate(_conditions(stage, performed, touches)):
        sooner = fails & (time_s < first)
        failed[sooner] = code
        first = np.where(sooner, time_s, first)
    together = np.array(touches) if touches else np.zeros((0, performed.draws.runs))
    return Outcomes(
        {name: performed.met[name] for name in stage.scenario.encounters}, failed, together
    )


def _conditions(
    stage: Stage, performed: Performed, touches: list[Floats]
) -> Iterator[tuple[Flags, Floats]]:
    """In which runs each of Stage.conditions fails, and when, in their order."""
    for name in stage.scenario.encounters:
        met, planned = performed.met[name], stage.plan.encounters[name]
        yield ~met.met, np.full(len(met.value), planned.time_s)
        yield met.met & ~within(planned, met), met.time_s
        yield met.met & ~met.right_face, met.time_s
    for touch in touches:
        yield touch < NEVER_S, touch
    yield from kept(stage, performed)


def within(planned: EncounterPlan, met: Met) -> Flags:
    """Say in which runs an encounter's value is what is wanted, give or take its tolerance, shape (runs,)."""
    low, high = planned.wanted
    slack = (1.0 + SLACK) * planned.tolerance
    least, most = np.fmin(met.value, met.least), np.fmax(met.value, met.most)
    return np.asarray((least >= low - slack) & (most <= high + slack))


def _touch_s(stage: Stage, pair: Bystanders, motions: dict[str, RunMotion]) -> Floats:
    """When two that aren't to touch do: looked at only where they are so far off plan that they could."""
    a, b = stage.actors[pair.a], stage.actors[pair.b]
    off = _off_plan_m(stage, pair.a, motions[pair.a]) + _off_plan_m(stage, pair.b, motions[pair.b])
    found = np.full(len(off), NEVER_S)
    rows = np.flatnonzero(off >= pair.apart_m.min())
    if not len(rows):
        return found
    near = np.flatnonzero(pair.apart_m <= off[rows].max())
    couple = Couple(a, motions[pair.a], b, motions[pair.b])
    # Whoever stands by plan from the beginning or at the end may be touched before or after the plan's own time.
    low, high = max(near[0] - 1, 0), min(near[-1] + 1, len(pair.times_s) - 1)
    from_s = np.full(len(rows), pair.times_s[low])
    until = np.full(len(rows), pair.times_s[high])
    if high == len(pair.times_s) - 1:
        until = np.maximum(motions[pair.a].end_s, motions[pair.b].end_s)[rows]
        until = np.where(until < NEVER_S / 2, until, pair.times_s[high])
    found[rows] = couple.first_touch_s(from_s, until, rows)
    return found


def _off_plan_m(stage: Stage, name: str, motion: RunMotion) -> Floats:
    """A bound of how far any point of a mover is from where it is by plan, ever, in m, shape (runs,)."""
    actor, planned = stage.actors[name], motion_of(stage.plan.movers[name])
    off = (
        np.abs(motion.station_m[0] - actor.start_m) if not planned.moves else np.zeros(motion.runs)
    )
    if planned.moves:
        times = np.append(planned.pieces[:, 0], [planned.end_s, planned.end_s + LATER_S])
        for time_s, station in zip(times, planned.states(times)[0], strict=True):
            there, _ = motion.states(np.full(motion.runs, time_s))
            off = np.maximum(off, np.abs(there - station))
    return np.asarray(BETWEEN * off * actor.shape.ratio + motion.sideways.most_m + ROUNDING_M)
