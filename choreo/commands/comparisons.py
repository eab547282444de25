"""What `choreo show OLD NEW` does: make or read both plans, lay one over the other."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import click

from choreo.case import whole_answer
from choreo.commands.checks import same_names
from choreo.commands.exits import code_of
from choreo.commands.progress import progress_on
from choreo.export.files import check_target, load_plan, write_whole
from choreo.page import Drawn, compared_page, off_path
from choreo.scenario import load
from choreo.words import ChoreoError, Finding, Origin
from choreo.words.quantities import quoted


def show_compared(old: Path, new: Path, target: Path, *, as_json: bool) -> int:
    """Write the page of NEW over OLD; returns the exit code, by NEW's verdict.

    Raises ChoreoError: faults of either file; plan.other-names, plan.other-paths where NEW is a saved plan that
    can't be drawn with the scenario OLD; plan.no-scenario where both are saved plans.
    """
    files = (old, new)
    saved = [_is_plan(file) for file in files]
    if all(saved):
        place = Origin(str(new), 1, 1)
        raise ChoreoError([Finding("plan.no-scenario", "error", place, {"other": str(old)})])
    check_target(target, [str(file) for file in files])
    with progress_on(quiet=as_json) as progress:
        made = [
            None if plan else whole_answer(load(file), progress=progress)
            for file, plan in zip(files, saved, strict=True)
        ]
    known = next(one for one in made if one is not None)
    by_scenario = Drawn(known.scenario, known.plan, known.paths, known.ground)
    before, now = (
        Drawn(one.scenario, one.plan, one.paths, one.ground)
        if one is not None
        else replace(by_scenario, plan=load_plan(file))
        for one, file in zip(made, files, strict=True)
    )
    if saved[1]:
        _refuse_others(now, old, new)
    write_whole(target, compared_page(before, now), [str(file) for file in files])
    plan = now.plan
    if as_json:
        click.echo(json.dumps({"file": str(target), "verdict": plan.verdict}, indent=2))
    else:
        click.echo(f"{plan.verdict}: page of both plans saved to {target}", err=True)
    return code_of(plan.verdict, fails_checks=plan.fails_checks)


def _is_plan(file: Path) -> bool:
    return file.suffix.lower() == ".json"


def _refuse_others(now: Drawn, old: Path, new: Path) -> None:
    """A page draws its plan whole or not at all."""
    same_names(now.scenario, now.plan, new)
    off = off_path(now)
    if off:
        names = ", ".join(f"`{quoted(name)}`" for name in off)
        values = {"names": names, "scenario": str(old)}
        raise ChoreoError([Finding("plan.other-paths", "error", Origin(str(new), 1, 1), values)])
