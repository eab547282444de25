"""What `choreo why` does: explain, apply a repair, map a region."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import click

from choreo.case import Case, case_of, whole_answer
from choreo.commands.exits import NO, WELL, code_of
from choreo.commands.progress import progress_on
from choreo.commands.screen import screen
from choreo.export.files import check_target, write_whole
from choreo.plans.document import to_document
from choreo.repair import (
    Change,
    Explanation,
    Margin,
    Patience,
    Region,
    apply,
    explain,
    negotiable,
    region,
)
from choreo.report.terminal import print_content
from choreo.report.why import region_lines, why_content
from choreo.scenario import Scenario, load, loads
from choreo.words import ChoreoError, Finding, Origin
from choreo.words.display import change as told_change
from choreo.words.display import quantity
from choreo.words.nearest import suggestion
from choreo.words.quantities import QuantityError, parse_range
from choreo.words.units import UNITS


def print_explanation(file: Path, *, as_json: bool, width: int | None, seconds: float) -> int:
    """Explain a scenario, planning included within so many seconds; returns the exit code of its plan."""
    with progress_on(quiet=as_json) as progress:
        patience = Patience(seconds, tell=progress)
        answered = whole_answer(load(file), progress=progress)
        scenario = answered.scenario
        found = explain(answered, patience=patience)
    code = code_of(found.plan.verdict, fails_checks=found.plan.fails_checks)
    if as_json:
        click.echo(json.dumps(_document(scenario, found), indent=2))
        return code
    offers = [[_offer(scenario, change) for change in repair.changes] for repair in found.repairs]
    margins = [_margin(margin) for margin in found.margins if margin.value is not None]
    left = found.left if found.hurried else None
    content = why_content(
        scenario, found.plan, offers, found.helpless, found.kept, margins, left, seconds
    )
    print_content(content, screen(width))
    return code


def _offer(scenario: Scenario, change: Change) -> tuple[str, str, str, str, str]:
    of = change.quantity
    origin = scenario.origin(*of.keys)
    own = not scenario.source_files or origin.file == scenario.source_files[0]
    place = f"{origin.line}" if own else f"{Path(origin.file).name}:{origin.line}"
    return of.name, *told_change(of.value, change.value, of.unit), place


def _margin(margin: Margin) -> tuple[str, str, str, str]:
    of = margin.quantity
    edge = of.value if margin.value is None else margin.value
    room = "none: it binds" if margin.binding else quantity(abs(edge - of.value), of.unit)
    if margin.at_limit:
        room += ", its limit"
    if margin.open_beyond:
        room += ", or more"
    return of.name, quantity(of.value, of.unit), quantity(edge, of.unit), room


def _document(scenario: Scenario, found: Explanation) -> dict[str, Any]:
    return {
        "verdict": found.plan.verdict,
        "plan": to_document(found.plan),
        "repairs": [
            {
                "relative": repair.relative,
                "changes": [
                    {
                        "quantity": change.quantity.name,
                        "unit": change.quantity.unit,
                        "now": change.quantity.value,
                        "then": change.value,
                        "exact": exact,
                        "place": str(scenario.origin(*change.quantity.keys)),
                    }
                    for change, exact in zip(repair.changes, repair.exact, strict=True)
                ],
            }
            for repair in found.repairs
        ],
        "helpless": list(found.helpless),
        "kept": list(found.kept),
        "not looked at": list(found.left),
        "margins": [
            {
                "quantity": margin.quantity.name,
                "unit": margin.quantity.unit,
                "now": margin.quantity.value,
                "edge": margin.value,
                "binds": margin.binding,
                "at limit": margin.at_limit,
                "open beyond": margin.open_beyond,
            }
            for margin in found.margins
        ],
    }


def apply_repair(file: Path, number: int, output: Path, seconds: float) -> int:
    """Write the scenario with a repair applied, once planning it has given 'feasible'; returns the exit code."""
    patience = Patience(seconds)
    answered = whole_answer(load(file))
    scenario = answered.scenario
    check_target(output, scenario.source_files, "scenario")
    found = explain(answered, patience=patience)
    text = apply(file, scenario, found.repairs, number, output)
    verdict = whole_answer(loads(text, str(output), output.parent)).plan.verdict
    if verdict != "feasible":
        place = Origin(str(output), 1, 1)
        raise ChoreoError([Finding("plan.repair-failed", "error", place, {"verdict": verdict}, ())])
    write_whole(output, text)
    click.echo(f"repair {number} applied: {output} is feasible", err=True)
    return WELL


def print_region(file: Path, over: tuple[str, ...], *, as_json: bool) -> int:
    """Map where a scenario can be done over two quantities; returns the exit code: well when it is anywhere."""
    case = case_of(load(file))
    (first, first_range), (second, second_range) = (_over(file, case, text) for text in over)
    with progress_on(quiet=as_json) as progress:
        if progress is not None:
            progress("mapping, column by column")
        found = region(case, first, second, first_range, second_range)
    if as_json:
        click.echo(json.dumps(_region_document(found), indent=2))
    else:
        columns = [(c.least, c.most, c.below, c.above) for c in found.columns]
        for line in region_lines(
            (first.name, first.unit, *first_range),
            (second.name, second.unit, *second_range),
            columns,
        ):
            click.echo(line)
    return WELL if any(c.least is not None for c in found.columns) else NO


def _over(file: Path, case: Case, text: str) -> tuple[Any, tuple[float, float]]:
    name, equals, span = text.partition("=")
    quantities = {name: one for one in negotiable(case) for name in one.names}
    place = Origin(str(file), 1, 1)
    if not equals or name.strip() not in quantities:
        values = {
            "what": "quantity",
            "name": name.strip(),
            "suggestion": suggestion(name.strip(), quantities),
        }
        raise ChoreoError([Finding("scenario.unknown-name", "error", place, values, ())])
    one = quantities[name.strip()]
    try:
        low, high = parse_range(span, UNITS[one.unit].kind, free=False)
    except QuantityError as error:
        values = {"where": "--over", "what": error.wrong, "instead": error.instead}
        raise ChoreoError([Finding("scenario.bad-value", "error", place, values, ())]) from None
    if low >= high:
        values = {
            "where": "--over",
            "what": f"`{span}` is not a range",
            "instead": "Write LOW..HIGH UNIT.",
        }
        raise ChoreoError([Finding("scenario.bad-value", "error", place, values, ())])
    return one, (low, high)


def _region_document(found: Region) -> dict[str, Any]:
    return {
        "over": [
            {"quantity": one.name, "unit": one.unit, "low": span[0], "high": span[1]}
            for one, span in ((found.first, found.first_range), (found.second, found.second_range))
        ],
        "columns": [
            {"at": c.at, "least": c.least, "most": c.most, "below": c.below, "above": c.above}
            for c in found.columns
        ],
    }
