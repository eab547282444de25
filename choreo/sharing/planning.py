"""A shared site planned: circuits of all vehicles, who uses what when, the timetable, its replay."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import field, replace
from pathlib import Path as File

from choreo.circuits.planning import PlannedCircuit, plan_circuit
from choreo.circuits.records import VEHICLE
from choreo.scenario.making.companions import named_at
from choreo.scenario.making.draft import Draft
from choreo.scenario.written.faults import in_order
from choreo.sharing.driving import Course, Gap, course_of
from choreo.sharing.jobs import Job, Use
from choreo.sharing.model import Timetable
from choreo.sharing.reading import load_share
from choreo.sharing.replay import Breach, Run, Spans, breaches, intruders
from choreo.sharing.solving import Solved, solve
from choreo.sharing.staged import Staged, overlaps, runs_of, staged_of, uses_of
from choreo.sharing.written import ShareWritten, VehicleWritten
from choreo.words import ChoreoError, Finding, Origin, errors_of
from choreo.words.quantities import quoted
from choreo.words.records import dataclass

# Who stops in excursions in more laps than this may wait in every second, third ... of them: too much would have to be
# chosen.
MOST_STOPS = 24
# The clock of vehicles without a circuit.
MORNING_S = 8 * 3600.0
Progress = Callable[[str], None]


@dataclass(frozen=True)
class SharedTrack:
    """A shared site with its timetable.

    circuits: by file; staged: tests by name. breaches: what the replay found. clock_s: the time of the day at 0 s.
    places: where vehicles are written, by their names in the file. notes: what may be a slip of the file.
    """

    title: str
    about: str
    files: tuple[str, ...]
    jobs: tuple[Job, ...]
    circuits: Mapping[str, PlannedCircuit]
    gap: Gap
    single: frozenset[str]
    solved: Solved
    within_s: float
    clock_s: float
    staged: Mapping[str, Staged]
    breaches: tuple[Breach, ...] = ()
    places: Mapping[str, Origin] = field(default_factory=dict)
    notes: tuple[Finding, ...] = ()

    @property
    def found(self) -> Timetable | None:
        return self.solved.found

    @property
    def well(self) -> bool:
        """Whether there is a timetable and the replay agrees."""
        return self.found is not None and not self.breaches

    def starts_s(self, number: int) -> tuple[float, ...]:
        """Give the starts in s of all segments of a job."""
        if self.found is None:
            return ()
        before = sum(len(one.lasts_s) for one in self.jobs[:number])
        return self.found.starts_s[before : before + len(self.jobs[number].lasts_s)]

    @property
    def runs(self) -> tuple[Run, ...]:
        """Give those on circuits, with their starts."""
        return tuple(
            Run(job.name, job.course, self.starts_s(number))
            for number, job in enumerate(self.jobs)
            if job.course is not None and self.found is not None
        )

    @property
    def stands(self) -> tuple[tuple[Staged, Spans], ...]:
        """Give the staged tests with the times in s between which they run."""
        found = []
        for number, job in enumerate(self.jobs):
            if job.of in self.staged and self.found is not None:
                one, starts = self.staged[job.of], self.starts_s(number)
                mine = [use for use in job.uses if use.place == one.place]
                begins = [starts[use.enters[0]] + use.enters[1] for use in mine]
                found.append((one, tuple((t, t + one.lasts_s) for t in begins)))
        return tuple(found)


def plan_share(file: File, tell: Progress | None = None) -> SharedTrack:
    """Plan a shared site.

    Raises ChoreoError: faults of the file and of its circuits. Raises TimeoutError: nothing was found, nothing proved.
    """
    say = tell or (lambda _word: None)
    shared = load_share(file)
    written, draft = shared.written, shared.draft
    circuits: dict[str, PlannedCircuit] = {}
    for name, circuit in shared.circuits.items():
        say(f"circuit {name}")
        try:
            circuits[name] = plan_circuit(circuit)
        except ChoreoError as error:
            draft.findings += named_at(shared.named(name), error.findings)
    staged = _staged(draft, written, file, say)
    if errors_of(draft.findings):
        raise ChoreoError(in_order(draft.findings))
    files = [str(file), *(f for one in circuits.values() for f in one.circuit.base.source_files)]
    files += [f for one in staged.values() for f in one.sources]
    places = {name: draft.document.origin(("vehicles", name)) for name in written.vehicles}
    planned = _planned(written, tuple(files), circuits, staged, say)
    return replace(planned, places=places, notes=shared.notes)


def _staged(draft: Draft, written: ShareWritten, file: File, say: Progress) -> Mapping[str, Staged]:
    """Plan the staged tests, by name."""
    found = {}
    for name, one in written.vehicles.items():
        keys = ("vehicles", name)
        if one.staged is None:
            continue
        say(f"staged test {one.staged}")
        place = draft.document.origin((*keys, "staged"))
        try:
            planned = staged_of(name, file.parent / one.staged)
        except ChoreoError as error:
            draft.findings += named_at(place, error.findings)
            continue
        if isinstance(planned, str):
            draft.fault(
                "share.no-staged-run",
                (*keys, "staged"),
                vehicle=quoted(name),
                file=quoted(one.staged),
                why=planned,
            )
        else:
            found[name] = planned
    return found


def _planned(
    written: ShareWritten,
    files: tuple[str, ...],
    circuits: Mapping[str, PlannedCircuit],
    staged: Mapping[str, Staged],
    say: Progress,
) -> SharedTrack:
    lengths = [one.circuit.base.movers[VEHICLE].body.length_m for one in circuits.values()]
    headway = written.headway
    room = max(lengths, default=0.0) + headway.margin
    gap = Gap(headway.reaction, headway.braking, room)
    single = frozenset(written.single)
    say("who can't be where when")
    jobs = tuple(_jobs(written, circuits, staged, gap, single))
    within = math.inf if written.within is None else written.within
    say("timetable")
    solved = solve(jobs, gap, single, within)
    days = [one.circuit.written.start for one in circuits.values()]
    track = SharedTrack(
        written.title,
        written.about,
        files,
        jobs,
        circuits,
        gap,
        single,
        solved,
        within,
        min(days, default=MORNING_S),
        staged,
    )
    if solved.found is None:
        return track
    say("replay of all together")
    found = breaches(track.runs, gap, single) + intruders(track.runs, track.stands)
    return SharedTrack(**{**vars(track), "breaches": found})


def _jobs(
    written: ShareWritten,
    circuits: Mapping[str, PlannedCircuit],
    staged: Mapping[str, Staged],
    gap: Gap,
    single: frozenset[str],
) -> Iterator[Job]:
    common = overlaps(tuple(staged.values()))
    cuts = sorted(
        {
            station
            for plan in circuits.values()
            for one in plan.circuit.excursions.values()
            for station in (one.leaves_m, one.joins_m)
        }
    )
    courses: dict[tuple[str, bool], Course] = {}
    for name, one in written.vehicles.items():
        course = None
        if one.file is not None:
            if (one.file, one.waits) not in courses:
                plan = circuits[one.file]
                waits = _waiting(plan, gap) if one.waits else frozenset[str]()
                every = max(math.ceil(_stops(plan, waits) / MOST_STOPS), 1)
                courses[one.file, one.waits] = course_of(plan, waits, cuts, every)
            course = courses[one.file, one.waits]
            lasts = tuple(leg.lasts_s for leg in course.legs)
            uses = tuple(
                Use(p.excursion, (p.enters[0], p.enters_s), (p.leaves[0], p.leaves_s))
                for p in course.passes
                if p.excursion in single
            )
            uses += tuple(uses_of(course, tuple(staged.values())))
            alike = f"{one.file} {one.waits} {one.ready:g}"
        elif one.staged is not None:
            places = [*common[name], *([one.at] if one.at is not None else [])]
            runs, between = one.runs or 1, one.between or 0.0
            lasts, uses = runs_of(staged[name], runs, between, places, waits=one.waits)
            alike = f"runs of {name}"
        else:
            lasts, uses = _visits(one)
            alike = f"visits of {name}"
        for number in range(1, one.count + 1):
            called = name if one.count == 1 else f"{name} {number}"
            yield Job(called, name, alike, one.ready, lasts, uses, course)


def _waiting(plan: PlannedCircuit, gap: Gap) -> frozenset[str]:
    """Excursions in whose stops one may wait: who stands there is out of the way of those who drive on."""
    return frozenset(
        one.name
        for one in plan.circuit.excursions.values()
        if one.stop_m is not None and one.stop_m >= gap.room_m
    )


def _stops(plan: PlannedCircuit, waits: frozenset[str]) -> int:
    """In how many laps there is a stop in which one may wait."""
    return sum(run.count for run in plan.driven if waits.intersection(run.lap.excursions))


def _visits(one: VehicleWritten) -> tuple[tuple[float, ...], tuple[Use, ...]]:
    """A segment for each visit, or one for all where it doesn't wait."""
    visits = one.visits or ()
    if one.waits:
        uses = [Use(v.at, (n, 0.0), (n, v.for_)) for n, v in enumerate(visits)]
        return tuple(v.for_ for v in visits), tuple(uses)
    uses, now = [], 0.0
    for visit in visits:
        uses.append(Use(visit.at, (0, now), (0, now + visit.for_)))
        now += visit.for_
    return (now,), tuple(uses)
