"""What `choreo export` plans, writes and prints."""

from __future__ import annotations

import json
from dataclasses import asdict
from functools import partial
from pathlib import Path
from typing import Any

import click

from choreo.case import whole_answer
from choreo.commands.exits import code_of
from choreo.commands.faults import failure_of, report_not_saved
from choreo.commands.progress import progress_on
from choreo.commands.screen import screen
from choreo.export.files import check_target, is_standard_output, write_all
from choreo.export.keep_out import keep_out_geojson
from choreo.export.marks import Mark, Tape, marks_csv, marks_of, tapes_between
from choreo.ground.earth import Earth
from choreo.ground.grid import Grid
from choreo.plans.document import plain_data
from choreo.plans.record import Plan
from choreo.report import print_content
from choreo.report.marks import TAPED, marks_content, places_of
from choreo.scenario import Scenario, load
from choreo.words import ChoreoError, Finding, Origin
from choreo.words.caution import CAUTION
from choreo.words.quantities import quoted


def export(
    scenario_file: Path,
    marks_file: Path | None,
    grid_code: str | None,
    keep_out_file: Path | None,
    *,
    as_json: bool,
    width: int | None,
) -> int:
    """Plan, write what is asked for and print the rest; gives the exit code.

    Raises ChoreoError: of the scenario, site.anchor-missing, site.unknown-grid, site.unknown-datum, of writing.
    """
    scenario = load(scenario_file)
    targets = [file for file in (marks_file, keep_out_file) if file is not None]
    for target in targets:
        check_target(target, scenario.source_files)
    earth, grid = _earth_and_grid(scenario, grid_code, keep_out=keep_out_file is not None)
    printed = [target for target in targets if is_standard_output(target)]
    quiet = as_json or bool(printed)
    if len(printed) + as_json > 1:
        raise click.UsageError("Only one thing can go to standard output.")
    with progress_on(quiet=quiet) as progress:
        answer = whole_answer(scenario, progress=progress)
    plan = answer.plan
    if plan.verdict != "feasible":
        _say_none(scenario_file, plan, as_json=as_json)
        return code_of(plan.verdict, fails_checks=plan.fails_checks)
    places = places_of(plan, answer.paths)
    marks = marks_of(places, earth, grid)
    tapes = tapes_between([place for place in places if place.what in TAPED])
    inputs = scenario.source_files
    failures = () if plan.space is None else plan.space.failures
    texts: list[tuple[Path, str]] = []
    if marks_file is not None:
        if failures:
            # Nothing is staked out for a run that must not be made; its keep-out area says that it is not clear.
            targets.remove(marks_file)
        else:
            texts.append((marks_file, marks_csv(marks, earth, grid)))
    if keep_out_file is not None and earth is not None:
        document = _keep_out(scenario_file, scenario, plan, earth)
        texts.append((keep_out_file, json.dumps(document) + "\n"))
    failure = failure_of(partial(write_all, texts, inputs))
    written = [str(target) for target in targets if target not in printed and failure is None]
    if as_json:
        document = _document(scenario_file, plan, marks, tapes, earth, grid)
        click.echo(json.dumps(document | {"written": written}, indent=2))
    elif not printed:
        print_content(marks_content(plan, marks, tapes, earth, grid), screen(width))
    report_not_saved(failure)
    for name in written if not as_json else ():
        click.echo(f"saved to {name}", err=True)
    if failures and marks_file is not None:
        why = f"this run must not be made: {failures[0].text}"
        click.echo(f"--marks {marks_file}: not written, {why}", err=True)
    elif not as_json:
        for one in failures:
            click.echo(f"do not run this plan here: {one.text}", err=True)
    return code_of(plan.verdict, fails_checks=plan.fails_checks)


def _earth_and_grid(
    scenario: Scenario, grid_code: str | None, *, keep_out: bool
) -> tuple[Earth | None, Grid | None]:
    """Where the site lies on earth; a fault when something needs that and it isn't told."""
    anchor = None if scenario.site is None else scenario.site.anchor
    asked = [
        option
        for option, is_asked in (("--grid", grid_code is not None), ("--keep-out", keep_out))
        if is_asked
    ]
    if anchor is None:
        if asked:
            raise ChoreoError([_anchor_missing(scenario, option) for option in asked])
        return None, None
    return Earth(anchor), None if grid_code is None else Grid(grid_code, anchor)


def _anchor_missing(scenario: Scenario, option: str) -> Finding:
    file = scenario.source_files[0]
    where = "the scenario names no site that has an `anchor`"
    instead = "Write a site file with an anchor and name it in the scenario (`site: FILE`):"
    if scenario.site is not None:
        file = scenario.site.file
        where = f"the site `{quoted(file)}` has no `anchor`"
        instead = "Add to the site file"
    values = {"what": option, "where": where, "instead": instead}
    return Finding("site.anchor-missing", "error", Origin(file, 1, 1), values)


def _keep_out(file: Path, scenario: Scenario, plan: Plan, earth: Earth) -> dict[str, Any]:
    """The keep-out area as GeoJSON, with what it is and what it is not."""
    keep_out = None if plan.space is None else plan.space.keep_out
    if keep_out is None:
        values = {"file": quoted(str(file))}
        raise ChoreoError([Finding("site.no-keep-out", "error", Origin(str(file), 1, 1), values)])
    properties = {
        "name": f"keep-out area: {scenario.title}",
        "margin_m": keep_out.margin_m,
        "error_m": keep_out.error_m,
        "area_m2": round(keep_out.area_m2, 1),
        "plan": plan.fingerprint,
        "clear": plan.space is not None and plan.space.clear,
        "caution": CAUTION,
    }
    return keep_out_geojson(keep_out.polygons, earth, properties)


def _say_none(file: Path, plan: Plan, *, as_json: bool) -> None:
    if as_json:
        document = {"file": str(file), "verdict": plan.verdict, "marks": [], "written": []}
        click.echo(json.dumps(document, indent=2))
    else:
        click.echo(f"{plan.verdict}: there is no run to stake out; nothing written", err=True)


def _document(
    file: Path,
    plan: Plan,
    marks: tuple[Mark, ...],
    tapes: tuple[Tape, ...],
    earth: Earth | None,
    grid: Grid | None,
) -> dict[str, Any]:
    return {
        "file": str(file),
        "verdict": plan.verdict,
        "fingerprint": plan.fingerprint,
        "clear": plan.space is not None and plan.space.clear,
        "failures": [] if plan.space is None else [asdict(one) for one in plan.space.failures],
        "anchor": None if earth is None else _anchor(earth),
        "grid": None if grid is None else _grid(grid),
        "marks": [_mark(mark) for mark in marks],
        "tapes": [asdict(tape) for tape in tapes],
        "crew": plain_data(plan.crew),
        "caution": CAUTION,
    }


def _anchor(earth: Earth) -> dict[str, Any]:
    anchor = asdict(earth.anchor)
    return {key: value for key, value in anchor.items() if key != "origin"}


def _grid(grid: Grid) -> dict[str, Any]:
    names = ("code", "name", "unit", "accuracy_m", "grid_ratio", "convergence_deg", "best_way")
    return {name: getattr(grid, name) for name in names}


def _mark(mark: Mark) -> dict[str, Any]:
    rest = asdict(mark)
    place: dict[str, Any] = rest.pop("place")
    return place | rest
