"""The linear stage: a staging whose ramps are given is decided, with a plan or with rows that can't all hold."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import assert_never

from choreo.geometry import lap_of
from choreo.linear.affine import Affine, given, unknown
from choreo.linear.again import Again, Memory
from choreo.linear.cornering import cornering
from choreo.linear.crossings import Crossing, drive_on, keep_clear
from choreo.linear.firsts import Early, Firsts
from choreo.linear.held import Held
from choreo.linear.lanes import Apart, Ends, Lanes
from choreo.linear.merging import Merges, Merging
from choreo.linear.model import Model
from choreo.linear.pausing import MOST_PAUSE_S, of_one_ramp
from choreo.linear.profile import may_be_chosen, may_be_gentler
from choreo.linear.reading import motions_of, reading_of
from choreo.linear.records import NotLinear, Track
from choreo.linear.rows import Row, at_least
from choreo.linear.search import GAP, MOST_SOLVED, Excluded, Found, LinearSolver, Search
from choreo.linear.sliding import sliding
from choreo.linear.together import together
from choreo.linear.triggers import slows_down_first
from choreo.linear.writing import model_of
from choreo.problem.build import Staging
from choreo.problem.patience import TimeUp
from choreo.problem.records import Problem, Ramp
from choreo.solve.reading import Reading
from choreo.words.records import dataclass

# Weight of the sum of all times beside the objective, as in the nonlinear stage: among equals, the quicker.
QUICKER = 1e-6
# Weight of a ramp's departure from its limit: as little as possible comes before the objective.
NEARER = 1e4
# A ramp that lasts twice as long as at its limit is worth so much less drift (m) of gaps that hold.
STEADY_FOR_M = 1.0
# The least drift (m) of gaps that hold is known to STEADY_M; no runway and no time is worth more of it than ROUNDING_M.
STEADY_M, ROUNDING_M = 1e-4, 1e-6
# Where they hold along curves the objective is known to this (m or s) only: finer takes many times as long.
CURVED_M = 1e-2
# Room between movers of one path is asked for so many times before the search gives up.
MOST_ROUNDS = 12
# Whether there is no plan either where curved relations are only bounded is asked of so many linear problems.
MOST_UNSEEN = 400
# Among plans whose gaps hold the least is looked for by so many linear problems, over all rounds.
MOST_BESIDE_HELD = 500
# Whether there is no plan whatever the shape of ramps is asked of so many linear problems, over all rounds.
MOST_ANYHOW = 1500


@dataclass(frozen=True)
class Decision:
    """What the linear stage found: a reading of the least plan, or a conflict, or (neither) that it can't tell.

    spaced: room between movers of one lane at their starts was asked for. passed_over: what might happen inside of
    ramps whose shape is open was not looked at, or only carefully. asked: values of curved relations that geometry was
    asked for.
    """

    reading: Reading | None
    conflict: Excluded | None = None
    solved: int = 0
    spaced: bool = False
    passed_over: bool = False
    roomy: bool = False
    nowhere: bool = False
    asked: int = 0
    apart: tuple[Apart | Early, ...] = ()
    least: bool = True
    moments: tuple[Apart, ...] = ()


def decide(
    staging: Staging,
    ends: Mapping[str, Ends],
    solve: LinearSolver,
    *,
    freed: frozenset[tuple[str, int]] = frozenset(),
    room_m: float = 0.0,
    anyhow: bool = False,
    exact: bool = False,
    crossings: Sequence[Crossing] = (),
    apart_m: float = 0.0,
    apart: Sequence[Apart | Early] = (),
    once: bool = False,
    merging: Sequence[Merging] = (),
    most: int = MOST_SOLVED,
    memory: Memory | None = None,
    pauses: Mapping[tuple[str, int], float] | None = None,
    through: bool = False,
) -> Decision | None:
    """Decide a staging, every ramp at its given rate or at its limit.

    ends: of the bodies, by mover. freed: ramps (mover, phase) that may be gentler than their limit, as little as
    possible; anyhow: of any shape inside their limits, which makes no plan but a proof. exact: without room beyond what
    counts, for a proof. room_m: that movers of one lane keep at their starts, and from marks and ways that they pass.
    crossings: who must not be where they cross at once; with them nothing is proven. apart_m: room that movers of one
    lane keep throughout, else as crossings. apart: where they came too near in plans found before; once: these are
    asked for at once, and nothing that a plan shows beyond. merging: as
    crossings, in one lane. most: linear problems that one search may take. memory: of neighbours' searches. pauses:
    holds (mover, phase) that are as short as can be, each against so many seconds, and those of a ramp no longer than
    a ramp pauses. through: movers of one lane start one behind the other and pass through each other later on. Returns
    None where a speed or a shape is left to choose.
    """
    try:
        model = model_of(staging.problem, tracks_of(staging), freed, anyhow=anyhow, exact=exact)
    except NotLinear:
        return None
    careful = False
    for name, course in model.courses.items():
        path = staging.paths[name]
        choices = [*cornering(course, path), *sliding(course), *together(course, path)]
        # Where in a curve a ramp of open shape is how fast is only bounded, on the careful side.
        careful |= bool(choices) and any(step.lasts is not None for step in course.steps)
        model.choices += choices
    lanes = Lanes(model, staging.paths, ends, apart_m, *([0.0] if model.exact else []))
    lanes.in_order(room_m)
    # A proof asks at first where its own plans come too near: fewer rows say the same.
    later = [one for one in apart if isinstance(one, Apart)] if anyhow and not once else []
    lanes.ask_again([one for one in apart if isinstance(one, Apart) and one not in later])
    more = drive_on(model, room_m)
    held = Held(model)
    firsts = Firsts(model, frozenset(n for n, path in staging.paths.items() if lap_of(path)))
    firsts.ask_again([one for one in apart if isinstance(one, Early)])
    for crossing in crossings:
        keep_clear(model, crossing)
    merges = Merges(model, merging, room_m)
    departs = _departures(model)
    for ramp in of_one_ramp(pauses or {}):
        in_all = Affine()
        for (name, index), against_s in ramp.items():
            course = model.courses[name]
            pause = course.time(index + 1).minus(course.time(index))
            in_all = in_all.plus(pause)
            departs = departs.plus(pause, 1.0 / against_s)
        model.rows.append(at_least(given(MOST_PAUSE_S), in_all))
    cost = objective(model).plus(departs, NEARER)
    # No gap is so steady that a ramp should be several times as long for it.
    steadiness = held.drifts.plus(departs, STEADY_FOR_M)
    solved = 0
    found: Found | None = None
    patience = MOST_ANYHOW if anyhow else MOST_BESIDE_HELD
    for _ in range(MOST_ROUNDS):
        effort = min(most, patience) if held.gaps or anyhow else most
        found = _least(model, held, (steadiness, cost), solve, effort, found, memory)
        solved, patience = solved + found.solved, max(patience - found.solved, 0)
        if found.values is None:
            if firsts.exactly():
                continue
            if crossings or merging or apart_m:
                return Decision(None, solved=solved)
            spaced = room_m > 0.0 and (bool(lanes.pairs) or more)
            none = _none(model, found, cost, solve, most)
            none = replace(
                none, solved=solved, asked=_asked(model), apart=(*lanes.asked, *firsts.asked)
            )
            roomy = not model.exact and (bool(lanes.pairs) or slows_down_first(model))
            return replace(
                none, spaced=spaced, passed_over=none.passed_over or careful, roomy=roomy
            )
        if once:
            return Decision(None, solved=solved, moments=tuple(lanes.moments()))
        motions = motions_of(model, found.values)
        kept = (held, firsts, merges) if through else (lanes, held, firsts, merges)
        asked = [one.ask(motions, found.values) for one in kept]
        if not any(asked) and later:
            lanes.ask_again(later)
            later = []
            continue
        if not any(asked):
            if anyhow:
                break
            reading = reading_of(model, found.values, motions)
            return Decision(reading, solved=solved, asked=_asked(model), least=found.complete)
    return Decision(None, solved=solved, asked=_asked(model))


def _asked(model: Model) -> int:
    return sum(one.asked for one in model.relations)


def _least(
    model: Model,
    held: Held,
    costs: tuple[Affine, Affine],
    solve: LinearSolver,
    most: int,
    earlier: Found | None,
    memory: Memory | None,
) -> Found:
    """The least cost; among gaps that hold that of the plans that drift least. earlier: what was found before.

    costs: of drifting, and of all else.
    """
    steadiness, cost = costs
    if model.anyhow:  # a proof asks whether there is anything at all
        return Search(model, cost, solve, math.inf, most).run(earlier)
    if not held.gaps and memory is not None:
        return Again(model, cost, solve, most, memory).run(earlier)
    if not held.gaps:
        return Search(model, cost, solve, most=most).run(earlier)
    steady = Search(model, steadiness, solve, STEADY_M).run(earlier)
    if steady.values is None:
        return steady
    most_m = held.drifts.at(steady.values) + ROUNDING_M
    model.rows.append(Row(held.drifts, -math.inf, most_m))
    gap = CURVED_M if model.relations else GAP
    try:
        found = Search(model, cost, solve, gap, most).run(steady)
    except TimeUp:
        return replace(steady, complete=False)
    finally:
        model.rows.pop()
    return found if found.values else replace(steady, complete=False, solved=found.solved)


def unstated(problem: Problem) -> frozenset[tuple[str, int]]:
    """Give the ramps (mover, phase) whose rate nobody states."""
    return frozenset(
        (mover.name, index)
        for mover in problem.movers
        for index, phase in enumerate(mover.phases)
        if isinstance(phase, Ramp) and not phase.chosen and may_be_gentler(phase)
    )


def chosen(problem: Problem) -> frozenset[tuple[str, int]]:
    """Give the ramps (mover, phase) whose rate the author leaves to be chosen."""
    return frozenset(
        (mover.name, index)
        for mover in problem.movers
        for index, phase in enumerate(mover.phases)
        if isinstance(phase, Ramp) and may_be_chosen(phase)
    )


def open_shapes(problem: Problem) -> frozenset[tuple[str, int]]:
    """Give the ramps (mover, phase) whose shape is not wholly given: a length or a duration alone leaves it open."""
    return frozenset(
        (mover.name, index)
        for mover in problem.movers
        for index, phase in enumerate(mover.phases)
        if isinstance(phase, Ramp) and not phase.rated
    )


def _departures(model: Model) -> Affine:
    """By how much ramps differ from their limit or usual rate, each as a share of its duration at that.

    A ramp whose rate the author leaves to be chosen departs from nothing.
    """
    total = given(0.0)
    for name, course in model.courses.items():
        for step in course.steps:
            ramp = course.mover.phases[step.index]
            if step.lasts is None or step.profile is None or not isinstance(ramp, Ramp):
                continue
            if ramp.chosen:
                continue
            departs = step.lasts.times(1.0 / step.profile.duration_s).minus(1.0)
            if ramp.limit is None:
                total = total.plus(departs)
                continue
            either = unknown(f"{name} {step.index}: departs from the usual")
            model.rows += [at_least(either, departs), at_least(either, departs.times(-1.0))]
            total = total.plus(either)
    return total


def _none(model: Model, found: Found, cost: Affine, solve: LinearSolver, most: int) -> Decision:
    """No plan: proven, unless it leans on looks at a curved relation between two lanes."""
    if not found.complete:
        return Decision(None)
    if model.relations:
        model.relations = [replace(one, looks=False) for one in model.relations]
        again = Search(model, cost, solve, most=min(most, MOST_UNSEEN)).run()
        if again.values is not None or not again.complete:
            return Decision(None, nowhere=True)
        found = again
    return Decision(None, found.excluded, passed_over=found.passed_over, nowhere=True)


def tracks_of(staging: Staging) -> dict[str, Track]:
    """Give the curved relations of a staging, by encounter or trigger."""
    tracks: dict[str, Track] = dict(staging.gaps)
    for name, meeting in staging.meetings.items():
        track = meeting.tracks[staging.chosen[name]]
        if track is not None:
            tracks[name] = track
    return tracks


def objective(model: Model) -> Affine:
    """What is made least: total runway, or the time of the last encounter; the quicker among equals."""
    problem: Problem = model.problem
    moving = [course for course in model.courses.values() if course.steps]
    cost = given(0.0)
    for course in moving:
        for time in (course.launch, course.end_time):
            cost = cost.plus(time, QUICKER)
    for met in model.met.values():
        cost = cost.plus(met.time, QUICKER)
    match problem.prefer:
        case "quickest run":
            return cost.plus(model.last())
        case "gentlest ramps":
            return cost
        case "shortest runway" | "smallest error":  # what may be off is looked at outside
            for course in moving:
                cost = cost.plus(course.end_station).minus(course.start)
            return cost
        case _:
            assert_never(problem.prefer)
