"""Ramps that pause: what is left where no ramp at its limit and no gentler one leads to a plan.

A ramp of any shape takes at least some time, and gains or loses at least some way on its lower or higher speed. Driven
at its limit but for a while of steady speed just after it begins, and one just before it ends, it is as long and as far
as any other, so that these find whatever plan there is at its ends; pauses at more speeds come nearer to other shapes
in between. Here such a ramp is written as ramps and holds one after the other, and a plan of those read back.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from choreo.linear.profile import profile_of
from choreo.problem import Staging
from choreo.problem.records import GapAt, Hold, MoverProblem, Phase, Problem, Ramp
from choreo.scenario import Event, Span
from choreo.solve.reading import MoverReading, PhaseReading, Reading
from choreo.words.records import dataclass

# At which shares of its change of speed a ramp may pause, one after the other until there is a plan: well inside, where
# a pause is soon over; at none but the speeds that triggers look for; near both ends, where it is worth most; all. Who
# keeps a gap to another may pause at its speeds too, but for the first time.
INSIDE = (0.25, 0.75)
SHARES = (INSIDE, (), (0.0002, 0.9998), (0.0002, 0.25, 0.5, 0.75, 0.9998))

# A ramp pauses no longer in all (s). A car is at speed within about ten seconds, a laden truck within half a minute:
# whoever stays at a speed for longer than this before going on drives a hold, which a crew looks for in the programme.
MOST_PAUSE_S = 15.0


@dataclass(frozen=True)
class Pausing:
    """A staging whose ramps of no stated rate may pause.

    parts: of every mover the phase that each of its phases here is a part of. pauses: holds (mover, phase) that stand
    for pauses, and how long (s) the ramp takes at its limit.
    """

    staging: Staging
    parts: Mapping[str, tuple[int, ...]]
    pauses: Mapping[tuple[str, int], float]

    def told(self, reading: Reading) -> Reading:
        """Give a plan's reading with every ramp as one phase again."""
        movers = {name: _whole(mover, self.parts[name]) for name, mover in reading.movers.items()}
        return replace(reading, movers=movers)


def pausing_of(
    staging: Staging,
    ramps: frozenset[tuple[str, int]],
    shares: tuple[float, ...],
    *,
    as_usual: bool = False,
) -> Pausing:
    """Let ramps (mover, phase) pause. shares: of its change of speed at which each may; none: at triggers' settings.

    as_usual: none is harder than its mover's usual rate, where it has one.
    """
    problem = staging.problem
    parts: dict[str, tuple[int, ...]] = {}
    pauses: dict[tuple[str, int], float] = {}
    ends: dict[tuple[str, str], str] = {}
    movers = []
    for mover in problem.movers:
        phases: list[Phase] = []
        of: list[int] = []
        speed = mover.start_speed_mps
        for index, phase in enumerate(mover.phases):
            made: tuple[Phase, ...] = (phase,)
            if isinstance(phase, Ramp):
                if (mover.name, index) in ramps:
                    driven = phase if as_usual else phase.loose
                    at_mps = [speed + one * (phase.to.lo - speed) for one in shares]
                    at_mps += [] if shares == INSIDE else _paces(problem, mover.name)
                    at_mps += [] if shares else _settings(problem, mover.name)
                    made = tuple(_in_parts(driven, _between(at_mps, speed, phase.to.lo)))
                    ends[mover.name, phase.name] = made[-1].name
                    whole = profile_of(driven, speed)
                    for at, part in enumerate(made, len(phases)):
                        if isinstance(part, Hold) and whole is not None:
                            pauses[mover.name, at] = whole.duration_s
                speed = phase.to.lo
            phases += made
            of += [index] * len(made)
        parts[mover.name] = tuple(of)
        movers.append(_with_phases(mover, tuple(phases), of))
    written = _renamed(replace(problem, movers=tuple(movers)), parts, ends)
    return Pausing(replace(staging, problem=written), parts, pauses)


def of_one_ramp(pauses: Mapping[tuple[str, int], float]) -> list[dict[tuple[str, int], float]]:
    """Give the pauses of each ramp: between two of one there is one part of it, between those of two ramps two."""
    found: list[dict[tuple[str, int], float]] = []
    for (name, index), against_s in sorted(pauses.items()):
        if not found or (name, index - 2) not in found[-1]:
            found.append({})
        found[-1][name, index] = against_s
    return found


def _in_parts(ramp: Ramp, speeds_mps: tuple[float, ...]) -> Iterator[Phase]:
    """Ramps up to every speed at which one may pause, each followed by the pause, and the rest of the ramp."""
    for number, speed in enumerate(speeds_mps):
        name = f"{ramp.name}, part {number}" if number else ramp.name
        yield replace(ramp, name=name, to=Span.at(speed))
        yield Hold(f"{ramp.name}, pause {number}", ramp.origin, 0.0, None, None, None, None)
    yield replace(ramp, name=f"{ramp.name}, part {len(speeds_mps)}") if speeds_mps else ramp


def _settings(problem: Problem, mover: str) -> list[float]:
    """The speeds that triggers look for on a mover."""
    return [
        speed
        for one in problem.triggers
        if one.watch == mover and one.condition == "speed"
        for speed in (one.setting.lo, one.setting.hi)
    ]


def _paces(problem: Problem, mover: str) -> list[float]:
    """The speeds of those to whom a mover keeps a gap for a while."""
    found = []
    for gap in problem.encounters:
        if isinstance(gap, GapAt) and gap.until is not None and mover in gap.pair:
            other = problem.mover(gap.b if gap.a == mover else gap.a)
            found.append(other.start_speed_mps)
            found += [one.to.lo for one in other.phases if isinstance(one, Ramp)]
    return found


def _between(speeds_mps: list[float], start_mps: float, end_mps: float) -> tuple[float, ...]:
    """Those strictly between a ramp's two, each once, as it passes them."""
    low, high = sorted((start_mps, end_mps))
    found = {speed for speed in speeds_mps if low < speed < high}
    return tuple(sorted(found, reverse=end_mps < start_mps))


def _with_phases(mover: MoverProblem, phases: tuple[Phase, ...], of: list[int]) -> MoverProblem:
    """A mover whose phases are parts of its own; what is left out is at the same boundary still."""
    begins = [*(of.index(index) for index in range(len(mover.phases))), len(of)]
    left_out = tuple((name, begins[boundary]) for name, boundary in mover.left_out)
    return replace(mover, phases=phases, left_out=left_out)


def _renamed(
    problem: Problem, parts: Mapping[str, tuple[int, ...]], ends: Mapping[tuple[str, str], str]
) -> Problem:
    """A ramp ends as its last part does, and a trigger's phase is where it is now."""

    def event(one: Event) -> Event:
        last = ends.get((one.mover or "", one.name or ""))
        return replace(one, name=last) if one.kind == "phase end" and last else one

    def phase(one: Phase) -> Phase:
        if not isinstance(one, Hold):
            return one
        until = None if one.until is None else event(one.until)
        settled_by = None if one.settled_by is None else event(one.settled_by)
        return replace(one, until=until, settled_by=settled_by)

    movers = tuple(
        replace(one, phases=tuple(phase(each) for each in one.phases)) for one in problem.movers
    )
    triggers = tuple(
        one
        if one.during_phase is None
        else replace(one, during_phase=parts[one.watch].index(one.during_phase))
        for one in problem.triggers
    )
    encounters = tuple(
        replace(one, at=event(one.at), until=None if one.until is None else event(one.until))
        if isinstance(one, GapAt)
        else one
        for one in problem.encounters
    )
    instants = tuple(replace(one, before=event(one.before)) for one in problem.instants)
    return replace(
        problem, movers=movers, triggers=triggers, encounters=encounters, instants=instants
    )


def _whole(mover: MoverReading, parts: tuple[int, ...]) -> MoverReading:
    pieces = tuple(replace(one, phase=parts[one.phase]) for one in mover.pieces)
    phases: dict[int, PhaseReading] = {}
    for index, one in zip(parts, mover.phases, strict=True):
        first = phases.get(index, one)
        phases[index] = replace(first, end_s=one.end_s, end_m=one.end_m, end_mps=one.end_mps)
    return replace(mover, pieces=pieces, phases=tuple(phases.values()))
