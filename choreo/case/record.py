"""A case: one scenario with all that is worked out of it, each thing once.

Neighbours (`with_`, `changed`) take over whatever the change does not touch: ground, paths, meetings, solvers. Whoever
looks at many variants of a scenario, from repairs to sweeps, goes from case to case.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field, replace
from functools import cached_property

from choreo.case.choices import check_preferred
from choreo.case.driven_lines import with_driven_lines
from choreo.case.quantities import quantities_of
from choreo.case.quantity import Quantity
from choreo.case.settings import check_kept
from choreo.geometry import Path
from choreo.ground import Ground, ground_of
from choreo.ground.limits import GroundLimits, limits_on_ground, limits_on_surface
from choreo.ground.surface import Surface
from choreo.linear import Memory
from choreo.pace import with_drives
from choreo.problem import Drawn, Staging, build_staging, draw, with_lateral_goals
from choreo.rules.applied import applied
from choreo.scenario import Scenario
from choreo.scenario.records.edits import with_each_mover
from choreo.solve import Solvers
from choreo.words.records import dataclass


@dataclass(frozen=True)
class Case:
    """A scenario on its ground, ready to be planned.

    written: as its author wrote it; on_site: with the limits that its ground leaves. solvers: shared by all
    neighbours. drawn_before, staged_before: of a neighbour; what is asked alike is taken over from there. brief: only
    verdict, reason and figures are wanted: what a plan tells beyond them (peaks, the chain of events, the spread by
    late detection) is left out. searched: what linear searches of neighbours came to, where they are done again.
    """

    written: Scenario
    ground: Ground | None
    on_site: GroundLimits
    solvers: Solvers = field(default_factory=Solvers)
    drawn_before: Drawn | None = None
    staged_before: Staging | None = None
    brief: bool = False
    searched: Memory | None = None

    @property
    def scenario(self) -> Scenario:
        """The scenario as its ground lets it be driven."""
        return self.on_site.scenario

    @cached_property
    def drawn(self) -> Drawn:
        """The paths. Raises ChoreoError: faults of paths, on every access."""
        return draw(self.scenario, self.drawn_before)

    @property
    def paths(self) -> Mapping[str, Path]:
        """Paths by mover. Raises ChoreoError: faults of paths."""
        return self.drawn.by_mover

    @cached_property
    def staging(self) -> Staging:
        """The problem with its meetings. Raises ChoreoError: what only geometry sees, on every access."""
        return build_staging(self.scenario, self.paths, self.staged_before)

    @cached_property
    def quantities(self) -> tuple[Quantity, ...]:
        """What a planner may change, in the author's order."""
        return tuple(quantities_of(self.scenario))

    def with_(self, quantity: Quantity, value: float) -> Case:
        """Give the neighbour in which a quantity has another value, in SI."""
        return self.changed(quantity.put(self.scenario, value))

    def changed(self, scenario: Scenario) -> Case:
        """Give the neighbour for a scenario that was made from this one's, limits of the ground included.

        Nothing is built yet: faults of the change show where its paths or its staging are asked for.
        """
        known = self.__dict__
        return Case(
            self.written,
            self.ground,
            replace(self.on_site, scenario=scenario),
            self.solvers,
            known.get("drawn", self.drawn_before),
            known.get("staging", self.staged_before),
            self.brief,
            self.searched,
        )

    def beside(self, scenario: Scenario) -> Case:
        """Give the case of another scenario of the same text, limits as its author wrote them.

        Raises ChoreoError: as case_of.
        """
        same = scenario.site is self.written.site
        ground = self.ground if same else ground_of(scenario)
        return _case(scenario, ground, self.solvers, self)

    def as_written(self) -> Case:
        """Give the case with the limits as written, whatever the ground leaves of them."""
        return self.changed(self.written)


def case_of(scenario: Scenario) -> Case:
    """Put a scenario on its ground.

    What it leaves out comes from the rules that it names. Raises ChoreoError: faults of the rules (rules.*), of the
    site's geometry (site.*), of paths, space.too-slippery, space.rate-over-surface, and names under keep: or cheap:
    that no quantity has.
    """
    return case_at(scenario, ground_of(scenario))


def case_at(scenario: Scenario, ground: Ground | None, solvers: Solvers | None = None) -> Case:
    """Put a scenario on a given ground, where it lies. solvers: those of another case.

    Raises ChoreoError: as case_of.
    """
    return _case(scenario, ground, solvers or Solvers(), None)


def _case(scenario: Scenario, ground: Ground | None, solvers: Solvers, before: Case | None) -> Case:
    """before: a neighbour, whose paths and meetings are taken over where they are asked alike."""
    known = {} if before is None else before.__dict__
    scenario = with_driven_lines(applied(scenario))
    drawn = draw(scenario, known.get("drawn", None if before is None else before.drawn_before))
    scenario = with_lateral_goals(scenario, drawn.by_mover)
    on = limits_on_ground(scenario, drawn.by_mover, ground)
    scenario, on = _checked(*_driven(scenario, on, drawn))
    staged = known.get("staging", None if before is None else before.staged_before)
    brief, searched = (False, None) if before is None else (before.brief, before.searched)
    return Case(scenario, ground, on, solvers, drawn, staged, brief, searched)


def case_on(scenario: Scenario, surface: Surface, solvers: Solvers | None = None) -> Case:
    """Put a scenario on a surface that is the same everywhere. solvers: those of another case.

    Raises ChoreoError: as case_of.
    """
    scenario = with_driven_lines(applied(scenario))
    drawn = draw(scenario)
    scenario = with_lateral_goals(scenario, drawn.by_mover)
    on = limits_on_surface(scenario, drawn.by_mover, surface)
    scenario, on = _checked(*_driven(scenario, on, drawn))
    return Case(scenario, None, on, solvers or Solvers(), drawn)


def _checked(written: Scenario, on: GroundLimits) -> tuple[Scenario, GroundLimits]:
    """Both as they are, if what their author names is there."""
    # What the ground keeps isn't looked at: of a drive it may be limits that are no quantities.
    check_kept(written)
    check_preferred(on.scenario)
    return written, on


def _driven(written: Scenario, on: GroundLimits, drawn: Drawn) -> tuple[Scenario, GroundLimits]:
    """Both with ramps and holds in place of drives, as the limits on the ground give them."""
    if not any(phase.drive for one in written.movers.values() for phase in one.programme):
        return written, on
    driven = with_drives(on.scenario, drawn.by_mover)
    programmes = driven.movers
    written = replace(
        with_each_mover(
            written, lambda name, one: replace(one, programme=programmes[name].programme)
        ),
        encounters=driven.encounters,
        instants=driven.instants,
        places=driven.places,
    )
    return written, replace(on, scenario=driven)
