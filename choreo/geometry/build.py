"""Path specifications -> paths, with the faults of all paths at once."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from choreo.geometry.banks import Bank, banked
from choreo.geometry.curve import CurvePath
from choreo.geometry.cusps import CuspPath
from choreo.geometry.loop import LoopPath, laps_by_name
from choreo.geometry.parallel import ParallelPath
from choreo.geometry.pieces import PieceFault, stretches_of
from choreo.geometry.poses import Path
from choreo.geometry.surveyed import SurveyedPath
from choreo.geometry.tolerances import (
    LOOP_APART_M,
    LOOP_TURNED_RAD,
    NOTHING,
    PIECES_APART_M,
    RADIUS_LEFT_RATIO,
    SURVEY_STEP_M,
)
from choreo.words import ChoreoError, Finding, Origin
from choreo.words.records import dataclass

# A survey of a circuit has at least so many points, the first one once more at its end.
LEAST_ROUND = 5

OriginOf = Callable[..., Origin | None]
Built = CurvePath | ParallelPath | SurveyedPath | LoopPath | CuspPath


def build_paths(
    specs: Mapping[str, Any],
    origin: OriginOf | None = None,
    known: Mapping[str, Path] | None = None,
) -> dict[str, Path]:
    """Build all paths of a scenario, in the order given.

    specs: by name, objects with the fields of PathSpec (start_m, heading_rad, pieces; or beside,
    offset_m, reversed, from_m, to_m; or points_m). origin: place of the keys (path name, field, ...).
    known: paths that were built from the same specs before, taken over.
    Raises ChoreoError with the faults of all paths.
    """
    building = _Building(specs, origin or (lambda *keys: None), known or {})
    built = {name: building.path(name) for name in specs}
    if building.findings:
        raise ChoreoError(building.findings)
    return {name: path for name, path in built.items() if path is not None}


def standing_path(x_m: float, y_m: float, heading_rad: float) -> Path:
    """Give a straight path of 1 m whose station 0 is the pose (site frame, m and rad)."""
    return CurvePath([(1.0, 0.0, 0.0)], (x_m, y_m), heading_rad)


@dataclass(frozen=True)
class _Reached:
    """Where a chain of stretches has come to: its end in m, the heading there, and how many stretches led there."""

    end_m: tuple[float, float]
    heading_rad: float
    count: int = 0

    def after(self, stretches: list[tuple[float, float, float]]) -> _Reached:
        """Go on to the end of all stretches; those that led here are not gone through again."""
        more = stretches[self.count :]
        if not more:
            return self
        path = CurvePath(more, self.end_m, self.heading_rad)
        heading = float(path.heading_at(np.array([path.length_m]))[0])
        return _Reached(path.end_m, heading, len(stretches))

    def turned(self) -> _Reached:
        """The same place, from which a chain goes on the other way."""
        return replace(self, heading_rad=self.heading_rad + math.pi)


class _Building:
    """Paths built so far, those under way, and what was found."""

    def __init__(
        self, specs: Mapping[str, Any], origin: OriginOf, known: Mapping[str, Path]
    ) -> None:
        self._specs = specs
        self._origin = origin
        self._built: dict[str, Built | None] = {
            name: path for name, path in known.items() if isinstance(path, Built)
        }
        self._under_way: list[str] = []
        self.findings: list[Finding] = []

    def _fault(self, code: str, *keys: str | int, **values: str | float) -> None:
        self.findings.append(Finding(code, "error", self._origin(*keys), values, ()))

    def path(self, name: str) -> Built | None:
        """Build a path once; None when it is faulty."""
        if name not in self._built:
            self._under_way.append(name)
            self._built[name] = self._made(name, self._specs[name])
            self._under_way.pop()
        return self._built[name]

    def _made(self, name: str, spec: Any) -> Built | None:
        if getattr(spec, "beside", None) is not None:
            return self._beside(name, spec)
        if getattr(spec, "pieces", None):
            return self._chain(name, spec)
        return self._survey(name, spec)

    def _chain(self, name: str, spec: Any) -> CurvePath | LoopPath | CuspPath | None:
        stretches: list[tuple[float, float, float]] = []
        legs: list[_Reached] = []
        marks: dict[str, tuple[float, float]] = {}
        banks: list[Bank] = []
        station, faults = 0.0, len(self.findings)
        start = (float(spec.start_m[0]), float(spec.start_m[1]))
        heading = float(spec.heading_rad)
        known = _Reached(start, heading)
        backwards = spec.pieces[0].backwards
        for number, piece in enumerate(spec.pieces):
            if piece.backwards != backwards and len(self.findings) == faults:
                known = known.after(stretches).turned()
                legs.append(known)
                backwards = piece.backwards
            # After a faulty piece the chain's place is unknown.
            if piece.at_m is not None and len(self.findings) == faults:
                known = known.after(stretches)
                self._check_place(name, number, piece, known.end_m)
            try:
                parts = stretches_of(piece)
            except PieceFault as fault:
                self._fault(
                    fault.code, name, "pieces", number, fault.key, path=name, **fault.values
                )
                continue
            bank = getattr(piece, "bank_rad", 0.0)
            if bank:
                even = getattr(piece, "even_bank", False)
                parts, lying = banked(parts, bank, station, even=even)
                banks += lying
            stretches += parts
            end = station + sum(part[0] for part in parts)
            if piece.name is not None:
                if piece.name in marks:
                    self._fault(
                        "geometry.mark-twice",
                        name,
                        "pieces",
                        number,
                        "name",
                        path=name,
                        mark=piece.name,
                    )
                marks[piece.name] = (station, end)
            station = end
        for section, begin, until in getattr(spec, "sections", ()):
            marks[section] = (begin, until)
        if len(self.findings) > faults or not stretches:
            return None
        if legs:
            return _with_cusps([_Reached(start, heading), *legs], stretches, marks)
        if getattr(spec, "closed", False):
            whole = CurvePath(stretches, start, heading, marks, tuple(banks))
            return self._loop(name, stretches, start, heading, whole)
        return CurvePath(stretches, start, heading, marks, tuple(banks))

    def _loop(
        self,
        name: str,
        stretches: list[tuple[float, float, float]],
        start: tuple[float, float],
        heading: float,
        unrolled: CurvePath,
    ) -> LoopPath | None:
        """Close a chain: the shortest part of it that comes back to its beginning and only repeats is a lap."""
        count = len(stretches)
        for laps in range(count, 0, -1):
            first = stretches[: count // laps]
            if count % laps or first * laps != stretches:
                continue
            lap = CurvePath(first, start, heading)
            apart, turned = _misfit(lap)
            if apart <= LOOP_APART_M and turned <= LOOP_TURNED_RAD:
                return LoopPath(lap, unrolled, laps, unrolled.marks)
        self._open(name, apart, (lap.end_m, start), turned)
        return None

    def _open(self, name: str, apart_m: float, ends: tuple[Any, Any], turned_rad: float) -> None:
        self._fault(
            "geometry.loop-open",
            name,
            "closed",
            path=name,
            distance=_length(apart_m),
            reached=_point(ends[0]),
            start=_point(ends[1]),
            turned=f"{math.degrees(turned_rad):.2f} deg",
        )

    def _check_place(self, name: str, number: int, piece: Any, here: tuple[float, ...]) -> None:
        """A piece whose author states where it starts must start there."""
        apart = math.dist(here, piece.at_m)
        if apart > PIECES_APART_M:
            self._fault(
                "geometry.pieces-apart",
                name,
                "pieces",
                number,
                "at",
                path=name,
                piece=number + 1,
                distance=_length(apart),
                stated=_point(piece.at_m),
                reached=_point(here),
            )

    def _survey(self, name: str, spec: Any) -> SurveyedPath | LoopPath | None:
        points = np.array(getattr(spec, "points_m", ()), dtype=float).reshape(-1, 2)
        closed = getattr(spec, "closed", False)
        if len(points) < 2:
            self._fault("geometry.survey-too-few", name, "surveyed", path=name, count=len(points))
            return None
        steps = np.diff(points, axis=0)
        lengths = np.hypot(steps[:, 0], steps[:, 1])
        if float(lengths.min()) < SURVEY_STEP_M:
            at = int(lengths.argmin())
            self._fault(
                "geometry.survey-repeats",
                name,
                "surveyed",
                path=name,
                first=at + 1,
                second=at + 2,
                point=_point(points[at]),
            )
            return None
        if closed:
            apart = float(np.hypot(*(points[-1] - points[0])))
            if apart > LOOP_APART_M or len(points) < LEAST_ROUND:
                self._open(name, apart, (points[-1], points[0]), 0.0)
                return None
            points[-1] = points[0]
            steps = np.vstack((np.diff(points, axis=0), points[1:2] - points[:1]))
        along = (steps[1:] * steps[:-1]).sum(axis=1)
        if len(along) and float(along.min()) <= 0.0:
            at = int(along.argmin()) + 1
            self._fault(
                "geometry.survey-folds",
                name,
                "surveyed",
                path=name,
                number=at + 1,
                point=_point(points[at]),
            )
            return None
        if not closed:
            return SurveyedPath(points)
        lap = SurveyedPath(points, closed=True)
        return LoopPath(lap, lap, len(spec.laps), laps_by_name(lap.length_m, spec.laps))

    def _beside(self, name: str, spec: Any) -> ParallelPath | LoopPath | None:
        other = spec.beside
        if other not in self._specs:
            self._fault("geometry.beside-unknown", name, "beside", path=name, base=other)
            return None
        if other in self._under_way:
            loop = [*self._under_way[self._under_way.index(other) :], other]
            self._fault("geometry.beside-loop", name, "beside", path=name, loop=" -> ".join(loop))
            return None
        base = self.path(other)
        if isinstance(base, CuspPath):
            self._fault("geometry.beside-cusps", name, "beside", path=name, base=other)
        if base is None or isinstance(base, CuspPath):
            return None
        whole = spec.from_m is None and spec.to_m is None
        if isinstance(base, LoopPath) and not whole:
            base = base.unrolled
        low = 0.0 if spec.from_m is None else float(spec.from_m)
        high = base.length_m if spec.to_m is None else float(spec.to_m)
        if not -NOTHING <= low < high - NOTHING or high > base.length_m + NOTHING:
            self._fault(
                "geometry.beside-range",
                name,
                "from" if spec.from_m is not None else "to",
                path=name,
                base=other,
                low=_length(low),
                high=_length(high),
                length=_length(base.length_m),
            )
            return None
        offset = float(spec.offset_m)
        window = (max(low, 0.0), min(high, base.length_m))
        if isinstance(base, LoopPath):
            window = (0.0, base.lap_m)
        tightest = _tightest(base, window, offset)
        if abs(offset) * tightest >= 1.0 - RADIUS_LEFT_RATIO:
            self._fault(
                "geometry.offset-too-tight",
                name,
                "offset",
                path=name,
                base=other,
                offset=_length(offset),
                radius=_length(1.0 / tightest),
            )
            return None
        if isinstance(base, LoopPath):
            turned = bool(spec.reversed)
            lap = _parallel(base.lap, offset, window, turned)
            written = (0.0, base.unrolled.length_m)
            unrolled = _parallel(base.unrolled, offset, written, turned)
            named = isinstance(base.lap, SurveyedPath)
            marks = laps_by_name(lap.length_m, base.marks) if named else unrolled.marks
            return LoopPath(lap, unrolled, base.laps, marks)
        return _parallel(base, offset, window, bool(spec.reversed))


def _with_cusps(
    legs: list[_Reached],
    stretches: list[tuple[float, float, float]],
    marks: dict[str, tuple[float, float]],
) -> CuspPath:
    """Lay legs one after the other. legs: where each begins, which way, and how many stretches lie before it."""
    ends = [*(leg.count for leg in legs[1:]), len(stretches)]
    return CuspPath(
        [
            CurvePath(stretches[leg.count : end], leg.end_m, leg.heading_rad)
            for leg, end in zip(legs, ends, strict=True)
        ],
        marks,
    )


def _misfit(lap: CurvePath) -> tuple[float, float]:
    """How far a lap's end is from its beginning, in m, and by how much it points elsewhere, in rad."""
    ends = lap.pose(np.array([0.0, lap.length_m]))
    apart = math.hypot(float(np.diff(ends.x_m)[0]), float(np.diff(ends.y_m)[0]))
    turned = float(np.diff(ends.heading_rad)[0])
    return apart, abs(math.remainder(turned, 2.0 * math.pi))


def _tightest(
    base: CurvePath | ParallelPath | SurveyedPath | LoopPath,
    window: tuple[float, float],
    offset: float,
) -> float:
    """Largest curvature towards the side of the offset inside the window, in 1/m, at least 0."""
    side = math.copysign(1.0, offset)
    worst = 0.0
    for start, end, k0, k1 in base.stretches():
        low, high = max(start, window[0]), min(end, window[1])
        if high > low:
            rate = (k1 - k0) / (end - start)
            worst = max(
                worst, side * (k0 + rate * (low - start)), side * (k0 + rate * (high - start))
            )
    return worst


def _parallel(
    base: CurvePath | ParallelPath | SurveyedPath,
    offset: float,
    window: tuple[float, float],
    is_reversed: bool,
) -> ParallelPath:
    """Lay a parallel; one beside a parallel is beside that one's base."""
    if not isinstance(base, ParallelPath):
        return ParallelPath(base, offset, window, is_reversed=is_reversed)
    low, high = np.clip(np.sort(base.base_station(np.array(window))), *base.window_m)
    side = -1.0 if base.is_reversed else 1.0
    return ParallelPath(
        base.base,
        base.offset_m + side * offset,
        (float(low), float(high)),
        is_reversed=is_reversed != base.is_reversed,
    )


def _length(value_m: float) -> str:
    return f"{value_m:.3f} m"


def _point(point: Any) -> str:
    return f"({point[0]:.3f}, {point[1]:.3f}) m"
