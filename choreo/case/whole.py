"""The whole answer: planned on its site, verified, and with all that decides whether it may be run there."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace

import numpy as np

from choreo.case.answering import Progress, answer
from choreo.geometry import Path
from choreo.ground import Ground, ground_of
from choreo.ground.limits import OnSite, on_site
from choreo.plans.message import messages_of
from choreo.plans.record import Plan
from choreo.plans.room_record import SightPlan
from choreo.problem import paths_by_mover
from choreo.room.survey import survey
from choreo.scenario import Scenario
from choreo.sight.lines import sights_of, with_sights
from choreo.track.tracks import tracks_of
from choreo.words import Finding, Origin


@dataclass(frozen=True, slots=True)
class Prepared:
    """A scenario on its ground: limits lowered to what the ground leaves. paths: by mover."""

    written: Scenario
    on_site: OnSite
    ground: Ground | None
    paths: Mapping[str, Path]

    @property
    def scenario(self) -> Scenario:
        """The scenario as its ground lets it be driven."""
        return self.on_site.scenario

    def with_sights_of(self, plan: Plan) -> Prepared:
        """Give the same with obstacles that a sight has moved where a plan says."""
        if plan.space is None or not plan.space.sights:
            return self
        return self.moved(with_sights(self.scenario, plan.space.sights))

    def moved(self, scenario: Scenario) -> Prepared:
        """Give the same for a scenario in which obstacles stand elsewhere."""
        on = replace(self.on_site, scenario=scenario)
        return replace(self, on_site=on, paths=paths_by_mover(scenario))


@dataclass(frozen=True, slots=True)
class Whole:
    """A plan with the scenario it answers: on its ground, obstacles where sights have moved them. paths: by mover."""

    scenario: Scenario
    plan: Plan
    ground: Ground | None
    paths: Mapping[str, Path]


def prepare(scenario: Scenario) -> Prepared:
    """Put a scenario on its ground.

    Raises ChoreoError: faults of the site's geometry (site.*), of paths, and space.too-slippery,
    space.rate-over-surface.
    """
    ground = ground_of(scenario)
    paths = paths_by_mover(scenario)
    return Prepared(scenario, on_site(scenario, paths, ground), ground, paths)


def whole_answer(scenario: Scenario, *, progress: Progress | None = None) -> Whole:
    """Plan a scenario on its site, verify the plan and survey the room that it takes.

    progress: called with a word for each step. Raises ChoreoError: what prepare and answer raise.
    """
    tell = progress or (lambda _step: None)
    prepared, plan, sights = planned(prepare(scenario), progress=progress)
    lowered = prepared.on_site.lowered and not prepared.on_site.alike
    if plan.verdict == "infeasible" and lowered:
        return _without_the_surface(prepared, plan)
    if plan.verdict == "feasible":
        tell("room")
        plan = survey(scenario, prepared.on_site, prepared.paths, plan, prepared.ground, sights)
    return Whole(prepared.scenario, plan, prepared.ground, prepared.paths)


def planned(
    prepared: Prepared, *, progress: Progress | None = None
) -> tuple[Prepared, Plan, tuple[SightPlan, ...]]:
    """Plan a scenario on its ground and stand obstacles where its sights want them.

    Returns what was planned in the end, its verified plan without its room, and what became of the sights.
    Raises ChoreoError: what answer raises.
    """
    plan = answer(prepared.scenario, progress=progress)
    if plan.verdict != "feasible" or not prepared.scenario.sights:
        return prepared, plan, ()
    sights = _sights(prepared, plan)
    moved = with_sights(prepared.scenario, sights)
    if moved is prepared.scenario:
        return prepared, plan, sights
    # What was asked is the scenario as it stands; where an obstacle goes is part of the answer.
    plan = replace(answer(moved), fingerprint=plan.fingerprint)
    return prepared.moved(moved), plan, sights


def check_room(prepared: Prepared, plan: Plan, file: str) -> tuple[Finding, ...]:
    """Survey the room of a saved plan anew, and compare.

    prepared: with obstacles where the plan has them; file: of the plan, for messages. Returns an error where the
    plan says otherwise of its room, and one for each check of its room that fails.
    """
    place = Origin(file, 1, 1)
    sights = () if plan.space is None else plan.space.sights
    whole = survey(
        prepared.written, prepared.on_site, prepared.paths, plan, prepared.ground, sights
    )
    anew = whole.space
    if anew is None or plan.space is None:
        values = {"what": "all of it: the plan says nothing of its room"}
        return (Finding("plan.other-room", "error", place, values),)
    parts = [part.name for part in fields(anew)]
    other = [part for part in parts if getattr(anew, part) != getattr(plan.space, part)]
    movers = whole.movers.items()
    other += [f"runway of {n}" for n, one in movers if one.runway != plan.movers[n].runway]
    found = (
        [Finding("plan.other-room", "error", place, {"what": ", ".join(other)})] if other else []
    )
    found += [
        Finding("plan.not-clear", "error", place, {"text": one.text}) for one in anew.failures
    ]
    return tuple(found)


def _sights(prepared: Prepared, plan: Plan) -> tuple[SightPlan, ...]:
    scenario = prepared.scenario
    tracks = tracks_of(scenario, prepared.paths, plan)
    times = {name: one.time_s for name, one in plan.encounters.items()}
    obstacles = [] if prepared.ground is None else list(prepared.ground.obstacles.values())
    rings = [np.array(one.exterior.coords)[:-1] for one in obstacles]
    return sights_of(scenario, lambda name, t_s: tracks[name].poses(t_s), times, rings)


def _without_the_surface(prepared: Prepared, plan: Plan) -> Whole:
    """A proof that leans on the worst surface everywhere is none: look once more with the limits as written."""
    bare = answer(prepared.written)
    whole = Whole(prepared.scenario, plan, prepared.ground, prepared.paths)
    if bare.verdict == "infeasible":
        return replace(whole, scenario=prepared.written, plan=bare)
    note = Finding("space.surface-decides", "warning", prepared.written.origin("site"), {})
    undecided = replace(plan, verdict="undecided", warnings=(*plan.warnings, *messages_of((note,))))
    return replace(whole, plan=undecided)
