"""The plan: a plain, frozen, serialisable record of what every mover does and when.

It says nothing about being valid: that is the verification's word. All numbers are SI, times are
seconds after go, headings in degrees only where a key says so.
"""

from __future__ import annotations

from dataclasses import field

from choreo.plans.crew_record import CrewPlan
from choreo.plans.in_step_record import InStepPlan
from choreo.plans.message import Message
from choreo.plans.room_record import SpacePlan
from choreo.plans.steadiest_record import Steadiest
from choreo.words.kinds import (
    CONDITIONS,
    ENCOUNTERS,
    Condition,
    EncounterKind,
    LaunchKind,
    Measure,
    PhaseKind,
    PlanEventKind,
    Prefer,
    Unit,
    Verdict,
    Which,
)
from choreo.words.records import dataclass
from choreo.words.tolerances import SAME_POINT_M

PLAN_FORMAT = "choreo plan 1"


@dataclass(frozen=True, slots=True)
class StartMark:
    """Where a mover stands (or rolls through) before go: station on its path and site coordinates."""

    station_m: float
    x_m: float
    y_m: float
    heading_deg: float
    speed_mps: float


@dataclass(frozen=True, slots=True)
class PhasePlan:
    """A phase of a mover's programme as the author wrote it; names are unique within a programme."""

    name: str
    kind: PhaseKind


@dataclass(frozen=True, slots=True)
class CommandPlan:
    """When a drive must be told to begin a phase, by its name, so that the motion begins then."""

    phase: str
    time_s: float
    moves_s: float


@dataclass(frozen=True, slots=True)
class PlanEvent:
    """A launch, an end of a phase, an encounter or a crossing of a trigger's setting, of one mover.

    name: for people. phase: which phase ends, an index into the mover's phases, None for other kinds. Documents of
    earlier versions have no kind (None) and no phase.
    """

    name: str
    time_s: float
    station_m: float
    x_m: float
    y_m: float
    speed_mps: float
    kind: PlanEventKind | None = None
    phase: int | None = None


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of constant jerk: station(u) = station + speed u + accel u^2/2 + jerk u^3/6.

    phase: its name; phase_index: its index in the mover's phases (None in documents of earlier versions).
    """

    phase: str
    start_s: float
    duration_s: float
    station_m: float
    speed_mps: float
    accel_mps2: float
    jerk_mps3: float
    phase_index: int | None = None


@dataclass(frozen=True, slots=True)
class Runway:
    """What a mover needs of its path: from the start mark to rest after the encounter.

    encounter_m is the stretch between its first and its last encounter; 0 with a single one. failsafe_m: how far past
    its last encounter a failsafe stop begun before it ends; required_m: run-up, encounter and the worst of
    the run-out and stops from any instant. Both None until the stops are known.
    """

    run_up_m: float
    encounter_m: float
    run_out_m: float
    total_m: float
    failsafe_m: float | None = None
    required_m: float | None = None


@dataclass(frozen=True, slots=True)
class Peak:
    """Largest values over the whole motion; brake and lateral are magnitudes."""

    accel_mps2: float
    brake_mps2: float
    jerk_mps3: float
    lateral_mps2: float
    speed_mps: float


@dataclass(frozen=True, slots=True)
class MoverPlan:
    """One mover's motion.

    launched_by: 'go', 'time' (a fixed or solved time after go) or a trigger's name. pieces cover launch to rest
    without a hole; a mover that only stands has none. A phase that a trigger ends (`hold until`) is named in
    ended_by: {phase name: trigger name}. phases: the whole programme; a ramp that changes nothing has neither pieces
    nor events. commands: of drives that are late. Documents of earlier versions have no phases and no commands.
    backwards: whether its rear leads; of one whose path changes between forwards and backwards, at the stations
    turns_m, that is so from the last change on. in_step: of one that goes by another one's progress.
    """

    start: StartMark
    launch_s: float
    launched_by: str
    events: tuple[PlanEvent, ...]
    pieces: tuple[Piece, ...]
    runway: Runway
    peak: Peak
    ended_by: dict[str, str] = field(default_factory=dict)
    phases: tuple[PhasePlan, ...] = ()
    commands: tuple[CommandPlan, ...] = ()
    backwards: bool = False
    in_step: InStepPlan | None = None
    turns_m: tuple[float, ...] = ()

    def backwards_at(self, station_m: float) -> bool:
        """Whether its rear leads as it drives on from a station."""
        left = sum(one > station_m + SAME_POINT_M for one in self.turns_m)
        return self.backwards != (left % 2 == 1)

    @property
    def launch_kind(self) -> LaunchKind:
        """What sets it off; no trigger is called `go` or `time`."""
        match self.launched_by:
            case "go":
                return "go"
            case "time":
                return "time"
            case _:
                return "trigger"

    def ends_of(self, kind: PhaseKind) -> tuple[PlanEvent, ...]:
        """Give the events that end phases of a kind, by time."""
        return tuple(
            event
            for event in self.events
            if event.phase is not None and self.phases[event.phase].kind == kind
        )


@dataclass(frozen=True, slots=True)
class TriggerPlan:
    """A trigger as it is to be set: when `condition` of `watch` reaches `setting`.

    time_s and station_m: when and where the watched mover truly crosses the setting. The trigger acts
    half a sampling period plus latency_s later (the expected delay of a sampled detection). to: the encounter that it
    counts down to, of a gap the mover that it is measured to.
    """

    watch: str
    condition: Condition
    setting: float
    setting_unit: Unit
    station_m: float | None
    time_s: float
    latency_s: float
    sampling_hz: float
    acts_at_s: float
    acts_on: tuple[str, ...]
    to: str | None = None

    @property
    def watched(self) -> tuple[str, ...]:
        """The movers whose motion decides when it fires; of a gap both."""
        to_mover = self.to is not None and CONDITIONS[self.condition].to_mover
        return (self.watch, self.to or "") if to_mover else (self.watch,)

    @property
    def expected_detection_s(self) -> float:
        """From crossing the setting to the sample that shows it, on average: half a sampling period."""
        return 0.5 / self.sampling_hz


@dataclass(frozen=True, slots=True)
class EncounterPlan:
    """An intended meeting. wanted and predicted in `unit` (m or s); contacts: lateral impact offset in m, left +.

    wanted is a pair (least, most): equal when one value was asked for. closing_mps: rate at which the bodies near
    each other; relative_mps: how fast one moves seen from the other, None in a document saved before it was told.
    until_s: of a gap that holds for a while, when that ends; held: its least and most value from time_s until then.
    """

    kind: EncounterKind
    measure: Measure
    of: str
    with_: str
    time_s: float
    wanted: tuple[float, float]
    predicted: float
    unit: Unit
    tolerance: float
    within: bool
    station_of_m: float
    station_with_m: float
    closing_mps: float
    place: tuple[float, float] | None = None
    relative_mps: float | None = None
    until_s: float | None = None
    held: tuple[float, float] | None = None

    @property
    def touches(self) -> bool:
        """Whether the two bodies are to touch."""
        return ENCOUNTERS[self.kind].touches

    @property
    def pair(self) -> frozenset[str]:
        """The two movers that meet."""
        return frozenset((self.of, self.with_))

    @property
    def off(self) -> float:
        """How far outside what is wanted the simulated value is, in `unit`."""
        low, high = self.wanted
        return max(low - self.predicted, self.predicted - high, 0.0)

    def is_within(self, value: float) -> bool:
        """Say whether a value in `unit` is wanted, give or take the tolerance."""
        low, high = self.wanted
        return low - self.tolerance <= value <= high + self.tolerance

    def holds(self, held: tuple[float, float] | None) -> bool:
        """Say whether a gap's least and most value are within its tolerance, rounding (a thousandth of it) apart."""
        low, high = self.wanted
        slack = 1.001 * self.tolerance
        return held is None or (low - slack <= held[0] and held[1] <= high + slack)


@dataclass(frozen=True, slots=True)
class InstantState:
    """One mover at a named instant."""

    station_m: float
    speed_mps: float
    x_m: float
    y_m: float


@dataclass(frozen=True, slots=True)
class InstantPlan:
    """A named instant (T0, say): its time, every mover's state, and per encounter what is left.

    gaps_m: bumper to bumper along the path, where that has a meaning (one lane, or a straight approach);
    times_to_collision_s: that gap over the closing speed; times_left_s: until the encounter by plan.
    """

    time_s: float
    movers: dict[str, InstantState]
    gaps_m: dict[str, float]
    times_to_collision_s: dict[str, float]
    times_left_s: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class BudgetLine:
    """One piece of a budget: what, how much (m or s), and the scenario line it comes from."""

    what: str
    value: float
    place: str | None


@dataclass(frozen=True, slots=True)
class Budget:
    """A chain of pieces that must fit into what there is; short_by > 0 is proof that it doesn't.

    lacks_m: of way that is missing, the stretch of the mover's path (stations from, to) that it would take, before the
    path's start or beyond its end; None where it lies nowhere, and in documents saved before it was told.
    """

    title: str
    mover: str
    unit: str
    available: BudgetLine
    pieces: tuple[BudgetLine, ...]
    short_by: float
    lacks_m: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class Conflict:
    """A constraint by name that the nearest miss violates, by how much, in which unit (None: not a size)."""

    name: str
    amount: float | None
    unit: str
    place: str | None


@dataclass(frozen=True, slots=True)
class Preferred:
    """The open quantity that is highest or lowest in this plan.

    value, fine: what it is, known to this (SI). step: how far apart values were looked at first. beyond: the nearest
    value looked at that doesn't work, None where the end of what is allowed is reached. why: what stops it, in words;
    budgets: the proof, where there is one.
    """

    which: Which
    name: str
    value: float
    unit: Unit
    fine: float
    step: float
    beyond: float | None
    why: str
    budgets: tuple[Budget, ...] = ()


@dataclass(frozen=True, slots=True)
class VerificationSummary:
    """What the independent simulation found.

    worst_encounter_error: ratio to the tolerance (a tenth is allowed); worst_limit_use: ratio to the limit.
    """

    method: str
    worst_encounter_error: float
    worst_limit_use: float
    agrees: bool
    findings: tuple[Message, ...] = ()
    spread: dict[str, tuple[float, float]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Plan:
    """The whole answer to one scenario. crew: of a feasible plan; documents of earlier versions have none.

    collisions: of bodies that are not to touch, which leave no plan; the first first.
    """

    format: str
    verdict: Verdict
    title: str
    prefer: Prefer
    fingerprint: str
    movers: dict[str, MoverPlan]
    triggers: dict[str, TriggerPlan]
    encounters: dict[str, EncounterPlan]
    instants: dict[str, InstantPlan]
    budgets: tuple[Budget, ...] = ()
    conflicts: tuple[Conflict, ...] = ()
    repairs: tuple[Message, ...] = ()
    warnings: tuple[Message, ...] = ()
    verification: VerificationSummary | None = None
    tried: tuple[str, ...] = ()
    critical_chain: tuple[str, ...] = ()
    space: SpacePlan | None = None
    preferred: Preferred | None = None
    crew: CrewPlan | None = None
    collisions: tuple[Message, ...] = ()
    steadiest: Steadiest | None = None

    @property
    def runway_m(self) -> float:
        """The way of all movers together, start to rest, in m."""
        return sum(one.runway.total_m for one in self.movers.values())

    @property
    def fails_checks(self) -> bool:
        """Whether a check of its room failed: it must not be run then. False where its room was not looked at."""
        return self.space is not None and not self.space.clear
