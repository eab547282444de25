"""The scenario in the author's words and SI numbers: frozen records, checked before they exist."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import field
from typing import Any

from choreo.scenario.records.driving import Drive as Drive
from choreo.scenario.records.driving import Return as Return
from choreo.scenario.records.driving import Usual as Usual
from choreo.scenario.records.errors import ErrorSource as ErrorSource
from choreo.scenario.records.errors import Spread as Spread
from choreo.scenario.records.events import Event as Event
from choreo.scenario.records.in_step import InStep as InStep
from choreo.scenario.records.matrix import Matrix
from choreo.scenario.records.paths import PathSpec as PathSpec
from choreo.scenario.records.paths import Piece as Piece
from choreo.scenario.records.plain_data import LATER
from choreo.scenario.records.preference import Extreme as Extreme
from choreo.scenario.records.rules import RulesAsked as RulesAsked
from choreo.scenario.records.safety import Safety
from choreo.scenario.records.sights import Sight
from choreo.scenario.records.site import Ring, SiteSpec
from choreo.scenario.records.span import FREE as FREE
from choreo.scenario.records.span import NONE
from choreo.scenario.records.span import Span as Span
from choreo.scenario.records.span import SpanEnd as SpanEnd
from choreo.scenario.records.tolerances import Tolerances as Tolerances
from choreo.words import Finding, Origin
from choreo.words.kinds import (
    CONDITIONS,
    PHASE_KINDS,
    PIECE_KINDS,
    Between,
    Combined,
    Condition,
    ContactPointName,
    EndName,
    Face,
    GapMeasure,
    MoverKind,
    PassMeasure,
    PhaseKind,
    Prefer,
)
from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class Body:
    """A convex polygon round the reference point, body frame (x forward, y left), counter-clockwise.

    Forward is the way it drives: of one that drives backwards corners, front and faces are those of the end that
    leads, which is its rear. What is told and written of its own front, left and right goes through the methods.
    """

    corners_m: tuple[tuple[float, float], ...]
    length_m: float
    width_m: float
    front_m: float
    rear_m: float
    backwards: bool = field(default=False, metadata=LATER)

    @property
    def leads(self) -> EndName:
        """Which of its own ends is ahead as it drives."""
        return "rear" if self.backwards else "front"

    @property
    def trails(self) -> EndName:
        """Which of its own ends is behind as it drives."""
        return "front" if self.backwards else "rear"

    @property
    def nose_m(self) -> float:
        """How far its own front is before its reference point, in m, as it points itself."""
        return self.rear_m if self.backwards else self.front_m

    @property
    def points_rad(self) -> float:
        """By how much it points elsewhere than it drives."""
        return math.pi if self.backwards else 0.0

    def own(self, forward_m: float) -> float:
        """Give a coordinate of the way it drives as one of its own, or back: + forward or + left, in m."""
        return -forward_m if self.backwards else forward_m

    # EN-FC v1.1 (October 2025) 1.2.5: of an overlap, 0 % is the outer right edge and 100 % the outer left edge; on a
    # side, 0 % is the rear and 100 % the front of the vehicle.

    def offset_of_overlap(self, overlap_ratio: float) -> float:
        """Give where on the front an overlap lies, in m from its middle, left +."""
        return self.own((overlap_ratio - 0.5) * self.width_m)

    def overlap_of_offset(self, offset_m: float) -> float:
        """Give the overlap (0 to 1 on the front) of a place on the front, in m from its middle, left +."""
        return self.own(offset_m) / self.width_m + 0.5

    def from_rear_of_side(self, side_ratio: float) -> float:
        """Give where a share of a side lies, in m from the rear."""
        return (1.0 - side_ratio if self.backwards else side_ratio) * self.length_m

    def side_of_from_rear(self, from_rear_m: float) -> float:
        """Give the share of a side (0 at the rear, 1 at the front) of a place on it, in m from the rear."""
        ratio = from_rear_m / self.length_m
        return 1.0 - ratio if self.backwards else ratio


@dataclass(frozen=True, slots=True)
class Failsafe:
    """The stop on loss of contact: braking after a reaction time."""

    brake_mps2: float
    reaction_s: float


@dataclass(frozen=True, slots=True)
class Limits:
    """What a mover can do; magnitudes, inf where the author gave no limit.

    combined: whether along and across its path it can do each alone, or what an ellipse leaves of the one by the other.
    """

    speed_mps: float
    accelerate: tuple[tuple[float, float], ...]
    brake_mps2: float
    jerk_mps3: float = math.inf
    lateral_mps2: float = math.inf
    stroke_m: float = math.inf
    failsafe: Failsafe | None = None
    combined: Combined = field(default="none", metadata=LATER)


@dataclass(frozen=True, slots=True)
class Start:
    """Where the reference point is at the launch, and how fast (a rolling start). at_go: that is at go."""

    station: Span = FREE
    speed_mps: float = 0.0
    at_go: bool = field(default=False, metadata=LATER)


@dataclass(frozen=True, slots=True)
class Phase:
    """One entry of a programme; which fields are set depends on its kind. implied: added, not written.

    rests_m, rests_at: where a stop comes to rest, a station or a mark. accelerate, brake: of a ramp whose rate is left
    to be chosen, from where to where. follows: the ramp (mover, phase) to whose speed this one goes, whatever that is
    changed to.

    for_s: of a hold how long it lasts, of a wait until when after go; lasting_s: how long a ramp or a wait lasts.
    lateral_mps2: what a ramp's speed has on the tightest place of the path, or of the piece lateral_on, instead of
    `to`, until geometry is asked. until_lateral_mps2: what ends a hold; ends_m: the station of that, once it is known.
    drive: written as a drive along the path, a hold until geometry is asked; driven: a ramp or hold that it became.
    """

    kind: PhaseKind
    name: str
    implied: bool = False
    for_trigger: str | None = None
    for_s: float | None = None
    for_m: float | None = None
    to: Span = NONE
    accelerate_mps2: float | None = None
    brake_mps2: float | None = None
    jerk_mps3: float | None = None
    build_up_s: float | None = None
    within_m: float | None = None
    over_m: float | None = None
    lasting_s: float | None = None
    settle_s: float = 0.0
    settled_by: Event | None = None
    until: Event | None = None
    rests_m: float | None = field(default=None, metadata=LATER)
    rests_at: Event | None = field(default=None, metadata=LATER)
    accelerate: Span | None = field(default=None, metadata=LATER)
    brake: Span | None = field(default=None, metadata=LATER)
    follows: tuple[str, str] | None = field(default=None, metadata=LATER)
    lateral_mps2: float | None = field(default=None, metadata=LATER)
    lateral_on: str | None = field(default=None, metadata=LATER)
    until_lateral_mps2: float | None = field(default=None, metadata=LATER)
    ends_m: float | None = field(default=None, metadata=LATER)
    drive: Drive | None = field(default=None, metadata=LATER)
    driven: bool = field(default=False, metadata=LATER)


@dataclass(frozen=True, slots=True)
class Mover:
    """One mover; either on a path or standing at a pose (x m, y m, heading rad).

    Latencies of its drive are from a command to the motion: launch_latency_s from rest, brake_latency_s of braking.
    """

    kind: MoverKind
    path: str | None
    stand: tuple[float, float, float] | None
    body: Body
    limits: Limits
    start: Start
    programme: tuple[Phase, ...]
    usual: Usual | None = field(default=None, metadata=LATER)
    launch_latency_s: float = field(default=0.0, metadata=LATER)
    brake_latency_s: float = field(default=0.0, metadata=LATER)
    back: Return | None = field(default=None, metadata=LATER)
    in_step: InStep | None = field(default=None, metadata=LATER)


@dataclass(frozen=True, slots=True)
class Trigger:
    """A condition on one mover; acts_on are the movers that wait for it.

    to: the encounter that it counts down to, of a gap the mover that it is measured to.
    """

    watch: str
    condition: Condition
    setting: Span
    to: str | None
    latency_s: float
    sampling_hz: float
    during: str | None
    acts_on: tuple[str, ...] = ()

    def anywhere(self, watched: Mover) -> bool:
        """Whether it counts in whatever phase its setting is reached; a gap only where no hold of it must settle."""
        facts = CONDITIONS[self.condition]
        if self.setting == FREE or self.during is not None or not facts.anywhere:
            return False
        return not (facts.to_mover and any(phase.settle_s > 0 for phase in watched.programme))


@dataclass(frozen=True, slots=True)
class Contact:
    """Bodies touch: `with_` at impact_m on `of` (front: lateral, left +; side: from the rear)."""

    of: str
    with_: str
    face: Face
    impact_m: float
    overlap: float | None
    point: ContactPointName
    tolerance_m: float


@dataclass(frozen=True, slots=True)
class Gap:
    """Bumper to bumper at an event, as distance (m), time gap (s) or time to collision (s).

    held_until: a later event up to which it holds within its tolerance.
    """

    of: str
    with_: str
    measure: GapMeasure
    wanted: Span
    at: Event
    tolerance: float
    held_until: Event | None = field(default=None, metadata=LATER)


@dataclass(frozen=True, slots=True)
class Pass:
    """A miss: room (m) or time (s) between `first` leaving the common zone and the other entering."""

    of: str
    with_: str
    measure: PassMeasure
    wanted: Span
    first: str
    between: Between
    tolerance: float


Encounter = Contact | Gap | Pass


@dataclass(frozen=True, slots=True)
class Instant:
    """A named moment by_s before another."""

    before: Event
    by_s: float


@dataclass(frozen=True)
class Scenario:
    """One staged test, checked. uses: where the named values of the file are used."""

    title: str
    about: str
    prefer: Prefer
    paths: Mapping[str, PathSpec]
    movers: Mapping[str, Mover]
    triggers: Mapping[str, Trigger]
    encounters: Mapping[str, Encounter]
    instants: Mapping[str, Instant]
    matrix: Matrix = field(default_factory=Matrix)
    values: Mapping[str, str] = field(default_factory=dict)
    uses: Mapping[str, tuple[Origin, ...]] = field(default_factory=dict)
    keep: tuple[str, ...] = ()
    site: SiteSpec | None = None
    placed: tuple[float, float, float] | None = None
    cheap: tuple[str, ...] = ()
    safety: Safety = field(default_factory=Safety)
    sights: Mapping[str, Sight] = field(default_factory=dict)
    conditions: Mapping[str, str] = field(default_factory=dict)
    extreme: Extreme | None = None
    errors: tuple[ErrorSource, ...] = field(default=(), metadata=LATER)
    tolerances: Mapping[str, Tolerances] = field(default_factory=dict)
    rules: RulesAsked | None = None
    notes: tuple[Finding, ...] = ()
    source_files: tuple[str, ...] = ()
    places: Mapping[tuple[str | int, ...], Origin] = field(default_factory=dict)

    @property
    def outline_m(self) -> Ring:
        """The site's outline for a picture, (x, y) in m; empty without one."""
        return () if self.site is None else self.site.outline_m

    def origin(self, *keys: str | int) -> Origin:
        """Give the place where something was written, or of its nearest ancestor that was.

        keys: as in the file, e.g. 'movers', 'subject', 'programme', 1, 'to' (the phase's kind may be left
        out). What came from a fleet or a site file has its place there.
        """
        keys = self._with_kind(keys)
        while keys and keys not in self.places:
            keys = keys[:-1]
        file = self.source_files[0] if self.source_files else "scenario"
        return self.places.get(keys, Origin(file, 1, 1))

    def turning_radius_m(self, mover: str) -> float | None:
        """Give how far from its hinge the reference point of one that `turns` is, in m; None of every other mover."""
        path = self.movers[mover].path
        turns = self.places.get(("movers", mover, "turns"))
        if path is None or turns is None or self.places.get(("paths", path)) != turns:
            return None
        return self.paths[path].pieces[0].radius_m

    def _with_kind(self, keys: tuple[str | int, ...]) -> tuple[str | int, ...]:
        """Put in the kind that the file has between a phase (or a piece) and its keys: `1, ramp, to`."""
        if keys in self.places or len(keys) < 5:
            return keys
        for kind in PHASE_KINDS if keys[0] == "movers" else PIECE_KINDS:
            whole = (*keys[:4], kind, *keys[4:])
            if whole[:5] in self.places:
                return whole
        return keys

    def meaning(self) -> dict[str, Any]:
        """Give all that decides a plan, records as they are: no titles, conditions, places or notes."""
        parts = ("paths", "movers", "triggers", "encounters", "instants")
        meaning: dict[str, Any] = {part: getattr(self, part) for part in parts}
        if self.sights:  # what has none keeps the fingerprint that it always had
            meaning["sights"] = self.sights
        if self.site is not None and self.site.drawn:
            meaning["site"] = self.site.meaning()
        if self.safety != Safety():
            meaning["safety"] = self.safety
        if self.extreme is not None:
            meaning["extreme"] = self.extreme
        if self.prefer == "smallest error":  # what may be off decides no other plan
            meaning["errors"] = self.errors
        return {"prefer": self.prefer, **meaning}
