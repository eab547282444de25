"""Where a scenario goes on a site: plain, frozen data in SI, angles in degrees where a name says so."""

from __future__ import annotations

from choreo.words.kinds import Verdict
from choreo.words.records import dataclass

PLACEMENT_FORMAT = "choreo placement 1"
RECTANGLE_FORMAT = "choreo smallest rectangle 1"

Ring = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Pose:
    """A place p of the scenario's frame lies at R(heading_deg) p + (x_m, y_m) on the site."""

    x_m: float
    y_m: float
    heading_deg: float


@dataclass(frozen=True, slots=True)
class PlacedMark:
    """A place on the site with the heading there; on earth where the site is anchored."""

    x_m: float
    y_m: float
    heading_deg: float | None = None
    bearing_deg: float | None = None
    longitude_deg: float | None = None
    latitude_deg: float | None = None


@dataclass(frozen=True, slots=True)
class LeastRoom:
    """Where the margin is least: a place on the edge of the drivable area, and what is there."""

    x_m: float
    y_m: float
    what: str


@dataclass(frozen=True, slots=True)
class FoundPlace:
    """One pose on the site and what it means.

    margin_m: from the footprint to the edge of the drivable area, exactly at this pose. direction: of the
    subject at the first encounter; heading_deg and bearing_deg tell it exactly. at_start: there is no encounter,
    the direction is that at the subject's start.
    """

    pose: Pose
    margin_m: float
    area: str
    direction: str
    heading_deg: float
    bearing_deg: float | None
    starts: dict[str, PlacedMark]
    encounters: dict[str, PlacedMark]
    least_room: LeastRoom
    at_start: bool = False


@dataclass(frozen=True, slots=True)
class Resolution:
    """How finely was searched: sides of the smallest box of poses, and of the largest that was left undecided.

    alternatives_m: by how much a pose of some area and direction may be better than the one told for it; None: not
    known.
    """

    smallest_m: float
    smallest_deg: float
    undecided_m: float
    undecided_deg: float
    boxes: int
    ended_early: bool
    alternatives_m: float | None = None


@dataclass(frozen=True, slots=True)
class Shortfall:
    """What is missing where nothing fits: the pose at which the least is missing.

    short_m: what is missing there to the margin asked for. length_m, width_m: the footprint's least rectangle.
    longest_run_m: longest straight line inside the drivable area, over all lines through two of its corners;
    None where it has too many corners. without_exclusions_m: the margin that there would be without excluded
    directions.
    """

    pose: Pose
    short_m: float
    what: str
    x_m: float
    y_m: float
    length_m: float
    width_m: float
    longest_run_m: float | None
    without_exclusions_m: float | None = None


@dataclass(frozen=True, slots=True)
class Placement:
    """The whole answer.

    verdict: found | none | undecided | no plan. margin_bound_m: no pose has a larger margin. as_written_m: the
    margin at the pose in which the scenario stands on its own site. excluded: directions left out, in words.
    placed: the line that puts the scenario there. footprint_polygons_m: the footprint at the best pose, each
    polygon as rings, the outer one first. datum: of longitudes and latitudes.
    """

    format: str
    verdict: str
    title: str
    site: str
    plan_verdict: Verdict
    fingerprint: str
    least_margin_m: float
    best: FoundPlace | None = None
    alternatives: tuple[FoundPlace, ...] = ()
    margin_bound_m: float | None = None
    as_written_m: float | None = None
    resolution: Resolution | None = None
    excluded: tuple[str, ...] = ()
    shortfall: Shortfall | None = None
    footprint_polygons_m: tuple[tuple[Ring, ...], ...] = ()
    datum: str | None = None
    not_modelled: tuple[str, ...] = ()
    caution: str = ""
    warnings: tuple[str, ...] = ()
    failures: tuple[str, ...] = ()
    placed: str | None = None


@dataclass(frozen=True, slots=True)
class Rectangle:
    """The rectangle of least area that holds the footprint and the margin on all sides.

    long_side_deg: heading of the long side in the scenario's frame, within [0, 180). subject_deg: heading of
    the subject at the first encounter against the long side, within (-180, 180]. corners_m: in the scenario's
    frame. ground: what it is planned on, in words.
    """

    format: str
    verdict: str
    title: str
    plan_verdict: Verdict
    fingerprint: str
    margin_m: float
    length_m: float | None = None
    width_m: float | None = None
    area_m2: float | None = None
    long_side_deg: float | None = None
    subject_deg: float | None = None
    corners_m: Ring = ()
    ground: str = ""
    not_modelled: tuple[str, ...] = ()
    caution: str = ""
