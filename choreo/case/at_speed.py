"""Who is not at the speed of its hold at an encounter, because nothing says how long that hold lasts."""

from __future__ import annotations

from collections.abc import Iterator

from choreo.problem.records import Encounter, GapAt, Hold, MoverProblem, PassAt, Problem, Ramp, Wait
from choreo.scenario import Event
from choreo.solve import Solved
from choreo.solve.reading import MoverReading
from choreo.words import Finding
from choreo.words.display import kmh
from choreo.words.records import dataclass

# Speeds that differ by less than this (m/s) are the same.
SAME_SPEED_MPS = 0.05


def speed_findings(staged: Solved) -> Iterator[Finding]:
    """Warn of movers that have begun to brake, or have not reached the speed of their hold, at an encounter.

    The shortest runway is found so where a hold has no end: hardly what is meant. Where something in the file says when
    that happens (an event, a trigger that watches the braking, a wait) it is wanted.
    """
    problem, reading = staged.staging.problem, staged.solution.reading
    for encounter in problem.encounters:
        moment = reading.moments.get(encounter.name)
        for name in () if moment is None else _looked_at(problem, encounter):
            time_s = 0.0 if moment is None else moment.time_s
            mover, motion = problem.mover(name), reading.movers[name]
            missed = _missed(problem, mover, motion, encounter, time_s)
            if missed is None:
                continue
            ordered, then = motion.phases[missed.hold].start_mps, motion.at(time_s)[1]
            if abs(ordered - then) <= SAME_SPEED_MPS:
                continue
            values = {
                "mover": name,
                "encounter": encounter.name,
                "then": kmh(then, 1),
                "ordered": kmh(ordered, 1),
                "phase": mover.phases[missed.hold].name,
                "what": missed.what,
                "event": _told(encounter),
            }
            yield Finding("plan.not-at-speed", "warning", mover.phases[missed.hold].origin, values)


@dataclass(frozen=True, slots=True)
class _Missed:
    """The hold (its index) whose speed a mover does not have, and why."""

    hold: int
    what: str


def _looked_at(problem: Problem, encounter: Encounter) -> tuple[str, ...]:
    """The movers of an encounter that are to be at speed then: of a gap not the one whose own event it is at.

    Of a pass the later one is looked at where it enters, by itself.
    """
    if isinstance(encounter, PassAt):
        return (encounter.first,)
    if not isinstance(encounter, GapAt):
        return encounter.pair
    if _stands(problem, encounter.at):
        return ()
    return tuple(name for name in encounter.pair if name != encounter.at.mover)


def _stands(problem: Problem, event: Event) -> bool:
    """Whether an event is the end of a stop: all may have come to rest by then."""
    if event.kind != "phase end" or event.mover is None:
        return False
    phases = problem.mover(event.mover).phases
    return any(isinstance(one, Ramp) and one.is_stop and one.name == event.name for one in phases)


def _missed(
    problem: Problem, mover: MoverProblem, motion: MoverReading, encounter: Encounter, time_s: float
) -> _Missed | None:
    phases = mover.phases
    if not phases:
        return None
    now = sum(time_s >= one.start_s for one in motion.phases) - 1
    first = next((i for i, one in enumerate(phases) if isinstance(one, Ramp)), len(phases))
    early = now <= first and not isinstance(encounter, GapAt)
    if early and first + 1 < len(phases) and isinstance(phases[first + 1], Hold):
        stands = time_s <= motion.launch_s and not isinstance(phases[0], Wait)
        if stands or now == first:
            what = "it has not left yet" if stands else "it has not reached it yet"
            return _Missed(first + 1, what)
    ramp = phases[max(now, 0)]
    before = phases[now - 1] if now > 0 else None
    if not isinstance(ramp, Ramp) or not isinstance(before, Hold) or not _open(before):
        return None
    if ramp.ends_at_m is not None or _is_pinned(problem, mover, now):
        return None
    return _Missed(now - 1, "it has begun to brake" if ramp.direction < 0 else "it has sped up")


def _open(hold: Hold) -> bool:
    """Whether nothing says how long a hold lasts."""
    return all(one is None for one in (hold.for_s, hold.for_m, hold.until, hold.ends_at_m))


def _is_pinned(problem: Problem, mover: MoverProblem, boundary: int) -> bool:
    """Whether something in the file happens when the phase of that index begins, or a trigger watches that phase."""
    watched = any(
        one.watch == mover.name and one.during_phase == boundary for one in problem.triggers
    )
    return watched or any(mover.boundary_of(event) == boundary for event in events_of(problem))


def events_of(problem: Problem) -> Iterator[Event]:
    """Give the moments at which gaps are asked for and holds end or are settled."""
    for encounter in problem.encounters:
        if isinstance(encounter, GapAt):
            yield from (one for one in (encounter.at, encounter.until) if one is not None)
    for phase in (phase for mover in problem.movers for phase in mover.phases):
        if isinstance(phase, Hold):
            yield from (one for one in (phase.until, phase.settled_by) if one is not None)


def _told(encounter: Encounter) -> str:
    """What to write for the hold to last so long: the encounter, or the moment at which a gap is asked for."""
    if not isinstance(encounter, GapAt):
        return encounter.name
    event = encounter.at
    match event.kind:
        case "phase start" | "mark start":
            return f"start of {event.mover}.{event.name}"
        case "phase end" | "mark end":
            return f"end of {event.mover}.{event.name}"
        case "launch":
            return f"launch of {event.mover}"
        case "encounter" | "trigger" | "instant":
            return str(event.name)
