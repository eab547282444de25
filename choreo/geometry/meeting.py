"""Where two bodies on two paths meet as wanted: the answer's records and the search."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import field
from typing import NamedTuple

import numpy as np

from choreo.geometry.bodies import Outline
from choreo.geometry.meeting_choose import Found, best_of, met_of
from choreo.geometry.meeting_sweep import Range, Sweep
from choreo.geometry.meeting_touch import TouchedFace, Touching
from choreo.geometry.poses import Array, Path
from choreo.geometry.tolerances import DERIVATIVE_M, LINEAR_M, NEARLY_M, SAME_M
from choreo.words.kinds import ContactPointName, Face
from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class MeetingPoint:
    """An isolated meeting: station of the subject a and of the other b, in m."""

    station_a_m: float
    station_b_m: float


@dataclass(frozen=True, eq=False)
class MeetingTrack:
    """A whole stretch along which the wanted overlap holds (one lane, head-on in a lane).

    stations_b_m: rising, shape (n,); stations_a_m: of the first touch, shape (n,). slope: mean of
    ds_a/ds_b. linear: the relation is a straight line. error_m: largest misfit of the impact along it.
    """

    stations_b_m: Array
    stations_a_m: Array
    slope: float
    linear: bool
    error_m: float
    _touch: Callable[[Array, Array], Array] = field(repr=False)

    def at(self, station_b_m: float) -> tuple[float, float]:
        """Give the station of a in m that touches b at station_b_m, and the slope ds_a/ds_b there."""
        if self.linear:
            ahead = station_b_m - self.stations_b_m[0]
            return float(self.stations_a_m[0] + self.slope * ahead), self.slope
        around = station_b_m + DERIVATIVE_M * np.array([-1.0, 0.0, 1.0])
        guess = np.interp(around, self.stations_b_m, self.stations_a_m)
        outside = around - np.clip(around, self.stations_b_m[0], self.stations_b_m[-1])
        before, here, after = self._touch(around, guess + self.slope * outside)
        return float(here), float((after - before) / (2.0 * DERIVATIVE_M))

    def slopes(self, _low_m: float, _high_m: float) -> tuple[float, float] | None:
        """Give None: where bodies touch is looked at, no bounds of it are known; a straight line needs none."""
        return None


Meeting = MeetingPoint | MeetingTrack

# What may be touched where a face is meant, and whether a runs into b there (else b runs into a).
TOUCHED: Mapping[Face, tuple[TouchedFace, ...]] = {"front": ("front",), "side": ("left", "right")}
RUNS_INTO: Mapping[Face, bool] = {"front": True, "side": False}


class NearestOverlap(NamedTuple):
    """The closest impact to the wanted one that two paths allow, and where, in m."""

    impact_m: float
    station_a_m: float
    station_b_m: float


def find_contact(
    path_a: Path,
    body_a: Outline,
    path_b: Path,
    body_b: Outline,
    *,
    face: Face,
    impact_m: float,
    point: ContactPointName = "reference",
    range_a_m: Range | None = None,
    range_b_m: Range | None = None,
    tolerance_m: float = NEARLY_M,
) -> tuple[Meeting, ...]:
    """Find where b's body first touches a face of a's with b's point at the wanted place on it.

    path_a, body_a: of the subject. face: 'front' (impact_m is lateral in a's body frame, left +, in m)
    or 'side' (either flank; impact_m from a's rear end, in m). point: of b: 'reference',
    'front centre', 'rear centre'. range_a_m, range_b_m: stations allowed (default: whole paths).
    tolerance_m: misfit up to which a stretch of curve counts as a track where the overlap can't be
    exact. Returns meetings by rising station of a, then of b; empty when there is none.
    Only approaches count: just before, b is clear of the face and outside of it.
    """
    found: list[Meeting] = []
    for sweep in _sweeps(
        path_a, body_a, path_b, body_b, face, impact_m, point, range_a_m, range_b_m
    ):
        for one in met_of(sweep, tolerance_m):
            found.append(_record(sweep, one))
    found.sort(key=_first_stations)
    return tuple(one for i, one in enumerate(found) if i == 0 or not _same(found[i - 1], one))


def nearest_overlap(
    path_a: Path,
    body_a: Outline,
    path_b: Path,
    body_b: Outline,
    *,
    face: Face,
    impact_m: float,
    point: ContactPointName = "reference",
    range_a_m: Range | None = None,
    range_b_m: Range | None = None,
) -> NearestOverlap | None:
    """Find the touch whose impact comes closest to the wanted one; arguments as for find_contact.

    Returns impact and stations in m, or None when the bodies never touch that face.
    """
    best: tuple[float, NearestOverlap] | None = None
    for sweep in _sweeps(
        path_a, body_a, path_b, body_b, face, impact_m, point, range_a_m, range_b_m
    ):
        one = best_of(sweep)
        if one is not None and (best is None or abs(one.misfit_m) < best[0]):
            s_a, s_b = sweep.stations_ab(one.row_m, one.root_m)
            nearest = NearestOverlap(impact_m + one.misfit_m, float(s_a[0]), float(s_b[0]))
            best = (abs(one.misfit_m), nearest)
    return None if best is None else best[1]


def _sweeps(
    path_a: Path,
    body_a: Outline,
    path_b: Path,
    body_b: Outline,
    face: Face,
    impact_m: float,
    point: ContactPointName,
    range_a_m: Range | None,
    range_b_m: Range | None,
) -> list[Sweep]:
    """One sweep per touched face. The root is the moving mover whose station is solved for; the row is sampled."""
    range_a, range_b = _whole(range_a_m, path_a), _whole(range_b_m, path_b)
    root_is_a = RUNS_INTO[face]
    stands_a, stands_b = range_a[1] <= range_a[0], range_b[1] <= range_b[0]
    if (stands_a if root_is_a else stands_b) and not (stands_a and stands_b):
        root_is_a = not root_is_a
    sweeps = []
    for part in TOUCHED[face]:
        touching = Touching(part, body_a, body_b, path_a, path_b, point, impact_m)
        row, root = (range_b, range_a) if root_is_a else (range_a, range_b)
        sweeps.append(Sweep(touching, row, root, root_is_a=root_is_a))
    return sweeps


def _whole(range_m: Range | None, path: Path) -> Range:
    if range_m is None:
        return 0.0, path.length_m
    return max(range_m[0], 0.0), min(range_m[1], path.length_m)


def _record(sweep: Sweep, found: Found) -> Meeting:
    s_a, s_b = sweep.stations_ab(found.row_m, found.root_m)
    if len(s_a) == 1:
        return MeetingPoint(float(s_a[0]), float(s_b[0]))
    order = np.argsort(s_b, kind="stable")
    s_a, s_b = s_a[order], s_b[order]
    slope = float((s_a[-1] - s_a[0]) / (s_b[-1] - s_b[0]))
    off_line = s_a - (s_a[0] + slope * (s_b - s_b[0]))
    linear = float(np.abs(off_line).max()) <= LINEAR_M

    def touch(at_b: Array, guess_a: Array) -> Array:
        as_root = Sweep(sweep.touching, (0.0, 0.0), (0.0, 0.0), root_is_a=True)
        return as_root.touches(at_b, guess_a)[0]

    return MeetingTrack(s_b, s_a, slope, linear, found.misfit_m, touch)


def _first_stations(meeting: Meeting) -> tuple[float, float]:
    """Of a, and of b where a is at one place each time that b comes round: told apart by no less than SAME_M."""
    if isinstance(meeting, MeetingPoint):
        return round(meeting.station_a_m / SAME_M) * SAME_M, meeting.station_b_m
    return float(meeting.stations_a_m.min()), float(meeting.stations_b_m[0])


def _same(one: Meeting, other: Meeting) -> bool:
    return (
        isinstance(one, MeetingPoint)
        and isinstance(other, MeetingPoint)
        and abs(one.station_a_m - other.station_a_m) < SAME_M
        and abs(one.station_b_m - other.station_b_m) < SAME_M
    )
