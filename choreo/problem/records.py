"""The Problem: a scenario as inert records in SI, all that the solver gets to see.

Every float is a number that may change between variants; everything else (kinds, names, how many) is
structure. An infinite float means "no such limit" and is structure too. Origins say where an author
wrote the thing, so that each constraint can point there.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Protocol, TypeVar, assert_never

from choreo.problem.phase_records import AT_GO as AT_GO
from choreo.problem.phase_records import Direction as Direction
from choreo.problem.phase_records import Hold as Hold
from choreo.problem.phase_records import Phase as Phase
from choreo.problem.phase_records import Ramp as Ramp
from choreo.problem.phase_records import Wait as Wait
from choreo.scenario import Event, Span
from choreo.words.kinds import Condition, GapMeasure, PassMeasure, Prefer
from choreo.words.origin import Origin
from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """A station at which the lateral limit is held: curvature magnitude there.

    Points of one stretch of path share its number; between them curvature is linear. Where it lies above the path's
    own by a margin, known_per_m is what the path itself has there, and least_per_m a bound from below as far as the
    next point of the stretch; None: they are the same.
    """

    stretch: int
    station_m: float
    curvature_per_m: float
    known_per_m: float | None = None
    least_per_m: float | None = None

    @property
    def proven_per_m(self) -> float:
        """Curvature without margin: a margin makes a plan careful, and proves nothing."""
        return self.curvature_per_m if self.known_per_m is None else self.known_per_m


@dataclass(frozen=True, slots=True)
class Ellipse:
    """What a mover can do along its path while it goes straight: accelerate, by speed, and brake; in m/s, m/s2.

    bends: points of all of the path that curves.
    """

    accelerate: tuple[tuple[float, float], ...]
    brake_mps2: float
    bends: tuple[CurvePoint, ...] = ()


@dataclass(frozen=True, slots=True)
class Steep:
    """A stretch of a bank on which a mover slides down when it is slow; stations in m, speeds in m/s.

    Below least_mps, at its beginning and at its end, it slides; at neutral_mps nothing pulls sideways.
    """

    from_m: float
    to_m: float
    least_mps: tuple[float, float]
    neutral_mps: float


@dataclass(frozen=True, slots=True)
class MoverProblem:
    """One mover along its own station axis; room is where its reference point may be.

    launch_latency_s, brake_latency_s: from a command, at go or later, to the motion.
    ellipse: where cornering takes of these; None: it doesn't. steeps: where it must not be slow.
    left_out: names of ramps that change nothing and so are no phases, with the phase boundary at which each would be.
    """

    name: str
    origin: Origin | None
    start: Span
    start_origin: Origin | None
    start_speed_mps: float
    room: Span
    room_origin: Origin | None
    stroke_m: float
    stroke_origin: Origin | None
    top_speed_mps: float
    lateral_mps2: float
    lateral_origin: Origin | None
    curve: tuple[CurvePoint, ...]
    phases: tuple[Phase, ...]
    marks: tuple[tuple[str, float, float], ...]
    left_out: tuple[tuple[str, int], ...] = ()
    launch_latency_s: float = 0.0
    brake_latency_s: float = 0.0
    ellipse: Ellipse | None = None
    steeps: tuple[Steep, ...] = ()

    @property
    def launched_late(self) -> bool:
        """Whether it moves later than it is told to."""
        return self.launch_latency_s > 0

    @property
    def braked_late(self) -> bool:
        """Whether it brakes later than it is told to."""
        return self.brake_latency_s > 0

    @property
    def rolls(self) -> bool:
        """Whether it has a speed before its launch."""
        return self.start_speed_mps > 0

    @property
    def launch_trigger(self) -> str | None:
        """The trigger that launches it, if one does."""
        first = self.phases[0] if self.phases else None
        return first.trigger if isinstance(first, Wait) else None

    @property
    def loose(self) -> MoverProblem:
        """The mover whose ramps may be as hard as it can."""
        phases = tuple(one.loose if isinstance(one, Ramp) else one for one in self.phases)
        return self if phases == self.phases else replace(self, phases=phases)

    def hold_until(self, encounter: str) -> int | None:
        """Give the index of the first hold that lasts until an encounter, if one does."""
        for index, phase in enumerate(self.phases):
            if isinstance(phase, Hold) and phase.lasts_until(encounter):
                return index
        return None

    def hold(self, index: int) -> Hold:
        """Give the phase of that index, which is known to be a hold."""
        phase = self.phases[index]
        if not isinstance(phase, Hold):
            raise AssertionError(f"{self.name} {phase.name} is no hold")
        return phase

    def mark_station(self, event: Event) -> float | None:
        """Give the station of a mark's start or end on this mover's path; None for every other event."""
        if event.mover != self.name:
            return None
        for name, start_m, end_m in self.marks:
            if name == event.name:
                return {"mark start": start_m, "mark end": end_m}.get(event.kind)
        return None

    def boundary_of(self, event: Event) -> int | None:
        """Give the phase boundary at which an event of this mover is: 0 is the launch, i + 1 the end of phase i.

        None for what is no launch and no end of a phase of this mover.
        """
        if event.mover != self.name:
            return None
        match event.kind:
            case "launch":
                return 0
            case "phase start":
                return self._boundary(event.name or "", 0)
            case "phase end":
                return self._boundary(event.name or "", 1)
            case "mark start" | "mark end" | "encounter" | "trigger" | "instant":
                return None
            case _:
                assert_never(event.kind)

    def _boundary(self, name: str, after: int) -> int:
        """The boundary before (0) or after (1) the phase of that name; names come from a checked scenario."""
        for phase, boundary in self.left_out:
            if phase == name:
                return boundary
        return [phase.name for phase in self.phases].index(name) + after


@dataclass(frozen=True, slots=True)
class GapLine:
    """Bumper gap from a mover a to b = facing0 + slope (station_b - b0) - front_a - station_a.

    exact: that line holds for every station of b, it is not a tangent.
    """

    b: str
    facing0_m: float
    b0_m: float
    slope: float
    front_a_m: float
    exact: bool

    def line_at(self, station_b_m: float) -> float:
        """Give the station in m that faces a on the line, for a station of b."""
        return self.facing0_m + self.slope * (station_b_m - self.b0_m)


@dataclass(frozen=True, slots=True)
class TriggerProblem:
    """A trigger; during_phase is the index of the watched phase (None: whenever it is reached).

    named_phase: the author names that phase, nothing before it counts. to: the encounter that it counts down to. gap:
    from the watched mover to the one that it is measured to, of a trigger by gap only.
    """

    name: str
    origin: Origin | None
    watch: str
    condition: Condition
    setting: Span
    to: str | None
    latency_s: float
    sampling_s: float
    during_phase: int | None
    gap: GapLine | None = None
    named_phase: bool = False

    @property
    def watched(self) -> tuple[str, ...]:
        """The movers whose motion decides when it fires."""
        return (self.watch,) if self.gap is None else (self.watch, self.gap.b)

    @property
    def expected_detection_s(self) -> float:
        """From crossing the setting to the sample that shows it, on average: half a sampling period."""
        return self.sampling_s / 2


@dataclass(frozen=True, slots=True)
class ContactPoint:
    """Both movers are at one station each; loose: by how much each may be off it."""

    name: str
    origin: Origin | None
    a: str
    b: str
    station_a_m: float
    station_b_m: float
    loose_a_m: float = 0.0
    loose_b_m: float = 0.0

    @property
    def pair(self) -> tuple[str, str]:
        """Its two movers, in the order in which its stations stand."""
        return self.a, self.b

    def station_of(self, mover: str) -> float | None:
        """Give the station in m at which one of its movers is; None for any other mover."""
        return {self.a: self.station_a_m, self.b: self.station_b_m}.get(mover)


@dataclass(frozen=True, slots=True)
class ContactTrack:
    """station_a = a0 + slope (station_b - b0), valid for station_b inside span.

    exact: the relation is that line everywhere, not a tangent of a curved one. lane: stations of b at which the line
    would hold wherever a could be; span: where a can be there too.
    """

    name: str
    origin: Origin | None
    a: str
    b: str
    a0_m: float
    b0_m: float
    slope: float
    span_b: Span
    exact: bool
    lane_b: Span

    @property
    def pair(self) -> tuple[str, str]:
        """Its two movers, in the order in which its stations stand."""
        return self.a, self.b

    def line_at(self, station_b_m: float) -> float:
        """Give the station of a in m on the line, for a station of b."""
        return self.a0_m + self.slope * (station_b_m - self.b0_m)


@dataclass(frozen=True, slots=True)
class GapAt:
    """Bumper gap = facing0 + slope (station_b - b0) - front_a - station_a, at an event.

    exact: that line holds for every station of b, it is not a tangent. same_path: both follow one path. until: a later
    event up to which it leaves what is wanted by no more than the tolerance (m or s).
    """

    name: str
    origin: Origin | None
    a: str
    b: str
    measure: GapMeasure
    wanted: Span
    at: Event
    facing0_m: float
    b0_m: float
    slope: float
    front_a_m: float
    exact: bool
    same_path: bool
    until: Event | None = None
    tolerance: float = 0.0

    @property
    def pair(self) -> tuple[str, str]:
        """Its two movers, in the order in which its stations stand."""
        return self.a, self.b

    def line_at(self, station_b_m: float) -> float:
        """Give the station in m that faces a on the line, for a station of b."""
        return self.facing0_m + self.slope * (station_b_m - self.b0_m)


@dataclass(frozen=True, slots=True)
class PassAt:
    """`first` leaves the zone at its exit station, `second` enters it at its entry station.

    once: their paths cross nowhere else, so no other crossing could be meant.
    """

    name: str
    origin: Origin | None
    first: str
    second: str
    measure: PassMeasure
    wanted: Span
    exit_first_m: float
    entry_second_m: float
    once: bool = True

    @property
    def pair(self) -> tuple[str, str]:
        """Its two movers, in the order in which its stations stand."""
        return self.first, self.second


Encounter = ContactPoint | ContactTrack | GapAt | PassAt


@dataclass(frozen=True, slots=True)
class InstantProblem:
    """A named moment by_s before another."""

    name: str
    origin: Origin | None
    before: Event
    by_s: float


@dataclass(frozen=True, slots=True)
class Problem:
    """Everything the solver needs, in the author's order."""

    prefer: Prefer
    movers: tuple[MoverProblem, ...]
    triggers: tuple[TriggerProblem, ...]
    encounters: tuple[Encounter, ...]
    instants: tuple[InstantProblem, ...]

    @property
    def loose(self) -> Problem:
        """The problem in which ramps may be as hard as movers can, not only as they usually are."""
        movers = tuple(mover.loose for mover in self.movers)
        return self if movers == self.movers else replace(self, movers=movers)

    def mover(self, name: str) -> MoverProblem:
        """Give the mover of that name; names come from a checked scenario."""
        return _named(self.movers, name)

    def trigger(self, name: str) -> TriggerProblem:
        """Give the trigger of that name."""
        return _named(self.triggers, name)

    def encounter(self, name: str) -> Encounter:
        """Give the encounter of that name."""
        return _named(self.encounters, name)

    def instant(self, name: str) -> InstantProblem:
        """Give the named instant."""
        return _named(self.instants, name)

    def hold_until(self, encounter: str) -> tuple[str, int] | None:
        """Give the first hold that lasts until an encounter, as mover and phase index, if there is one."""
        for mover in self.movers:
            index = mover.hold_until(encounter)
            if index is not None:
                return mover.name, index
        return None

    def launched_by(self, trigger: str) -> tuple[MoverProblem, ...]:
        """Give the movers that a trigger launches."""
        return tuple(mover for mover in self.movers if mover.launch_trigger == trigger)


class _Named(Protocol):
    @property
    def name(self) -> str: ...


One = TypeVar("One", bound=_Named)


def _named(entries: Iterable[One], name: str) -> One:
    """The one of that name, which is asked for often."""
    for one in entries:
        if one.name == name:
            return one
    raise KeyError(name)
