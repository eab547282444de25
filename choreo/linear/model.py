"""A problem whose ramps are given, as linear rows over starts, launches and durations.

Every phase end has a time and a station that are sums of the unknowns: a ramp adds its own duration and way, a hold
its duration and speed times that. What happens at an instant that is no phase end is a `Look`: a mover's station and
speed at a time. Which phase the time falls into is left open here; `search` decides it. `writing` fills a model.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import field
from typing import assert_never

from choreo.linear.affine import Affine, given, unknown
from choreo.linear.curves import Relation
from choreo.linear.records import Choice, Course, Crossed, Look, Met, Track
from choreo.linear.rows import Row, at_least, equal
from choreo.problem.records import Encounter, GapAt, PassAt, Problem
from choreo.scenario import Event
from choreo.words.records import dataclass

# A mover and the index of one of its phases, from whose beginning a time counts; else from go.
Since = tuple[str, int] | None


@dataclass()
class Model:
    """The rows of one problem; complete once every look has been placed in a phase.

    exact: no room is asked for beyond what counts, as a proof needs it; of ramps of any shape nothing else is written.
    """

    problem: Problem
    tracks: Mapping[str, Track] = field(default_factory=dict)
    freed: frozenset[tuple[str, int]] = frozenset()
    anyhow: bool = False
    exact: bool = False
    courses: dict[str, Course] = field(default_factory=dict)
    rows: list[Row] = field(default_factory=list)
    looks: list[Look] = field(default_factory=list)
    triggers: dict[str, Crossed] = field(default_factory=dict)
    met: dict[str, Met] = field(default_factory=dict)
    times: dict[str, Affine] = field(default_factory=dict)
    choices: list[Choice] = field(default_factory=list)
    relations: list[Relation] = field(default_factory=list)
    _marks: dict[Event, Affine] = field(default_factory=dict)

    def time(self, ref: Event) -> Affine:
        """Give an event's time; the passing of a mark gets an unknown and a look when first asked for."""
        name = ref.name or ""
        match ref.kind:
            case "trigger":
                return self.triggers[name].acts
            case "encounter":
                return self.encounter_time(self.problem.encounter(name))
            case "instant":
                instant = self.problem.instant(name)
                return self.time(instant.before).minus(instant.by_s)
            case "launch" | "phase start" | "phase end":
                course = self.courses[ref.mover or ""]
                boundary = course.mover.boundary_of(ref)
                if boundary is None:
                    raise AssertionError("only marks are no phase boundaries")
                return course.launch if boundary == 0 else course.time(boundary)
            case "mark start" | "mark end":
                return self._mark(ref)
            case _:
                assert_never(ref.kind)

    def time_since(self, since: Since) -> Affine:
        """Give when a mover begins a phase; go of none."""
        return Affine() if since is None else self.courses[since[0]].time(since[1])

    def _mark(self, ref: Event) -> Affine:
        if ref not in self._marks:
            course = self.courses[ref.mover or ""]
            label = f"{ref.mover} at the {ref.kind} {ref.name}"
            time = unknown(f"{label}: time")
            self._marks[ref] = time
            look = self.look(course.mover.name, time, label)
            what = f"{ref.mover} at {ref.name}"
            # Whoever starts or comes to rest at a mark passes it as it sets off or arrives, not while it stands there.
            if not course.mover.rolls:
                self.rows.append(at_least(time, course.launch, what, "s", course.mover.origin))
            self.rows.append(at_least(course.end_time, time, what, "s", course.mover.origin))
            self.rows.append(
                equal(look.station, self.mark_station(ref), what, "m", course.mover.origin)
            )
        return self._marks[ref]

    def marked(self) -> Iterator[tuple[Course, float]]:
        """Give the marks that have been asked for: whose they are, and their stations in m."""
        for ref in self._marks:
            yield self.courses[ref.mover or ""], self.mark_station(ref)

    def mark_station(self, ref: Event) -> float:
        """Give the station of a named path piece's start or end."""
        mover = self.problem.mover(ref.mover or "")
        mark = next(mark for mark in mover.marks if mark[0] == ref.name)
        return mark[1] if ref.kind == "mark start" else mark[2]

    def encounter_time(self, encounter: Encounter) -> Affine:
        """Give an encounter's time: the end of the hold that lasts until then, a gap's event, or an unknown."""
        name = encounter.name
        if name not in self.times:
            if isinstance(encounter, GapAt):
                self.times[name] = self.time(encounter.at)
                return self.times[name]
            ended = self.problem.hold_until(name)
            if ended is not None and not isinstance(encounter, PassAt):
                course = self.courses[ended[0]]
                self.times[name] = course.time(ended[1] + 1)
            else:
                self.times[name] = unknown(f"{name}: time")
                self.rows.append(at_least(self.times[name], 0.0, "", "s"))
        return self.times[name]

    def look(self, mover: str, time: Affine, label: str, latest: int | None = None) -> Look:
        """Give a mover's state at a time: at once where the time is one of its own phase ends.

        latest: the index of the last phase that the time can fall into, where that is known.
        """
        course = self.courses[mover]
        if not course.steps:
            return Look(mover, time, course.start, given(0.0), label)
        for index in range(len(course.steps) + 1):
            if course.time(index) == time:
                return Look(
                    mover, time, course.station(index), given(course.speed_mps(index)), label
                )
        for known in self.looks:
            if known.mover == mover and known.time == time:
                return known
        look = Look(
            mover,
            time,
            unknown(f"{label}: station of {mover}"),
            unknown(f"{label}: speed of {mover}"),
            label,
            latest,
        )
        self.looks.append(look)
        return look

    def along(
        self, name: str, a: str, b: Look, bounds: tuple[float, float], label: str | None = None
    ) -> tuple[Affine, Affine]:
        """Give where and how fast a look's mover is along the path of a, by the curve of an encounter or a trigger.

        bounds: of the look's station, m. label: of one look of several.
        """
        label = label or name
        value = unknown(f"{label}: {b.mover} on the path of {a}")
        rate = unknown(f"{label}: speed of {b.mover} on the path of {a}")
        track = self.tracks[name]
        self.relations.append(
            Relation(label, b.station, value, b.speed, rate, track.at, bounds, track.slopes)
        )
        return value, rate

    def last(self) -> Affine:
        """An unknown that is no earlier than any encounter, or than any standstill where there is no encounter."""
        last = unknown("last encounter: time")
        times = [met.ends for met in self.met.values()]
        times = times or [course.end_time for course in self.courses.values() if course.steps]
        self.rows += [at_least(last, time, "", "s") for time in times]
        return last
