"""Scenario and geometry -> Problem."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import field, replace

from choreo.geometry import GapTrack, Path, build_paths, standing_path
from choreo.problem.contradictions import contradictions
from choreo.problem.curve import curve_points, steeps_of
from choreo.problem.cusps import cusp_faults
from choreo.problem.marks import mark_faults
from choreo.problem.meetings import (
    Meeting,
    Question,
    gaps_between,
    meeting_of,
    question_of,
    relaid,
    start_range,
    trigger_relaid,
)
from choreo.problem.path_notes import bank_notes, path_notes
from choreo.problem.phases import launch_latency_s, least_open_speed, left_out, phases_of
from choreo.problem.records import (
    Ellipse,
    Hold,
    InstantProblem,
    MoverProblem,
    Phase,
    Problem,
    Ramp,
    TriggerProblem,
)
from choreo.scenario import Event, Limits, Mover, Scenario, Span, Trigger
from choreo.words import ChoreoError, Finding, errors_of
from choreo.words.kinds import CONDITIONS
from choreo.words.origin import Origin
from choreo.words.records import dataclass

# So many meetings of neighbours are remembered.
MOST_SEEN = 40


@dataclass(frozen=True)
class Staging:
    """A problem with what geometry said of it: paths by mover, every encounter's meeting, curved gaps by trigger.

    seen: meetings of neighbours too, the last ones.
    """

    problem: Problem
    paths: Mapping[str, Path]
    meetings: Mapping[str, Meeting]
    chosen: Mapping[str, int]
    notes: tuple[Finding, ...] = ()
    gaps: Mapping[str, GapTrack] = field(default_factory=dict)
    seen: Mapping[tuple[str, Question], Meeting] = field(default_factory=dict)

    @property
    def loose(self) -> Staging:
        """The staging in which ramps may be as hard as movers can, not only as they usually are."""
        return replace(self, problem=self.problem.loose)

    def relaid_at(self, stations_b_m: Mapping[str, float]) -> Staging:
        """Lay every curved relation's tangent at the stations given by name of encounter or trigger."""
        encounters = []
        for encounter in self.problem.encounters:
            track = self.meetings[encounter.name].tracks[self.chosen[encounter.name]]
            if track is not None and encounter.name in stations_b_m:
                encounter = relaid(encounter, track, stations_b_m[encounter.name])
            encounters.append(encounter)
        triggers = tuple(
            trigger_relaid(trigger, self.gaps[trigger.name], stations_b_m[trigger.name])
            if trigger.name in self.gaps and trigger.name in stations_b_m
            else trigger
            for trigger in self.problem.triggers
        )
        problem = replace(self.problem, encounters=tuple(encounters), triggers=triggers)
        return replace(self, problem=problem)

    def alternatives(self) -> list[Staging]:
        """Give the stagings in which one encounter happens at another of its possible places."""
        return [
            self.at_places({**self.chosen, name: index})
            for name, meeting in self.meetings.items()
            for index in range(len(meeting.candidates))
            if index != self.chosen[name]
        ]

    def at_places(self, chosen: Mapping[str, int]) -> Staging:
        """Give the staging in which each encounter happens at the candidate place of that index."""
        if chosen == self.chosen:
            return self
        encounters = tuple(
            one
            if chosen[one.name] == self.chosen[one.name]
            else self.meetings[one.name].candidates[chosen[one.name]]
            for one in self.problem.encounters
        )
        problem = replace(self.problem, encounters=encounters)
        return replace(self, problem=problem, chosen=dict(chosen))


@dataclass(frozen=True, slots=True)
class Drawn:
    """A scenario's paths, by their own names and by mover; one that only stands has a path of its own."""

    scenario: Scenario
    by_name: Mapping[str, Path]
    by_mover: Mapping[str, Path]

    def alike_in(self, other: Scenario) -> dict[str, Path]:
        """Give the paths that another scenario specifies by the very same records, and their bases too."""
        return {name: path for name, path in self.by_name.items() if self._alike(name, other)}

    def _alike(self, name: str, other: Scenario) -> bool:
        mine = self.scenario.paths[name]
        if mine is not other.paths.get(name):
            return False
        return mine.beside is None or self._alike(mine.beside, other)

    def standing(self, name: str, stand: tuple[float, float, float]) -> Path | None:
        """Give the path of a mover that stands at that pose here too."""
        mine = self.scenario.movers.get(name)
        return None if mine is None or mine.stand != stand else self.by_mover[name]


def draw(scenario: Scenario, like: Drawn | None = None) -> Drawn:
    """Build a scenario's paths.

    like: those of a neighbour; what is specified alike in both is taken over.
    Raises ChoreoError with every fault of every path.
    """
    known = {} if like is None else like.alike_in(scenario)
    paths = build_paths(scenario.paths, lambda *keys: scenario.origin("paths", *keys), known)
    by_mover = {}
    for name, mover in scenario.movers.items():
        if mover.path is not None:
            by_mover[name] = paths[mover.path]
        elif mover.stand is not None:
            standing = None if like is None else like.standing(name, mover.stand)
            by_mover[name] = standing_path(*mover.stand) if standing is None else standing
    return Drawn(scenario, paths, by_mover)


def paths_by_mover(scenario: Scenario) -> Mapping[str, Path]:
    """Build each mover's path. Raises ChoreoError with every fault of every path."""
    return draw(scenario).by_mover


def build_staging(
    scenario: Scenario, paths: Mapping[str, Path] | None = None, like: Staging | None = None
) -> Staging:
    """Turn a checked scenario into a problem.

    paths: by mover, where they are built already. like: a neighbour's staging, whose meetings are taken over wherever
    geometry is asked the same. Raises ChoreoError: faulty paths, encounters that these paths don't allow, triggers
    that can't be watched; all of them at once.
    """
    if paths is None:
        paths = paths_by_mover(scenario)
    findings: list[Finding] = []
    meetings: dict[str, Meeting] = {}
    seen = {} if like is None else dict(like.seen)
    for name in scenario.encounters:
        question = name, question_of(name, scenario, paths)
        if question in seen:
            meetings[name] = seen[question]
            continue
        meeting, faults = meeting_of(name, scenario, paths)
        findings += faults
        if meeting is not None:
            meetings[name] = seen[question] = meeting
            if len(seen) > MOST_SEEN:
                del seen[next(iter(seen))]
    movers = tuple(_mover(scenario, name, paths[name]) for name in scenario.movers)
    triggers = []
    gaps: dict[str, GapTrack] = {}
    for name in scenario.triggers:
        trigger, faults = _trigger(scenario, name, movers)
        findings += faults
        ahead = scenario.triggers[name].to
        if CONDITIONS[trigger.condition].to_mover and ahead is not None:
            line, track = gaps_between(trigger.watch, ahead, scenario, paths)[0]
            trigger = replace(trigger, gap=line)
            if not line.exact:
                gaps[name] = track
        triggers.append(trigger)
    findings += mark_faults(scenario, paths)
    findings += path_notes(scenario, paths, movers)
    findings += bank_notes(scenario, paths, movers)
    findings += contradictions(scenario, paths)
    findings += cusp_faults(scenario, paths, movers)
    if errors_of(findings):
        raise ChoreoError(tuple(findings))
    problem = Problem(
        prefer=scenario.prefer,
        movers=movers,
        triggers=tuple(triggers),
        encounters=tuple(meeting.candidates[0] for meeting in meetings.values()),
        instants=tuple(_instant(scenario, name) for name in scenario.instants),
    )
    chosen = dict.fromkeys(meetings, 0)
    return Staging(problem, paths, meetings, chosen, tuple(findings), gaps, seen)


def _mover(scenario: Scenario, name: str, path: Path) -> MoverProblem:
    mover = scenario.movers[name]

    def place(*keys: str | int) -> Origin | None:
        return scenario.origin("movers", name, *keys)

    phases = _at_marks(phases_of(mover, place), mover, path)
    length = path.length_m if mover.path is not None else 0.0
    station = mover.start.station
    if mover.path is not None and station.fixed and not 0 <= station.lo <= length:
        raise ChoreoError((_start_outside(scenario, name, station.lo, length),))
    return MoverProblem(
        name=name,
        origin=place(),
        start=Span(*start_range(mover, path)),
        start_origin=place("start"),
        start_speed_mps=mover.start.speed_mps,
        room=Span(0.0, length),
        room_origin=place("path"),
        stroke_m=mover.limits.stroke_m,
        stroke_origin=place("limits", "stroke"),
        top_speed_mps=mover.limits.speed_mps,
        lateral_mps2=mover.limits.lateral_mps2,
        lateral_origin=place("limits", "lateral"),
        curve=curve_points(path, mover.limits.lateral_mps2, _fastest_mps(mover, phases)),
        phases=phases,
        marks=tuple((key, start, end) for key, (start, end) in path.marks.items()),
        left_out=tuple(left_out(mover, phases)),
        launch_latency_s=launch_latency_s(mover),
        brake_latency_s=mover.brake_latency_s,
        ellipse=_ellipse(mover.limits, path),
        steeps=steeps_of(path, mover.limits.lateral_mps2),
    )


def _ellipse(limits: Limits, path: Path) -> Ellipse | None:
    if limits.combined == "none":
        return None
    bends = curve_points(path, limits.lateral_mps2, math.inf)
    return Ellipse(limits.accelerate, limits.brake_mps2, bends)


def _at_marks(phases: tuple[Phase, ...], mover: Mover, path: Path) -> tuple[Phase, ...]:
    """Stops at marks have the stations of these."""
    stations = {
        phase.name: _station_of(phase.rests_at, path)
        for phase in mover.programme
        if phase.rests_at is not None
    }
    return tuple(
        replace(phase, ends_at_m=stations[phase.name])
        if isinstance(phase, Ramp) and phase.name in stations
        else phase
        for phase in phases
    )


def _station_of(mark: Event, path: Path) -> float:
    start_m, end_m = path.marks[mark.name or ""]
    return start_m if mark.kind == "mark start" else end_m


def _start_outside(scenario: Scenario, name: str, station_m: float, length_m: float) -> Finding:
    return Finding(
        "problem.start-outside",
        "error",
        scenario.origin("movers", name, "start", "station"),
        {"mover": name, "station": f"{station_m:g} m", "length": f"{length_m:.3f} m"},
        (),
    )


def _fastest_mps(mover: Mover, phases: tuple[Phase, ...]) -> float:
    speeds = [mover.start.speed_mps]
    speeds += [phase.to.hi for phase in phases if isinstance(phase, Ramp)]
    return max(speeds)


def _trigger(
    scenario: Scenario, name: str, movers: tuple[MoverProblem, ...]
) -> tuple[TriggerProblem, list[Finding]]:
    trigger = scenario.triggers[name]
    watched = next(mover for mover in movers if mover.name == trigger.watch)
    during, findings = _watched_phase(scenario, name, watched)
    findings += _unreached(scenario, name, watched)
    record = TriggerProblem(
        name=name,
        origin=scenario.origin("triggers", name),
        watch=trigger.watch,
        condition=trigger.condition,
        setting=_open_setting(trigger),
        to=None if CONDITIONS[trigger.condition].to_mover else trigger.to,
        latency_s=trigger.latency_s,
        sampling_s=1 / trigger.sampling_hz,
        during_phase=during,
        named_phase=trigger.during is not None,
    )
    return record, findings


def _open_setting(trigger: Trigger) -> Span:
    """A speed that is left open is one at which something drives: standing movers pass 0 km/h all the time."""
    span = trigger.setting
    if trigger.condition != "speed" or span.fixed or span.lo > 0.0:
        return span
    return Span(least_open_speed(span.hi), span.hi)


def _unreached(scenario: Scenario, name: str, watched: MoverProblem) -> list[Finding]:
    """A station beyond the watched mover's path, or behind its start."""
    setting = scenario.triggers[name].setting
    if scenario.triggers[name].condition != "station":
        return []
    least, most = watched.start.lo, watched.room.hi
    if least == most:
        asked_m, why, key = setting.lo, "it stands all the time", "stand"
    elif setting.lo > most:
        asked_m, why, key = setting.lo, f"its path ends at {most:.3f} m", "path"
    elif setting.hi < least:
        asked_m, why, key = setting.hi, f"it starts at {least:.3f} m", "start"
    else:
        return []
    values = {
        "trigger": name,
        "mover": watched.name,
        "setting": f"{asked_m:g} m",
        "why": why,
        "instead": "Watch a mover that drives."
        if least == most
        else f"Choose a station from {least:.3f} m to {most:.3f} m.",
    }
    origin = scenario.origin("triggers", name, "when", "station")
    related = (scenario.origin("movers", watched.name, key),)
    return [Finding("problem.trigger-outside", "error", origin, values, related)]


def _watched_phase(
    scenario: Scenario, name: str, watched: MoverProblem
) -> tuple[int | None, list[Finding]]:
    """The phase that a trigger is reached in: the one named, else the hold that ends at `to`, or the last one.

    None where it counts whenever it is reached.
    """
    trigger = scenario.triggers[name]
    if (
        trigger.anywhere(scenario.movers[trigger.watch])
        or not CONDITIONS[trigger.condition].settled
    ):
        return None, []
    holds = [index for index, phase in enumerate(watched.phases) if isinstance(phase, Hold)]
    if trigger.during is not None:
        named = [i for i, one in enumerate(watched.phases) if one.name == trigger.during]
        if named:
            return named[0], []
    to = None if CONDITIONS[trigger.condition].to_mover else trigger.to
    ending = None if to is None else watched.hold_until(to)
    if ending is not None:
        return ending, []
    if holds:
        return holds[-1], []
    finding = Finding(
        "problem.never-settled",
        "error",
        scenario.origin("triggers", name),
        {"trigger": name, "mover": watched.name},
        (watched.origin,) if watched.origin else (),
    )
    return None, [finding]


def _instant(scenario: Scenario, name: str) -> InstantProblem:
    instant = scenario.instants[name]
    return InstantProblem(name, scenario.origin("instants", name), instant.before, instant.by_s)
