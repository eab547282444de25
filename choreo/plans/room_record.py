"""What a plan needs of the ground around it: clearance, stops, no return, keep-out, sights. Plain data in SI."""

from __future__ import annotations

from dataclasses import field

from choreo.plans.message import Message
from choreo.words.kinds import NoReturnState
from choreo.words.records import dataclass

# Who breaks a run off when all movers do.
ALL_TOGETHER = "all"

Ring = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class PairClearance:
    """The least distance between two bodies over the run: never more than the truth, at most 1 mm less.

    Of a mover that is steered by angle it is less by how far its body may come beside its straight, all the time.

    x_m, y_m: midway between the nearest points at time_s. meets_s: for a pair that is to touch, when; the
    time before which it was looked at (least_m is 0 then: it is meant to close), None for all others.
    """

    a: str
    b: str
    least_m: float
    time_s: float
    x_m: float
    y_m: float
    meets_s: float | None = None


@dataclass(frozen=True, slots=True)
class FailsafeStop:
    """A mover's stop from any instant: it goes on for reaction_s, then brakes to rest.

    During the reaction it goes on as planned or, if that takes it farther, at the speed that it has.

    longest_m: the longest way of such a stop, begun at longest_at_s. beyond_m: how far past its last encounter a stop
    begun before or at it ends; farthest_m: the same of stops from any instant. assumed: the scenario gives no
    failsafe, the defaults stand here. path_short_m: what its path lacks beyond its end for the stops to lie on it.
    """

    brake_mps2: float
    reaction_s: float
    assumed: bool
    longest_m: float
    longest_at_s: float
    beyond_m: float
    farthest_m: float
    path_short_m: float = 0.0


@dataclass(frozen=True, slots=True)
class NoReturn:
    """Until when a party can break the run off so that nothing touches and the encounter is avoided.

    who: a mover's name or ALL_TOGETHER. state: 'until' (at every instant up to time_s; where that is not so from the
    start on, up to time_s in the last of the windows), 'always' (up to the encounter itself), 'never'. before_m: what
    each party of the encounter then has left to it, along its path. windows: all stretches of time (from, to) before
    the encounter in which it can be broken off. touches: of 'never', that bodies touch whenever it is; else they only
    come nearer than the margin.
    """

    encounter: str
    who: str
    state: NoReturnState
    margin_m: float
    time_s: float | None
    before_s: float | None
    before_m: dict[str, float] = field(default_factory=dict)
    windows: tuple[tuple[float, float], ...] = ()
    touches: bool = False

    @property
    def by_all(self) -> bool:
        """Whether all movers break off together."""
        return self.who == ALL_TOGETHER


@dataclass(frozen=True, slots=True)
class KeepOut:
    """What any mover may sweep by plan or by a stop from any instant, widened by errors and a margin.

    polygons: each as rings, the outer one first, in site coordinates (m). swept_m2: without margin and errors.
    """

    margin_m: float
    error_m: float
    area_m2: float
    swept_m2: float
    polygons: tuple[tuple[Ring, ...], ...]


@dataclass(frozen=True, slots=True)
class SiteFit:
    """How far what is swept (errors included) stays from the edge of the drivable area; negative: outside.

    x_m, y_m: where it is least. edge: what is there: the area's edge or an obstacle's name.
    outside_m2: how much of the swept area lies outside.
    """

    site: str
    margin_m: float
    x_m: float
    y_m: float
    edge: str
    outside_m2: float


@dataclass(frozen=True, slots=True)
class SurfaceUse:
    """The least friction and the steepest grades under one mover, and what limits they leave.

    friction: None where the site gives none. uphill_ratio, downhill_ratio: largest rise and fall in the
    direction of travel. accelerate_mps2, brake_mps2, lateral_mps2: limits on this surface; None: as written.
    """

    friction: float | None
    uphill_ratio: float
    downhill_ratio: float
    accelerate_mps2: float | None
    brake_mps2: float | None
    lateral_mps2: float | None


@dataclass(frozen=True, slots=True)
class SafetySettings:
    """The margins in force."""

    clearance_m: float
    abort_margin_m: float
    keep_out_m: float
    path_error_m: float
    position_error_m: float


@dataclass(frozen=True, slots=True)
class SightPlan:
    """When a share of a mover is first seen from another, and where the obstacle must stand for it.

    to_collision_s: time left to the encounter then. stays: it is seen from then on. within: against the
    wanted value, None when none is wanted. move_m: along the heading of `moving`; x_m, y_m: its place then.
    episodes: when it is seen (from, to). helps: what is missed with nothing to move: a standing mover and the
    move in m along its heading that would give the wanted value.
    """

    name: str
    from_: str
    to: str
    share: float
    first_s: float | None
    to_collision_s: float | None
    stays: bool
    wanted_s: float | None = None
    tolerance_s: float | None = None
    within: bool | None = None
    moving: str | None = None
    move_m: float | None = None
    x_m: float | None = None
    y_m: float | None = None
    episodes: tuple[tuple[float, float], ...] = ()
    helps: tuple[str, float] | None = None


@dataclass(frozen=True, slots=True)
class ConePlan:
    """A cone of a course: its place in the site frame, and how near by plan a mover's body comes to it.

    side: on which it is passed. clear_m: below 0 it is touched, by so much. station_m: where the mover is then.
    """

    path: str
    name: str
    x_m: float
    y_m: float
    side: str
    mover: str
    clear_m: float
    station_m: float


@dataclass(frozen=True, slots=True)
class SpacePlan:
    """All that decides whether a plan may be run where it is planned.

    clear: no check failed; failures: those that did.
    """

    clear: bool
    settings: SafetySettings
    clearances: tuple[PairClearance, ...]
    stops: dict[str, FailsafeStop]
    no_return: tuple[NoReturn, ...]
    keep_out: KeepOut | None
    site: SiteFit | None = None
    surfaces: dict[str, SurfaceUse] = field(default_factory=dict)
    sights: tuple[SightPlan, ...] = ()
    cones: tuple[ConePlan, ...] = ()
    failures: tuple[Message, ...] = ()
    not_modelled: tuple[str, ...] = ()
    caution: str = ""
