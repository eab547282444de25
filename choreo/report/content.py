"""Which facts an answer gives, in which words and order; how they are laid out is not its business."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import assert_never

from choreo.plans.record import (
    Budget,
    InstantPlan,
    Plan,
    Preferred,
    TriggerPlan,
)
from choreo.report.course_figures import figure_sections
from choreo.report.crew import crew_sections
from choreo.report.encounters import encounter_sections
from choreo.report.launches import commands_of, in_step_of, launch_words
from choreo.report.rising import rising_sections
from choreo.report.room import failed_checks, room_sections
from choreo.report.sections import Account, Notes, Section, Table
from choreo.report.steadiest import steadiest_notes
from choreo.scenario import Scenario
from choreo.words.caution import CAUTION_LINE, CAUTIONS
from choreo.words.display import (
    KMH_PER_MPS,
    degrees,
    metres,
    of_limit,
    plain,
    quantity,
    seconds,
)
from choreo.words.kinds import Verdict
from choreo.words.records import dataclass

HEADLINES: Mapping[Verdict, str] = {
    "feasible": "FEASIBLE",
    "infeasible": "INFEASIBLE",
    "undecided": "UNDECIDED",
}
NUMBERS = frozenset({1, 2, 3, 4, 5})
# More rows of a nearest miss say nothing new: they follow from the first.
MOST_CONFLICTS = 6


@dataclass(frozen=True, slots=True)
class Content:
    """Headline, one line below it, and the sections."""

    verdict: Verdict
    headline: str
    title: str
    summary: str
    sections: tuple[Section, ...]


def content_of(
    scenario: Scenario, plan: Plan, *, full: bool = False, verbose: bool = False
) -> Content:
    """Choose what to say of a plan, first the verdict and what a crew needs.

    full: long lists to their end, and the whole caution. verbose: and what the solver tried.
    """
    sections: list[Section] = []
    if plan.space is not None:
        sections += failed_checks(plan.space)
    if plan.collisions:
        lines = tuple(f"{one.text}. {one.advice}" for one in plan.collisions)
        sections.append(Notes("collision: what leaves no plan", lines, key="collisions"))
    if plan.preferred is not None:
        sections += _preferred(plan.preferred)
    if plan.steadiest is not None:
        sections.append(steadiest_notes(plan.steadiest))
    if plan.movers:
        sections += [_marks(plan), *commands_of(plan), *in_step_of(plan), *_triggers(plan)]
        sections += crew_sections(scenario, plan.crew, full=full)
        sections += [*encounter_sections(scenario, plan), *_instants(plan)]
        sections += [_runway(plan), _speeds(scenario, plan)]
        sections += [*rising_sections(scenario, plan), *figure_sections(scenario, plan)]
        sections += room_sections(plan, full=full)
    sections += [_account(budget) for budget in plan.budgets]
    if plan.repairs:
        lines = tuple(f"{message.text}" for message in plan.repairs)
        hint = "`choreo why` shows all, and can write one into the file."
        sections.append(Notes("smallest changes that help", (*lines, hint), key="repairs"))
    if plan.conflicts:
        sections.append(_conflicts(plan, full=full))
    if plan.verdict == "undecided" and plan.tried and verbose:
        sections.append(Notes("what was tried", plan.tried, key="tried"))
    sections += _warnings(plan)
    if plan.critical_chain:
        sections.append(_chain(plan))
    sections.append(Notes("caution", CAUTIONS, key="caution") if full else caution_notes())
    summary = _summary(plan) + conditions_words(scenario)
    return Content(plan.verdict, headline_of(plan), plan.title, summary, tuple(sections))


def conditions_words(scenario: Scenario) -> str:
    """Give the conditions that an author states, as a sentence behind others; nothing without any."""
    stated = ", ".join(f"{name} {value}" for name, value in scenario.conditions.items())
    return f" Conditions: {stated}." if stated else ""


def _preferred(one: Preferred) -> list[Section]:
    value, fine = (quantity(number, one.unit) for number in (one.value, one.fine))
    line = f"{one.which} {one.name}: {value}, to {fine}; {one.why}"
    if one.beyond is not None and one.step > one.fine:
        line += f"; farther on every {quantity(one.step, one.unit)} was looked at"
    accounts = [replace(_account(each), title=f"beyond it: {each.title}") for each in one.budgets]
    return [Notes("preferred", (f"{line}.",), key="preferred"), *accounts]


def _chain(plan: Plan) -> Notes:
    # The start of a phase is the end of the one before it.
    events = [event for event in plan.critical_chain if not event.startswith("start of ")]
    return Notes("chain of events that sets the time", (" > ".join(events),), key="chain")


def caution_notes() -> Notes:
    """Give what everything that is printed says at its end, in one line."""
    return Notes("caution", (CAUTION_LINE,), key="caution")


def headline_of(plan: Plan) -> str:
    """Give the verdict in capitals, with `NOT CLEAR` where a check of the plan's room failed."""
    return HEADLINES[plan.verdict] + (", NOT CLEAR" if plan.fails_checks else "")


def _summary(plan: Plan) -> str:
    match plan.verdict:
        case "infeasible":
            proven = (
                "No plan exists for these vehicles, speeds and paths; the budgets below prove it."
            )
            if plan.collisions:
                return f"The nearest plan fails: {plan.collisions[0].text}. {proven}"
            return proven
        case "undecided" if plan.collisions:
            return f"No plan was found in which nothing collides: {plan.collisions[0].text}."
        case "undecided" if plan.verification is None:
            return "No plan was found, and no proof that there is none. The nearest miss is below."
        case "undecided":
            return "A plan was found, but the independent simulation does not agree. Do not run it."
        case "feasible":
            return _agreement(plan)
        case _:
            assert_never(plan.verdict)


def _failed(plan: Plan) -> str:
    """What failed: sights alone are no matter of room."""
    failures = () if plan.space is None else plan.space.failures
    sights = all(one.code == "space.sight-missed" for one in failures)
    return "checks of what is seen" if failures and sights else "checks of its room"


def _agreement(plan: Plan) -> str:
    check = plan.verification
    if check is None:
        raise AssertionError("a feasible plan is verified")
    stop = f"Do not run it: {_failed(plan)} failed. " if plan.fails_checks else ""
    met = f"every encounter within {100 * check.worst_encounter_error:.1f} % of its tolerance"
    leaving = [
        name
        for name, (least, most) in check.spread.items()
        if not (plan.encounters[name].is_within(least) and plan.encounters[name].is_within(most))
    ]
    if leaving:
        met += f" as planned ({' and '.join(leaving)} outside it where detection is early or late)"
    return (
        f"{stop}An independent simulation agrees: {f'{met}, ' if plan.encounters else ''}"
        f"limits used up to {100 * check.worst_limit_use:.0f} %."
    )


def _marks(plan: Plan) -> Table:
    rows = tuple(
        (
            name,
            plain(mover.start.station_m),
            plain(mover.start.x_m),
            plain(mover.start.y_m),
            degrees(mover.start.heading_deg),
            launch_words(mover),
        )
        for name, mover in plan.movers.items()
    )
    header = ("mover", "station\nm", "x\nm", "y\nm", "heading\ndeg", "launch")
    return Table("start marks (site frame) and launch", header, rows, frozenset({1, 2, 3, 4}))


def _triggers(plan: Plan) -> list[Section]:
    if not plan.triggers:
        return []
    lines = tuple(_trigger_line(name, trigger) for name, trigger in plan.triggers.items())
    return [Notes("triggers", lines, key="triggers")]


def _trigger_line(name: str, trigger: TriggerPlan) -> str:
    where = "" if trigger.station_m is None else f" at station {metres(trigger.station_m)},"
    acts = ", ".join(trigger.acts_on) or "nobody"
    return (
        f"{name}: set to fire when {_condition_words(trigger)};"
        f"{where} {seconds(trigger.time_s)} after go. "
        f"Acts on {acts} at {seconds(trigger.acts_at_s)} (detection "
        f"{seconds(trigger.expected_detection_s)}, latency {seconds(trigger.latency_s)})."
    )


def _condition_words(trigger: TriggerPlan) -> str:
    setting = quantity(trigger.setting, trigger.setting_unit)
    match trigger.condition:
        case "station":
            return f"{trigger.watch} reaches station {setting}"
        case "distance":
            return f"{trigger.watch} has {setting} left to {trigger.to}"
        case "time to collision":
            return f"{trigger.watch} is {setting} from {trigger.to}"
        case "gap":
            return f"{trigger.watch} has a gap of {setting} to {trigger.to}"
        case "speed":
            return f"{trigger.watch} reaches {setting}"
        case "time":
            return f"it is {setting} after go"
        case _:
            assert_never(trigger.condition)


def _runway(plan: Plan) -> Table:
    rows = tuple(
        (
            name,
            plain(mover.runway.run_up_m),
            plain(mover.runway.encounter_m),
            plain(mover.runway.run_out_m),
            "" if mover.runway.failsafe_m is None else plain(mover.runway.failsafe_m),
            plain(mover.runway.required_m or mover.runway.total_m),
        )
        for name, mover in plan.movers.items()
        if mover.pieces
    )
    header = (
        "mover",
        "run-up\nm",
        "encounter\nm",
        "run-out\nm",
        "failsafe\nm",
        "required\nm",
    )
    return Table("runway, with the longer of run-out and failsafe stops", header, rows, NUMBERS)


def _speeds(scenario: Scenario, plan: Plan) -> Table:
    rows = []
    for name, mover in plan.movers.items():
        if not mover.pieces:
            continue
        limits, peak = scenario.movers[name].limits, mover.peak
        most = max(value for _, value in limits.accelerate)
        rows.append(
            (
                name,
                of_limit(peak.speed_mps * KMH_PER_MPS, limits.speed_mps * KMH_PER_MPS, 1),
                of_limit(peak.accel_mps2, most, 2),
                of_limit(peak.brake_mps2, limits.brake_mps2, 2),
                of_limit(peak.jerk_mps3, limits.jerk_mps3, 1),
                of_limit(peak.lateral_mps2, limits.lateral_mps2, 2),
            )
        )
    header = (
        "mover",
        "speed\nkm/h",
        "accelerating\nm/s2",
        "braking\nm/s2",
        "jerk\nm/s3",
        "lateral\nm/s2",
    )
    return Table("peaks against limits", header, tuple(rows), frozenset({1, 2, 3, 4, 5}))


def _instants(plan: Plan) -> list[Section]:
    sections: list[Section] = []
    for name, instant in plan.instants.items():
        rows = tuple(
            (
                mover,
                plain(state.station_m),
                plain(state.x_m),
                plain(state.y_m),
                plain(state.speed_mps * KMH_PER_MPS, 2),
            )
            for mover, state in instant.movers.items()
        )
        header = ("mover", "station\nm", "x\nm", "y\nm", "speed\nkm/h")
        room = _room(instant)
        title = f"{name}, {seconds(instant.time_s)} after go{room}"
        sections.append(Table(title, header, rows, frozenset({1, 2, 3, 4})))
    return sections


def _room(instant: InstantPlan) -> str:
    parts = []
    for name, left in instant.times_left_s.items():
        gap = instant.gaps_m.get(name)
        room = "" if gap is None else f" (gap {metres(gap)}"
        if gap is not None:
            time = instant.times_to_collision_s.get(name)
            # Two times where somebody still changes speed: by plan, and as if all went on as they go then.
            room += (
                ")" if time is None else f", {seconds(time)} to collision at the speeds of then)"
            )
        parts.append(f"; {name} in {seconds(left)} by plan{room}")
    return "".join(parts)


def _account(budget: Budget) -> Account:
    rows = [(budget.available.what, f"{budget.available.value:.3f}", budget.available.place or "")]
    rows += [(line.what, f"{-line.value:.3f}", line.place or "") for line in budget.pieces]
    rows.append(("short by", f"{budget.short_by:.3f}", ""))
    return Account(budget.title, budget.unit, tuple(rows))


def _conflicts(plan: Plan, *, full: bool) -> Notes:
    lines = []
    for conflict in plan.conflicts if full else plan.conflicts[:MOST_CONFLICTS]:
        amount = f" by {conflict.amount:.4g} {conflict.unit}" if conflict.amount else ""
        place = f"  ({conflict.place})" if conflict.place else ""
        lines.append(f"{conflict.name}{amount}{place}")
    title = "nearest miss: what would have to give"
    if plan.verification is not None:
        title = "where the simulation disagrees"
    return Notes(title, tuple(lines), key="conflicts")


def _warnings(plan: Plan) -> list[Section]:
    """Warnings and notes, those with the same words once, with all their places."""
    places: dict[str, list[str]] = {}
    for message in plan.warnings:
        end = "" if message.text.endswith((".", ":", "!", "?")) else "."
        words = f"{message.text}{end} {message.advice}".strip()
        places.setdefault(words, []).extend([message.place] if message.place else [])
    lines = tuple(
        f"{', '.join(dict.fromkeys(where))}: {words}" if where else words
        for words, where in places.items()
    )
    return [Notes("warnings and notes", lines, key="warnings")] if lines else []
