"""What `choreo stress` does: plan, run the plan with errors, tell."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import click

from choreo.case import Answer, whole_answer
from choreo.commands.exits import NO, code_of
from choreo.commands.progress import progress_on
from choreo.commands.screen import screen
from choreo.errors.asking import Asked, clouds_of_plan, errors_of_plan, rows_of_plan
from choreo.export.files import check_target, write_whole
from choreo.plans.document import plain_data
from choreo.plans.errors_record import Cloud, ErrorsPlan
from choreo.report import print_content
from choreo.report.content import headline_of
from choreo.report.errors import errors_content
from choreo.scenario import load

ERRORS_FORMAT = "choreo errors 1"


def stress(
    file: Path,
    asked: Asked,
    chance: float | None,
    *,
    table: Path | None,
    as_json: bool,
    width: int | None,
) -> int:
    """Run a scenario's plan with errors and print what comes of it; returns the exit code.

    table: where every run is written. Raises ChoreoError: faults of the file, a table that can't be written.
    """
    scenario = load(file)
    if table is not None:
        check_target(table, scenario.source_files)
    with progress_on(quiet=as_json) as progress:
        answer = whole_answer(scenario, progress=progress)
        told = told_of(answer, asked, progress) if answer.feasible else None
        if table is not None and told is not None:
            rows = rows_of_plan(answer.scenario, answer.paths, answer.plan, asked)
            write_whole(table, rows, scenario.source_files)
    code = code_of(answer.plan.verdict, fails_checks=answer.plan.fails_checks)
    if told is not None and chance is not None and told.chance.ratio < chance:
        code = NO
    if as_json:
        click.echo(json.dumps(document_of(answer, told, chance), indent=2, allow_nan=False))
    elif told is None:
        _say_no_plan(answer)
    else:
        console = screen(width)
        print_content(
            errors_content(answer.plan, told, wanted=chance, width=console.width), console
        )
    if table is not None and told is not None:
        click.echo(f"runs saved to {table}", err=True)
    return code


def told_of(answer: Answer, asked: Asked, progress: Callable[[str], None] | None) -> ErrorsPlan:
    """Run the plan of a feasible answer."""
    return errors_of_plan(answer.scenario, answer.paths, answer.plan, asked, progress=progress)


def seen_of(
    answer: Answer, progress: Callable[[str], None] | None
) -> tuple[ErrorsPlan, tuple[Cloud, ...]]:
    """Run the plan of a feasible answer as often as usual, and give what a page shows of it."""
    asked = Asked()
    clouds = clouds_of_plan(answer.scenario, answer.paths, answer.plan, asked)
    return told_of(answer, asked, progress), clouds


def document_of(answer: Answer, told: ErrorsPlan | None, chance: float | None) -> dict[str, object]:
    """Everything as one document: SI, its units in the names of the keys."""
    plan = answer.plan
    return {
        "format": ERRORS_FORMAT,
        "title": plan.title,
        "fingerprint": plan.fingerprint,
        "verdict": plan.verdict,
        "clear": answer.clear,
        "wanted_chance": chance,
        "chance_ratio": None if told is None else told.chance.ratio,
        "enough": None if told is None or chance is None else told.chance.ratio >= chance,
        "errors": plain_data(told),
    }


def _say_no_plan(answer: Answer) -> None:
    """There is nothing to run: say so, and who knows more."""
    plan = answer.plan
    click.echo(f"{headline_of(plan)}  {plan.title}")
    click.echo(
        "There is no plan that could be run with errors. `choreo why` says what doesn't fit."
    )
