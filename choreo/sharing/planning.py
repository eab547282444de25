"""A shared track planned: circuits of all vehicles, differences of starts that can't be, the timetable, its replay."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path as File

from choreo.circuits.planning import PlannedCircuit, plan_circuit
from choreo.circuits.reading import load_circuit
from choreo.circuits.records import VEHICLE
from choreo.scenario.making.companions import named_at
from choreo.scenario.making.draft import Draft
from choreo.scenario.text.document import parse_document, read_text
from choreo.scenario.written.faults import in_order, validated
from choreo.sharing.blocking import Course, Gap, course_of, forbidden_between
from choreo.sharing.first_fit import first_fit, packed
from choreo.sharing.replay import Breach, breaches
from choreo.sharing.timetable import Apart, Interval, Segment, Timetable, gaps_of, timetable
from choreo.sharing.written import ShareWritten
from choreo.words import ChoreoError, Finding, errors_of
from choreo.words.quantities import quoted

BEGINS_WITH = "choreo share"
# Up to so many vehicles a timetable is searched; more get one pattern that is repeated.
MOST_SEARCHED = 12
SECONDS = 4.0
# A timetable that ends within this share of the bound is the best there is.
PROVED = 1e-4
Progress = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class Vehicle:
    """One vehicle: its name, the circuit file that it drives, when it is ready in s."""

    name: str
    file: str
    ready_s: float


@dataclass(frozen=True)
class SharedTrack:
    """A timetable: starts_s by vehicle; None: there is none, and conflict names the fewest that can't be together.

    bound_s: no timetable of these runs ends sooner. carries: how many the main path carries at this headway. pattern_s:
    the one difference that is repeated, where the vehicles are too many for a search. breaches: what the replay found.
    """

    title: str
    about: str
    files: tuple[str, ...]
    vehicles: tuple[Vehicle, ...]
    circuits: Mapping[str, PlannedCircuit]
    courses: Mapping[str, Course]
    gap: Gap
    starts_s: tuple[float, ...] | None
    ends_s: float
    bound_s: float
    proved: bool
    carries: int
    within_s: float
    pattern_s: float | None = None
    conflict: tuple[str, ...] = ()
    breaches: tuple[Breach, ...] = ()

    @property
    def well(self) -> bool:
        """Whether there is a timetable and the replay agrees."""
        return self.starts_s is not None and not self.breaches


def plan_share(file: File, tell: Progress | None = None) -> SharedTrack:
    """Plan a shared track. Raises ChoreoError: faults of the file and of its circuits."""
    say = tell or (lambda _word: None)
    document = parse_document(read_text(file), str(file))
    draft = Draft(document)
    if BEGINS_WITH not in document.data:
        why = f"it has no `{BEGINS_WITH}: 1`"
        values = {"kind": "a shared track", "why": why, "key": BEGINS_WITH}
        raise ChoreoError((Finding("scenario.not-the-kind", "error", document.origin(()), values),))
    written = validated(document, ShareWritten, draft.findings)
    if written is None or errors_of(draft.findings):
        raise ChoreoError(in_order(draft.findings))
    circuits: dict[str, PlannedCircuit] = {}
    for name, one in written.vehicles.items():
        if one.file in circuits:
            continue
        place = document.origin(("vehicles", name, "file"))
        say(f"circuit {one.file}")
        try:
            circuits[one.file] = plan_circuit(load_circuit(file.parent / one.file))
        except ChoreoError as error:
            draft.findings += named_at(place, error.findings)
    if errors_of(draft.findings):
        raise ChoreoError(in_order(draft.findings))
    _check(draft, written, circuits)
    files = [str(file), *(f for one in circuits.values() for f in one.circuit.base.source_files)]
    vehicles = tuple(
        Vehicle(name if one.count == 1 else f"{name} {number}", one.file, one.ready)
        for name, one in written.vehicles.items()
        for number in range(1, one.count + 1)
    )
    return _planned(written, tuple(files), vehicles, circuits, say)


def _check(draft: Draft, written: ShareWritten, circuits: Mapping[str, PlannedCircuit]) -> None:
    """All drive one main path, and single places are excursions of somebody."""
    mains = {
        name: plan.circuit.base.paths[plan.circuit.written.main] for name, plan in circuits.items()
    }
    first = next(iter(mains.values()))
    for name, one in written.vehicles.items():
        if mains[one.file] != first:
            keys = ("vehicles", name, "file")
            draft.fault("share.other-track", keys, vehicle=quoted(name), file=quoted(one.file))
    known = {name for plan in circuits.values() for name in plan.circuit.excursions}
    for index, name in enumerate(written.single):
        if name not in known:
            draft.unknown(("single", index), "excursion", name, sorted(known))
    if errors_of(draft.findings):
        raise ChoreoError(in_order(draft.findings))


def _planned(
    written: ShareWritten,
    files: tuple[str, ...],
    vehicles: tuple[Vehicle, ...],
    circuits: Mapping[str, PlannedCircuit],
    say: Progress,
) -> SharedTrack:
    length = max(one.circuit.base.movers[VEHICLE].body.length_m for one in circuits.values())
    headway = written.headway
    gap = Gap(headway.reaction, headway.braking, length + headway.margin)
    courses = {name: course_of(plan, slots=written.slots) for name, plan in circuits.items()}
    say("differences of starts that can't be")
    single = frozenset(written.single)
    known = {
        (a, b): forbidden_between(courses[a], courses[b], gap, single)
        for a in courses
        for b in courses
    }
    within = math.inf if written.within is None else written.within
    say("timetable")
    found, pattern, conflict = _timetable(vehicles, courses, known, within)
    some = next(iter(courses.values()))
    breaks: tuple[Breach, ...] = ()
    if found is not None:
        say("replay of all together")
        runs = [
            (one.name, courses[one.file], t)
            for one, t in zip(vehicles, found.starts_s, strict=True)
        ]
        breaks = breaches(runs, gap, single)
    return SharedTrack(
        written.title,
        written.about,
        files,
        vehicles,
        circuits,
        courses,
        gap,
        None if found is None else found.starts_s,
        math.inf if found is None else found.ends_s,
        _bound(vehicles, courses, known) if found is None else found.bound_s,
        found is not None and found.proved,
        some.carries(gap),
        within,
        pattern,
        conflict,
        breaks,
    )


Known = Mapping[tuple[str, str], tuple[Interval, ...]]


def _timetable(
    vehicles: Sequence[Vehicle], courses: Mapping[str, Course], known: Known, within_s: float
) -> tuple[Timetable | None, float | None, tuple[str, ...]]:
    bound = _bound(vehicles, courses, known)
    rolling = _rolling(vehicles, courses, known)
    if rolling is not None and len(vehicles) > MOST_SEARCHED:
        if rolling[0].ends_s <= within_s:
            return rolling[0], rolling[1], ()
    elif bound > within_s:
        return None, None, _smallest(vehicles, courses, known, within_s)
    lasts = [courses[one.file].lasts_s for one in vehicles]
    ready = [one.ready_s for one in vehicles]
    starts = first_fit(lasts, ready, lambda i, j: known[vehicles[i].file, vehicles[j].file])
    ends = max(t + one for t, one in zip(starts, lasts, strict=True))
    if rolling is not None and len(vehicles) > 1:
        forbidden = known[vehicles[0].file, vehicles[0].file]
        least = min(max(low, -high, 0.0) for low, high in gaps_of(forbidden))
        close = packed(forbidden, len(vehicles), least, ends - lasts[0] - ready[0])
        if close:
            starts = tuple(t + ready[0] for t in close)
            ends = starts[-1] + lasts[0]
    best = Timetable(starts, ends, bound, ends - bound <= PROVED * ends)
    pattern = None
    if rolling is not None and rolling[0].ends_s <= best.ends_s:
        best, pattern = rolling
    if best.proved and best.ends_s <= within_s:
        return best, pattern, ()
    segments = [Segment(i, lasts[i], ready[i]) for i in range(len(vehicles))]
    until = min(within_s, best.ends_s)
    aparts = _aparts(vehicles, known)
    try:
        found = timetable(segments, aparts, until_s=until, seconds=SECONDS, bound_s=bound)
    except TimeoutError:
        if best.ends_s > within_s:
            raise
        return best, pattern, ()
    if found is None and best.ends_s > within_s:
        return None, None, _smallest(vehicles, courses, known, within_s)
    if found is None:
        # No timetable ends before the one that is known.
        return Timetable(best.starts_s, best.ends_s, best.ends_s, True), pattern, ()
    return found, None, ()


def _aparts(vehicles: Sequence[Vehicle], known: Known) -> list[Apart]:
    """Pairs of vehicles; of two that are alike the first one written starts first."""
    aparts = []
    for i, one in enumerate(vehicles):
        for j in range(i + 1, len(vehicles)):
            other = vehicles[j]
            forbidden = known[one.file, other.file]
            if (one.file, one.ready_s) == (other.file, other.ready_s):
                behind = [(low, high) for low, high in forbidden if high > 0.0]
                first = behind[0] if behind and behind[0][0] <= 0.0 else (0.0, 0.0)
                rest = [pair for pair in behind if pair[0] > 0.0]
                forbidden = ((-math.inf, first[1]), *rest)
            aparts.append(Apart(i, j, tuple(forbidden)))
    return aparts


def _bound(vehicles: Sequence[Vehicle], courses: Mapping[str, Course], known: Known) -> float:
    """No timetable ends sooner: the longest run alone; as many least differences as starts after the first."""
    alone = max(one.ready_s + courses[one.file].lasts_s for one in vehicles)
    files = {one.file for one in vehicles}
    least = min(
        min(max(low, -high, 0.0) for low, high in gaps_of(known[a, b]))
        for a in files
        for b in files
    )
    first = min(one.ready_s for one in vehicles)
    shortest = min(courses[name].lasts_s for name in files)
    return max(alone, first + (len(vehicles) - 1) * least + shortest)


def _rolling(
    vehicles: Sequence[Vehicle], courses: Mapping[str, Course], known: Known
) -> tuple[Timetable, float] | None:
    """One difference, repeated, for vehicles that are all alike: the least that is allowed with all its multiples."""
    one = vehicles[0]
    if any((two.file, two.ready_s) != (one.file, one.ready_s) for two in vehicles):
        return None
    count = len(vehicles)
    forbidden = known[one.file, one.file]
    tries = (
        {0.0}
        if count == 1
        else {high / k for _, high in forbidden for k in range(1, count) if high > 0.0}
    )
    for d in sorted(tries):
        multiples = [k * d for k in range(1, count)]
        if all(not low + 1e-6 < m < high - 1e-6 for m in multiples for low, high in forbidden):
            starts = tuple(one.ready_s + k * d for k in range(count))
            ends = starts[-1] + courses[one.file].lasts_s
            bound = _bound(vehicles, courses, known)
            return Timetable(starts, ends, bound, ends - bound <= 1e-4 * ends), d
    return None


def _smallest(
    vehicles: Sequence[Vehicle], courses: Mapping[str, Course], known: Known, within_s: float
) -> tuple[str, ...]:
    """The fewest that can't be together: one after the other is left out where the rest still can't."""
    left = list(vehicles)
    for one in list(vehicles):
        rest = [two for two in left if two is not one]
        if not rest:
            break
        if _bound(rest, courses, known) > within_s:
            left = rest
            continue
        segments = [
            Segment(number, courses[two.file].lasts_s, two.ready_s)
            for number, two in enumerate(rest)
        ]
        try:
            if timetable(segments, _aparts(rest, known), until_s=within_s, seconds=2.0) is None:
                left = rest
        except TimeoutError:
            continue
    return tuple(one.name for one in left)
