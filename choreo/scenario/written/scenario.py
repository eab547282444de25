"""The file models: what an author writes, key by key; also the source of the JSON Schema."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field

from choreo.scenario.records.scenario import FREE, Span
from choreo.scenario.written.block import CountedName
from choreo.scenario.written.block import Name as Name
from choreo.scenario.written.block import Point as Point
from choreo.scenario.written.block import Written as Written
from choreo.scenario.written.errors import ErrorsWritten, Latency, LatencyText
from choreo.scenario.written.events import EventText, HoldEnd, PartText, PlaceText
from choreo.scenario.written.fields import (
    Acceleration,
    AfterGo,
    Angle,
    AngleNotZero,
    Distance,
    Frequency,
    Goal,
    Jerk,
    Lateral,
    Length,
    LengthRange,
    LengthSpan,
    PositiveLength,
    PositiveSpeed,
    PositiveTime,
    Rate,
    Ratio,
    Speed,
    SpeedSpan,
    Time,
    TimeRange,
    TimeSpan,
    text_of,
    wrong,
)
from choreo.scenario.written.following import FollowWritten as FollowWritten
from choreo.scenario.written.matrix import MatrixWritten
from choreo.scenario.written.paths import ArcWritten as ArcWritten
from choreo.scenario.written.paths import BendWritten as BendWritten
from choreo.scenario.written.paths import ClothoidWritten as ClothoidWritten
from choreo.scenario.written.paths import Drive
from choreo.scenario.written.paths import PathWritten as PathWritten
from choreo.scenario.written.paths import PieceBlock as PieceBlock
from choreo.scenario.written.paths import PieceWritten as PieceWritten
from choreo.scenario.written.paths import ShiftWritten as ShiftWritten
from choreo.scenario.written.sights import SightWritten
from choreo.scenario.written.tables import Table
from choreo.scenario.written.tolerances import TolerancesWritten
from choreo.words.kinds import (
    CONDITIONS,
    PHASE_KINDS,
    Between,
    Combined,
    Condition,
    ContactPointName,
    MoverKind,
    PhaseKind,
    Prefer,
)
from choreo.words.quantities import quoted
from choreo.words.tolerances import CONTACT_TOLERANCE_M

# Of a condition that is only printed.
MOST_LETTERS = 60


def _file_names(value: Any) -> Any:
    """One file or several; anything else is refused once, in our own words."""
    several = isinstance(value, list) and all(isinstance(one, str) for one in value)
    if isinstance(value, str) or several:
        return value
    raise wrong(
        "the name of a file is wanted here, or a list of such names",
        "Write `fleet: fleet.yaml` or `fleet: [fleet.yaml, others.yaml]`.",
    )


def _plain(value: Any) -> str:
    """Words or a figure, few enough for a line; control characters are refused in the whole file."""
    text = " ".join(text_of(value).split())
    if not text or len(text) > MOST_LETTERS:
        raise wrong(
            f"`{quoted(text)}` can't be printed on one line of a sheet",
            f"Write a few words or a figure, up to {MOST_LETTERS} letters, like `20 lux`.",
        )
    return text


Plain = Annotated[str, BeforeValidator(_plain)]
FileNames = Annotated[str | tuple[str, ...], BeforeValidator(_file_names)]


class BodyWritten(Written):
    length: PositiveLength | None = None
    width: PositiveLength | None = None
    front_overhang: Length | None = Field(None, alias="front overhang")
    corners: tuple[Point, ...] | None = None


class FailsafeWritten(Written):
    brake: Acceleration
    reaction: Time = 0.0


class LimitsWritten(Written):
    speed: PositiveSpeed | None = None
    accelerate: Table | None = None
    brake: Acceleration | None = None
    jerk: Jerk | None = None
    lateral: Acceleration | None = None
    combined: Combined | None = None
    stroke: PositiveLength | None = None
    failsafe: FailsafeWritten | None = None


class LaunchWritten(Written):
    latency: Time = 0.0


class UsualWritten(Written):
    accelerate: Acceleration | None = None
    brake: Acceleration | None = None


class StartWritten(Written):
    station: LengthSpan | None = None
    speed: Speed = 0.0
    at: Literal["go"] | None = None


class StandWritten(Written):
    at: Point
    heading: Angle = 0.0


class WaitWritten(Written):
    for_what: str | None = Field(None, alias="for")
    until: AfterGo | None = None
    lasting: PositiveTime | None = None


class RampWritten(Written):
    to: Goal
    on: CountedName | None = None
    accelerate: Rate | None = None
    brake: Rate | None = None
    jerk: Jerk | None = None
    build_up: PositiveTime | None = Field(None, alias="build up")
    within: PositiveLength | None = None
    over: PositiveLength | None = None
    lasting: PositiveTime | None = None

    @property
    def speed(self) -> Span:
        """The speed at its end; any, as long as only its lateral acceleration is known."""
        return FREE if isinstance(self.to, Lateral) else self.to


class HoldWritten(Written):
    settle: Time = 0.0
    settled_by: EventText | None = Field(None, alias="settled by")
    for_what: str | None = Field(None, alias="for")
    until: HoldEnd | None = None


class StopWritten(Written):
    brake: Acceleration | None = None
    at: PlaceText | None = None


class DriveWritten(Written):
    until: PlaceText
    to: PositiveSpeed | None = None
    lasting: PositiveTime | None = None


class ReturnWritten(Written):
    to: Literal["start"] = "start"
    at: PositiveSpeed
    path: str | None = None
    distance: PositiveLength | None = None


PhaseBlock = WaitWritten | RampWritten | HoldWritten | StopWritten


class PhaseWritten(Written):
    wait: WaitWritten | None = None
    ramp: RampWritten | None = None
    hold: HoldWritten | None = None
    stop: StopWritten | None = None
    # Written out as ramp, hold and gap before records are made.
    follow: FollowWritten | None = None
    # Ramps and holds, once geometry is asked.
    drive: DriveWritten | None = None
    # Taken out of the programme before records are made.
    return_: ReturnWritten | None = Field(None, alias="return")
    name: CountedName | None = None
    # Written out before anything is checked; here for editors.
    repeat: str | None = None
    phases: tuple[PhaseWritten, ...] | None = None

    def by_kind(self) -> dict[PhaseKind, PhaseBlock | None]:
        """Give what is written under each kind of phase."""
        return {kind: getattr(self, kind) for kind in PHASE_KINDS}


class TurnsWritten(Written):
    about: Point
    by: AngleNotZero
    begins: Angle = Field(0.0, alias="from")


class MoverWritten(Written):
    _blocks = frozenset({"programme"})

    kind: MoverKind | None = None
    like: str | None = None
    path: str | None = None
    drive: Drive = False
    stand: StandWritten | None = None
    # Written out as an arc before anything is checked; here for editors.
    turns: TurnsWritten | None = None
    body: BodyWritten | None = None
    limits: LimitsWritten | None = None
    usual: UsualWritten | None = None
    launch: LaunchWritten | None = None
    brake_latency: Time | None = Field(None, alias="brake latency")
    errors: ErrorsWritten | None = None
    tolerances: TolerancesWritten | None = None
    start: StartWritten | None = None
    programme: tuple[PhaseWritten, ...] = ()


class WhenWritten(Written):
    station: LengthSpan | None = None
    distance: LengthSpan | None = None
    time_to_collision: TimeSpan | None = Field(None, alias="time to collision")
    gap: LengthSpan | None = None
    to: str | None = None
    speed: SpeedSpan | None = None
    time: TimeSpan | None = None

    def by_condition(self) -> dict[Condition, Span | None]:
        """Give what is written under each condition."""
        return {condition: getattr(self, condition.replace(" ", "_")) for condition in CONDITIONS}


class TriggerWritten(Written):
    watch: str
    when: WhenWritten
    to: str | None = None
    latency: LatencyText = Latency(0.0)
    sampling: Frequency = 100.0
    during: str | None = None


class ContactWritten(Written):
    kind: Literal["contact"]
    of: str
    with_: str = Field(alias="with")
    overlap: Ratio | None = None
    offset: Length | None = None
    side: Ratio | None = None
    point: ContactPointName = "reference"
    tolerance: PositiveLength = CONTACT_TOLERANCE_M


class GapWritten(Written):
    kind: Literal["gap"]
    of: str
    with_: str = Field(alias="with")
    distance: LengthRange | None = None
    time_gap: TimeRange | None = Field(None, alias="time gap")
    time_to_collision: TimeRange | None = Field(None, alias="time to collision")
    at: EventText | None = None
    during: PartText | None = None
    tolerance: str | None = None


class PassWritten(Written):
    kind: Literal["pass"]
    of: str
    with_: str = Field(alias="with")
    distance: LengthRange | None = None
    time: TimeRange | None = None
    first: str
    between: Between = "bodies"
    tolerance: str | None = None


EncounterWritten = ContactWritten | GapWritten | PassWritten


class InstantWritten(Written):
    before: EventText
    by: Time


class SafetyWritten(Written):
    clearance: Distance | None = None
    abort_margin: Distance | None = Field(None, alias="abort margin")
    keep_out: Distance | None = Field(None, alias="keep out")
    path_error: Distance | None = Field(None, alias="path error")
    position_error: Distance | None = Field(None, alias="position error")


class PlacedWritten(Written):
    on: str | None = None
    at: Point
    turned: Angle = 0.0


class RulesNamedWritten(Written):
    set: str
    family: str


class FileWritten(MatrixWritten):
    """The whole scenario file."""

    _blocks = frozenset(
        {
            "conditions",
            "values",
            "vary",
            "together",
            "paths",
            "triggers",
            "encounters",
            "instants",
            "safety",
            "sights",
        }
    )

    choreo: Literal["1"]
    title: str
    about: str = ""
    conditions: dict[Plain, Plain] = Field(default_factory=dict)
    prefer: Prefer = "shortest runway"
    site: str | None = None
    fleet: FileNames | None = None
    values: dict[Name, str] = Field(default_factory=dict)
    keep: tuple[str, ...] = ()
    cheap: tuple[str, ...] = ()
    paths: dict[Name, PathWritten] = Field(default_factory=dict)
    movers: dict[Name, MoverWritten]
    triggers: dict[Name, TriggerWritten] = Field(default_factory=dict)
    encounters: dict[Name, Annotated[EncounterWritten, Field(discriminator="kind")]] = Field(
        default_factory=dict
    )
    instants: dict[Name, InstantWritten] = Field(default_factory=dict)
    sights: dict[Name, SightWritten] = Field(default_factory=dict)
    safety: SafetyWritten | None = None
    rules: RulesNamedWritten | None = None
    placed: PlacedWritten | None = None


class FleetEntryWritten(Written):
    kind: MoverKind | None = None
    body: BodyWritten | None = None
    limits: LimitsWritten | None = None
    usual: UsualWritten | None = None
    launch: LaunchWritten | None = None
    brake_latency: Time | None = Field(None, alias="brake latency")
    errors: ErrorsWritten | None = None


class FleetWritten(Written):
    """A fleet file: bodies and limits by name."""

    version: Literal["1"] = Field(alias="choreo fleet")
    title: str = ""
    movers: dict[Name, FleetEntryWritten]
