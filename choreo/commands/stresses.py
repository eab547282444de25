"""What `choreo stress` does: plan, run the plan with errors, tell."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from pathlib import Path

import click

from choreo.case import Answer, whole_answer
from choreo.case.steadiest import steadiest_answer
from choreo.commands.exits import NO, code_of
from choreo.commands.progress import progress_on
from choreo.commands.screen import screen
from choreo.errors.asking import (
    Asked,
    allowed_of_plan,
    authorities_of_plan,
    clouds_of_plan,
    errors_of_plan,
    releases_of_plan,
)
from choreo.export.files import check_target, is_standard_output, write_whole
from choreo.page.errors import Seen
from choreo.plans.allowed_record import AllowedPlan
from choreo.plans.authority_record import Authority
from choreo.plans.document import plain_data
from choreo.plans.errors_record import ErrorsPlan
from choreo.plans.releases_record import Releases
from choreo.plans.steadiest_record import Steadiest
from choreo.report import print_content
from choreo.report.allowed import allowed_sections
from choreo.report.authority import authority_sections
from choreo.report.content import headline_of
from choreo.report.errors import errors_content
from choreo.report.releases import releases_sections
from choreo.report.sections import Notes
from choreo.report.steadiest import frontier_sections
from choreo.scenario import load
from choreo.words.records import dataclass

# For which a page says by what all errors at once may be multiplied: what --allow asks for when nobody says.
PAGE_CHANCE = 0.95
ERRORS_FORMAT = "choreo errors 1"
# How codes begin of what a rule set says.
RULES = "rules."


@dataclass(frozen=True, slots=True)
class Wanted:
    """What of it is wanted: the least chance, other ways of releasing movers, a table of all runs, one document.

    allow_ratio: the chance for which it is told how large each error may be; None: it isn't. frontier: plans between
    the shortest runway and the smallest error.
    """

    chance: float | None = None
    triggers: bool = False
    table: Path | None = None
    as_json: bool = False
    width: int | None = None
    allow_ratio: float | None = None
    frontier: bool = False

    @property
    def prints_table(self) -> bool:
        """Whether the runs take the place of the answer on standard output."""
        return self.table is not None and is_standard_output(self.table)


def stress(file: Path, asked: Asked, wanted: Wanted) -> int:
    """Run a scenario's plan with errors and print what comes of it; returns the exit code.

    Raises ChoreoError: faults of the file, a table that can't be written.
    """
    scenario = load(file)
    if wanted.table is not None:
        check_target(wanted.table, scenario.source_files)
    with progress_on(quiet=wanted.as_json) as progress:
        answer = whole_answer(scenario, progress=progress)
        found = _found(answer, asked, wanted, progress) if answer.feasible else None
    code = code_of(answer.plan.verdict, fails_checks=answer.plan.fails_checks)
    chance = wanted.chance
    if found is not None and chance is not None and found.told.chance.ratio < chance:
        code = NO
    if wanted.prints_table and found is not None:
        return code
    if wanted.as_json:
        click.echo(json.dumps(document_of(answer, found, chance), indent=2, allow_nan=False))
    elif found is None:
        _say_no_plan(answer)
    else:
        console = screen(wanted.width)
        beside = [*_by_rules(answer), *authority_sections(found.authorities)]
        if found.releases is not None:
            beside += releases_sections(found.releases)
        if found.allowed is not None:
            beside += allowed_sections(found.allowed, found.told.sources)
        if found.steadiest is not None:
            beside += frontier_sections(found.steadiest)
        content = errors_content(
            answer.plan, found.told, wanted=chance, beside=beside, width=console.width
        )
        print_content(content, console)
    if wanted.table is not None and found is not None:
        click.echo(f"runs saved to {wanted.table}", err=True)
    return code


def _by_rules(answer: Answer) -> tuple[Notes, ...]:
    """What the scenario's rules say: what counts as valid comes from them where the scenario leaves it out."""
    told = tuple(one.text for one in answer.plan.warnings if one.code.startswith(RULES))
    return (Notes("by the rules", told),) if told else ()


@dataclass(frozen=True, slots=True)
class Found:
    """What came of a plan with errors. releases, allowed, steadiest: None where they were not asked for."""

    told: ErrorsPlan
    authorities: tuple[Authority, ...]
    releases: tuple[Releases, ...] | None
    allowed: AllowedPlan | None
    steadiest: Steadiest | None


def _found(
    answer: Answer, asked: Asked, wanted: Wanted, progress: Callable[[str], None] | None
) -> Found:
    planned = (answer.scenario, answer.paths, answer.plan)
    table = wanted.table

    def write(rows: Iterator[str]) -> None:
        if table is not None:
            write_whole(table, rows, answer.scenario.source_files)

    return Found(
        told_of(answer, asked, progress, write=None if table is None else write),
        authorities_of_plan(*planned),
        releases_of_plan(*planned, asked, progress=progress) if wanted.triggers else None,
        None
        if wanted.allow_ratio is None
        else allowed_of_plan(*planned, asked, wanted.allow_ratio, progress=progress),
        _steadiest(answer, asked, progress) if wanted.frontier else None,
    )


def _steadiest(
    answer: Answer, asked: Asked, progress: Callable[[str], None] | None
) -> Steadiest | None:
    if answer.plan.steadiest is not None and not asked.only_given:
        return answer.plan.steadiest  # the file prefers it: it was looked for
    found = steadiest_answer(answer.case, only_given=asked.only_given, progress=progress)
    return found.plan.steadiest


def told_of(
    answer: Answer,
    asked: Asked,
    progress: Callable[[str], None] | None,
    write: Callable[[Iterator[str]], None] | None = None,
) -> ErrorsPlan:
    """Run the plan of a feasible answer. write: takes all runs as lines of a table."""
    planned = answer.scenario, answer.paths, answer.plan
    return errors_of_plan(*planned, asked, progress=progress, write=write)


def seen_of(answer: Answer, progress: Callable[[str], None] | None) -> Seen:
    """Run the plan of a feasible answer as often as usual, and give what a page shows of it."""
    asked, planned = Asked(), (answer.scenario, answer.paths, answer.plan)
    return Seen(
        told_of(answer, asked, progress),
        clouds_of_plan(*planned, asked),
        authorities_of_plan(*planned),
        allowed_of_plan(*planned, asked, PAGE_CHANCE, progress=progress, each=False),
    )


def document_of(answer: Answer, found: Found | None, chance: float | None) -> dict[str, object]:
    """Everything as one document: SI, its units in the names of the keys."""
    plan, told = answer.plan, None if found is None else found.told
    return {
        "format": ERRORS_FORMAT,
        "title": plan.title,
        "fingerprint": plan.fingerprint,
        "verdict": plan.verdict,
        "clear": answer.clear,
        "wanted_chance": chance,
        "chance_ratio": None if told is None else told.chance.ratio,
        "enough": None if told is None or chance is None else told.chance.ratio >= chance,
        "rules": [one.text for one in plan.warnings if one.code.startswith(RULES)],
        "errors": plain_data(told),
        "authority": [] if found is None else plain_data(found.authorities),
        "releases": None if found is None else plain_data(found.releases),
        "allowed": None if found is None else plain_data(found.allowed),
        "steadiest": None if found is None else plain_data(found.steadiest),
    }


def _say_no_plan(answer: Answer) -> None:
    """There is nothing to run: say so, and who knows more."""
    plan = answer.plan
    click.echo(f"{headline_of(plan)}  {plan.title}")
    click.echo(
        "There is no plan that could be run with errors. `choreo why` says what doesn't fit."
    )
