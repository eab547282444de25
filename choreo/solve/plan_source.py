"""What a plan is written from: a scenario, its problem and paths, and the solution in plain numbers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import field

import numpy as np

from choreo.geometry import Path
from choreo.problem.records import GapAt, Problem, Wait
from choreo.scenario import Scenario
from choreo.solve.attempts import Solved
from choreo.solve.reading import Reading
from choreo.words.kinds import CONDITIONS
from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class Place:
    """A pose of a mover's reference point in the site frame."""

    x_m: float
    y_m: float
    heading_rad: float


@dataclass(frozen=True)
class Source:
    """zero_s: when go is, on the solution's clock."""

    scenario: Scenario
    problem: Problem
    paths: Mapping[str, Path]
    reading: Reading
    zero_s: float
    _placed: dict[tuple[str, float], Place] = field(default_factory=dict)

    def place(self, mover: str, station_m: float) -> Place:
        """Give where a mover is at a station of its path."""
        known = self._placed.get((mover, station_m))
        if known is None:
            x, y, heading, _ = self.paths[mover].pose_at(station_m)
            known = self._placed[mover, station_m] = Place(x, y, heading)
        return known

    def places_m(self, mover: str, stations_m: Sequence[float]) -> list[tuple[float, float]]:
        """Give where a mover is at stations of its path, in the site frame."""
        poses = self.paths[mover].pose(np.array(stations_m))
        return list(zip(poses.x_m.tolist(), poses.y_m.tolist(), strict=True))

    def until_s(self, encounter: str) -> float | None:
        """Give when a gap that holds for a while does no longer, on the solution's clock; None for all else."""
        gap = self.problem.encounter(encounter)
        event = gap.until if isinstance(gap, GapAt) else None
        if event is None:
            return None
        mover = self.problem.mover(event.mover or "")
        motion, station = self.reading.movers[mover.name], mover.mark_station(event)
        if station is not None:
            return motion.when(station)
        boundary = mover.boundary_of(event) or 0
        return motion.phases[boundary - 1].end_s if boundary else motion.launch_s


def source_of(scenario: Scenario, solved: Solved) -> Source:
    """Put together what a plan is written from."""
    problem, reading = solved.staging.problem, solved.solution.reading
    return Source(scenario, problem, solved.staging.paths, reading, _go_s(problem, reading))


def _go_s(problem: Problem, reading: Reading) -> float:
    """Go is the first command to launch, unless something waits for a time after go.

    Who comes rolling may fire a trigger before it is launched: not before go.
    """
    anchored = any(CONDITIONS[trigger.condition].by_clock for trigger in problem.triggers) or any(
        isinstance(phase, Wait) and phase.until_s is not None
        for mover in problem.movers
        for phase in mover.phases
    )
    launches = [
        reading.movers[mover.name].launch_s - mover.launch_latency_s
        for mover in problem.movers
        if mover.phases
    ]
    crossings = [trigger.crossing_s for trigger in reading.triggers.values()]
    return 0.0 if anchored or not launches else min(launches + crossings)
