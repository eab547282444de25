"""What comes out of a case: its plan with a verdict."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from choreo.case.record import Case
from choreo.geometry import Path
from choreo.ground import Ground
from choreo.plans.record import Plan
from choreo.scenario import Scenario
from choreo.solve import Solved
from choreo.words.records import dataclass

Progress = Callable[[str], None]


@dataclass(frozen=True)
class Answer:
    """A plan with its verdict, and the case that it answers.

    case: of what was planned in the end, obstacles where sights have moved them. solved: what the solver found, for
    neighbours to start from.
    """

    case: Case
    plan: Plan
    solved: Solved | None = None

    @property
    def scenario(self) -> Scenario:
        """The scenario as planned, with the limits that its ground leaves."""
        return self.case.scenario

    @property
    def ground(self) -> Ground | None:
        """The ground that it was planned on."""
        return self.case.ground

    @property
    def paths(self) -> Mapping[str, Path]:
        """Paths by mover."""
        return self.case.paths

    @property
    def feasible(self) -> bool:
        """Whether the plan holds, its room not asked."""
        return self.plan.verdict == "feasible"

    @property
    def clear(self) -> bool:
        """Whether the plan holds and no check of its room fails; a plan whose room was not looked at is not clear."""
        return self.feasible and self.plan.space is not None and self.plan.space.clear
