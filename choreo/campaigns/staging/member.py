"""One variant on its way to a staging: its own plan, and from where else it could start."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field, replace
from functools import cached_property

import numpy as np

from choreo.campaigns.staging.boxes import Box, Interval
from choreo.case import Answer, Case, answer_with_sights, may_work, start_range_of, survey
from choreo.linear import NotLinear
from choreo.plans import Plan
from choreo.scenario import Span
from choreo.scenario.records.edits import with_mover
from choreo.words.records import dataclass

# Places along a path by which two paths are known to be one, and to which they must agree (m).
ALONG = 17
SAME_DIGITS = 3


@dataclass()
class Member:
    """A feasible variant. index: in the campaign. own: its plan from its own marks.

    moved: obstacles that stand where a sight wants them, and might elsewhere as well. ranges: what has been asked of
    its starts so far, by mover and where the others start.
    """

    index: int
    case: Case
    own: Plan
    ranges: dict[tuple[str, tuple[tuple[str, float], ...]], Interval | None] = field(
        default_factory=dict
    )
    unsure: bool = False
    moved: frozenset[str] = frozenset()

    @cached_property
    def layout(self) -> tuple[tuple[str, object, object], ...]:
        """What must be alike for two variants to share marks: movers, their bodies, their paths or places."""
        bodies = {name: mover.body for name, mover in self.case.scenario.movers.items()}
        return tuple((name, bodies[name], course) for name, course in self.courses.items())

    @cached_property
    def bare_layout(self) -> tuple[tuple[str, object, object], ...]:
        """The layout, wherever those stand that a sight moves."""
        return tuple(one for one in self.layout if one[0] not in self.moved)

    @cached_property
    def courses(self) -> dict[str, tuple[object, ...]]:
        """Where each mover's path lies, or its place: equal ones lie alike."""
        return {name: _course(self.case, name) for name in sorted(self.case.scenario.movers)}

    @cached_property
    def starts(self) -> dict[str, float]:
        """Its own start stations (m), by mover."""
        return {name: planned.start.station_m for name, planned in self.own.movers.items()}

    @cached_property
    def box(self) -> Box:
        """The range of each start, the others free; where it can't be said, its own start alone."""
        found = {name: self.range_of(name, {}) for name in self.starts}
        return {name: one or _point(self.starts[name]) for name, one in found.items()}

    @cached_property
    def _gentler(self) -> bool:
        return any(one.code == "plan.gentler" for one in self.own.warnings)

    def range_of(self, mover: str, at: Mapping[str, float]) -> Interval | None:
        """Give the range of one start while others stand somewhere, None where nothing works.

        Where it can't be said: its own start, if the others stand at theirs.
        """
        key = _key(mover, at)
        if key not in self.ranges:
            self.ranges[key] = self._asked(mover, at)
        return self.ranges[key]

    def _asked(self, mover: str, at: Mapping[str, float]) -> Interval | None:
        own = _point(self.starts[mover])
        if not self.free(mover):  # whether there is a plan then is looked at when it is planned
            return own
        if not self.unsure:
            try:
                free = {name: one for name, one in self._pinned(at).items() if self.free(name)}
                if any(abs(self.starts[name] - at[name]) > 1e-6 for name in at if name not in free):
                    return None
                found = start_range_of(self.case, mover, free, gentler=self._gentler)
                if not at and (found is None or not found[0] <= own.lo <= found[1]):
                    raise NotLinear  # its own plan is beyond what the linear stage sees
                return None if found is None else Interval(*found)
            except NotLinear:
                self.unsure = True
        at_own = all(abs(self.starts[name] - one) <= 1e-6 for name, one in at.items())
        return own if at_own else None

    def free(self, mover: str) -> bool:
        """Whether a start is open, so that its mark may be moved."""
        written = self.case.scenario.movers[mover]
        return written.stand is None and not written.start.station.fixed

    def _pinned(self, at: Mapping[str, float]) -> dict[str, float]:
        """Starts without those that follow from the ones before: fixed to the last digit, they would miss by it."""
        pinned: dict[str, float] = {}
        before: dict[str, float] = {}
        for name, station_m in at.items():
            known = self.ranges.get(_key(name, before))
            if known is None or not self.free(name) or not known.just(station_m):
                pinned[name] = station_m
            before[name] = station_m
        return pinned

    def may_run_from(self, at: Mapping[str, float]) -> bool:
        """Whether the linear stage has a plan from given start stations (m), or can't say."""
        return may_work(self._starting(self._pinned(at)), gentler=self._gentler)

    def planned_at(self, at: Mapping[str, float]) -> Answer:
        """Plan it anew from given start stations (m): verified, and with the room that it takes."""
        return survey(*answer_with_sights(self._starting(self._pinned(at))))

    def _starting(self, at: Mapping[str, float]) -> Case:
        scenario = self.case.scenario
        for name, station_m in at.items():
            if self.free(name):
                mover = scenario.movers[name]
                start = replace(mover.start, station=Span.at(station_m))
                scenario = with_mover(scenario, name, replace(mover, start=start))
        return self.case.changed(scenario)

    def runs_as_before(self, plan: Plan) -> bool:
        """Whether a plan from other marks may be run, and drives no ramp gentler that its own plan doesn't."""
        gentler = any(one.code == "plan.gentler" for one in plan.warnings)
        clear = plan.space is not None and plan.space.clear
        return plan.verdict == "feasible" and clear and gentler <= self._gentler

    def far_from(self, at: Mapping[str, float]) -> float:
        """Give how far its movers would be from their own marks, all together, in m."""
        return sum(abs(self.starts[name] - station_m) for name, station_m in at.items())


def _course(case: Case, mover: str) -> tuple[object, ...]:
    """Where a mover's path lies, or its place, rounded."""
    written = case.scenario.movers[mover]
    if written.stand is not None:
        return ("stands", written.stand)
    path = case.paths[mover]
    poses = path.pose(np.linspace(0.0, path.length_m, ALONG))
    return tuple(np.round([*poses.x_m, *poses.y_m], SAME_DIGITS).tolist())


def _key(mover: str, at: Mapping[str, float]) -> tuple[str, tuple[tuple[str, float], ...]]:
    return mover, tuple(sorted(at.items()))


def _point(station_m: float) -> Interval:
    return Interval(station_m, station_m)
