"""The whole answer: planned on its site, verified, and with all that decides whether it may be run there."""

from __future__ import annotations

from dataclasses import replace

from choreo.case.answering import answer
from choreo.case.answers import Answer, Progress
from choreo.case.collisions import with_collisions
from choreo.case.extreme import preferred_answer
from choreo.case.record import Case, case_of
from choreo.ground.outlines import obstacle_corners
from choreo.plans.message import messages_of
from choreo.plans.record import Plan
from choreo.plans.room_record import SightPlan
from choreo.problem.patience import Patience
from choreo.room.sameness import other_parts, same
from choreo.room.survey import survey_room
from choreo.rules.planned import findings_of_plan
from choreo.scenario import Scenario
from choreo.sight.lines import sights_of, with_sights
from choreo.track.crew import crew_of
from choreo.track.tracks import tracks_of
from choreo.words import Finding, Origin


def whole_answer(
    scenario: Scenario, *, progress: Progress | None = None, patience: Patience | None = None
) -> Answer:
    """Plan a scenario on its site, verify the plan and survey the room that it takes.

    progress: called with a word for each step. patience: how long a plan is looked for. Raises ChoreoError: what
    case_of and answer raise.
    """
    found = answer_with_sights(case_of(scenario), progress=progress, patience=patience)
    return survey(*found, progress=progress)


def survey(
    found: Answer, sights: tuple[SightPlan, ...], *, progress: Progress | None = None
) -> Answer:
    """Put the room that a feasible plan takes and the crew's lists into it.

    A proof that leans on uneven ground is looked at once more. sights: what became of the sights of the case.
    """
    case, plan = found.case, found.plan
    if plan.verdict == "infeasible" and case.on_site.lowered and not case.on_site.alike:
        return _without_the_surface(found)
    if plan.verdict != "feasible":
        return with_collisions(found)
    plan = survey_room(
        case.written,
        case.on_site,
        case.paths,
        plan,
        case.ground,
        sights,
        progress or (lambda _word: None),
    )
    by_rules = findings_of_plan(case.scenario, case.paths, plan, obstacle_corners(case.ground))
    plan = replace(plan, warnings=(*plan.warnings, *messages_of(by_rules)))
    return replace(
        found, plan=replace(plan, crew=crew_of(case.scenario, case.paths, case.drawn.by_name, plan))
    )


def answer_with_sights(
    case: Case, *, progress: Progress | None = None, patience: Patience | None = None
) -> tuple[Answer, tuple[SightPlan, ...]]:
    """Plan a case and stand obstacles where its sights want them.

    Returns the answer of what was planned in the end, and what became of the sights. Raises ChoreoError: what answer
    raises.
    """
    first = preferred_answer(case, progress=progress, patience=patience)
    if not first.feasible or not case.scenario.sights:
        return first, ()
    sights = sights_in(first.case, first.plan)
    moved = with_sights(case.scenario, sights)
    if moved is case.scenario:
        return first, sights
    # What was asked is the scenario as it stands; where an obstacle goes is part of the answer.
    second = answer(case.changed(moved))
    plan = replace(second.plan, fingerprint=first.plan.fingerprint)
    return replace(second, plan=plan), sights


def with_sights_of(case: Case, plan: Plan) -> Case:
    """Give the case with obstacles that a sight has moved where a plan says."""
    if plan.space is None or not plan.space.sights:
        return case
    return case.changed(with_sights(case.scenario, plan.space.sights))


def check_room(case: Case, plan: Plan, file: str) -> tuple[Finding, ...]:
    """Survey the room of a saved plan anew, and compare within the tolerances of room/sameness.py.

    case: with obstacles where the plan has them; file: of the plan, for messages. Returns an error where the
    plan says otherwise of its room, and one for each check of its room that fails.
    """
    place = Origin(file, 1, 1)
    sights = () if plan.space is None else plan.space.sights
    whole = survey_room(case.written, case.on_site, case.paths, plan, case.ground, sights)
    anew = whole.space
    if anew is None or plan.space is None:
        values = {"what": "all of it: the plan says nothing of its room"}
        return (Finding("plan.other-room", "error", place, values),)
    other = other_parts(anew, plan.space)
    movers = whole.movers.items()
    other += [f"runway of {n}" for n, one in movers if not same(one.runway, plan.movers[n].runway)]
    crew = crew_of(case.scenario, case.paths, case.drawn.by_name, plan)
    # Documents of earlier versions have no such lists.
    if plan.crew is not None and not same(crew, plan.crew):
        other.append("crew (programmes, places, distances)")
    found = (
        [Finding("plan.other-room", "error", place, {"what": ", ".join(other)})] if other else []
    )
    found += [
        Finding("plan.not-clear", "error", place, {"text": one.text}) for one in anew.failures
    ]
    return tuple(found)


def sights_in(case: Case, plan: Plan) -> tuple[SightPlan, ...]:
    """Give what becomes of a case's sights when a plan is driven, with obstacles as they stand, or are moved."""
    tracks = tracks_of(case.scenario, case.paths, plan)
    times = {name: one.time_s for name, one in plan.encounters.items()}
    standing = obstacle_corners(case.ground)
    return sights_of(case.scenario, lambda name, t_s: tracks[name].poses(t_s), times, standing)


def _without_the_surface(found: Answer) -> Answer:
    """A proof that leans on the worst surface everywhere is none: look once more with the limits as written."""
    bare = answer(found.case.as_written())
    if bare.plan.verdict == "infeasible":
        return with_collisions(bare)
    place = found.case.written.origin("site")
    note = Finding("space.surface-decides", "warning", place, {})
    warnings = (*found.plan.warnings, *messages_of((note,)))
    return replace(found, plan=replace(found.plan, verdict="undecided", warnings=warnings))
