"""What `choreo place` does: place on a site, or give the smallest rectangle; tell it, save it."""

from __future__ import annotations

import json
import math
import os
import re
from dataclasses import replace
from functools import partial
from pathlib import Path

import click

from choreo.commands.exits import NO, OF_VERDICT, UNDECIDED, WELL
from choreo.commands.faults import failure_of, report_not_saved
from choreo.commands.progress import progress_on
from choreo.commands.screen import screen
from choreo.export.files import check_target, write_whole
from choreo.fit.rigid import Rigid
from choreo.ground import Ground, build_ground, ground_of
from choreo.placement.content import content_of_placement, content_of_rectangle
from choreo.placement.document import placement_text
from choreo.placement.footprint import Options, smallest
from choreo.placement.on_ground import place_on_ground
from choreo.placement.picture import placement_picture
from choreo.placement.record import Placement, Rectangle
from choreo.report import Content, print_content
from choreo.scenario import Scenario, SiteSpec, load, load_site
from choreo.words import ChoreoError, Finding, Origin
from choreo.words.quantities import QuantityError, parse

OF_PLACEMENT = {"found": WELL, "none": NO, "undecided": UNDECIDED}


def place_on_site(
    scenario_file: Path,
    site_file: Path | None,
    margin_text: str | None,
    directions: tuple[tuple[str, ...], tuple[str, ...]],
    output: Path | None,
    *,
    as_json: bool,
    width: int | None,
    drawn: bool,
) -> int:
    """Place a scenario, tell and save it, and give the exit code; directions: --not-towards, --not-bearing."""
    options = Options(margin_of(margin_text), *directions)
    scenario = load(scenario_file)
    ground, site = _ground(scenario, site_file)
    file, inputs = site.file, (*scenario.source_files, *site.source_files)
    if output is not None:
        check_target(output, inputs)
    with progress_on(quiet=as_json) as progress:
        answer = place_on_ground(
            scenario, ground, options, file=file, own=site_file is None, progress=progress
        )
    answer = _with_line(answer, scenario, scenario_file, file, own=site_file is None)
    failure = _save(answer, output, inputs)
    _print(answer, content_of_placement(answer), as_json=as_json, width=width)
    if drawn and not as_json and answer.verdict != "no plan":
        for line in placement_picture(answer, ground, screen(width).width):
            click.echo(line)
    report_not_saved(failure)
    return _code(answer)


def _with_line(
    answer: Placement, scenario: Scenario, scenario_file: Path, site: str, *, own: bool
) -> Placement:
    """The placement with the line that puts the scenario there, in place of one that puts it somewhere now."""
    if answer.best is None:
        return answer
    pose = answer.best.pose
    turn = Rigid(pose.x_m, pose.y_m, math.radians(pose.heading_deg))
    whole = turn if scenario.placed is None else turn.after(Rigid(*scenario.placed))
    on = ""
    if not own or scenario.placed is not None:
        on = f"on: {_as_yaml(os.path.relpath(site, scenario_file.parent))}, "
    turned = math.degrees(math.remainder(whole.angle_rad, 2 * math.pi))
    at = f"at: [{whole.x_m:.3f} m, {whole.y_m:.3f} m], turned: {turned:.4f} deg"
    return replace(answer, placed=f"placed: {{{on}{at}}}")


def _as_yaml(text: str) -> str:
    """A text as a YAML scalar inside braces: quoted unless it is plainly a path."""
    return text if re.fullmatch(r"[\w./-]+", text) else json.dumps(text, ensure_ascii=False)


def smallest_rectangle(
    scenario_file: Path,
    margin_text: str | None,
    output: Path | None,
    *,
    as_json: bool,
    width: int | None,
) -> int:
    """Give the smallest rectangle of a scenario, tell and save it, and give the exit code."""
    margin_m = margin_of(margin_text)
    scenario = load(scenario_file)
    if output is not None:
        check_target(output, scenario.source_files)
    with progress_on(quiet=as_json) as progress:
        answer = smallest(scenario, margin_m, progress=progress)
    failure = _save(answer, output, scenario.source_files)
    _print(answer, content_of_rectangle(answer), as_json=as_json, width=width)
    report_not_saved(failure)
    return _code(answer)


def margin_of(text: str | None) -> float:
    """Read a margin in m; 0 without one. Raises ChoreoError: place.bad-margin."""
    if text is None:
        return 0.0
    try:
        margin_m = parse(text, "length")
    except QuantityError as error:
        raise _bad_margin(error.wrong, error.instead) from None
    if margin_m < 0:
        raise _bad_margin(f"`{text}` is negative", "Write a length from 0 m, like `2 m`.")
    return margin_m


def _bad_margin(wrong: str, instead: str) -> ChoreoError:
    values = {"wrong": wrong, "instead": instead}
    return ChoreoError((Finding("place.bad-margin", "error", None, values),))


def _ground(scenario: Scenario, site_file: Path | None) -> tuple[Ground, SiteSpec]:
    """The ground to place on, and the site that draws it."""
    if site_file is not None:
        site = load_site(site_file)
        if not site.drawn:
            origin = Origin(str(site_file), 1, 1)
            raise ChoreoError((Finding("place.no-ground", "error", origin, {"site": site.title}),))
        return build_ground(site), site
    ground = ground_of(scenario)
    if ground is None or scenario.site is None:
        raise click.UsageError(
            "the scenario's own site draws no drivable area: write --site FILE to place it on a site, or "
            "--smallest for the smallest rectangle that would do."
        )
    return ground, scenario.site


def _print(
    answer: Placement | Rectangle, content: Content, *, as_json: bool, width: int | None
) -> None:
    if as_json:
        click.echo(placement_text(answer), nl=False)
    else:
        print_content(content, screen(width))


def _save(
    answer: Placement | Rectangle, output: Path | None, inputs: tuple[str, ...]
) -> ChoreoError | None:
    """Save an answer where that is asked for; give the fault, to be told after the answer."""
    if output is None:
        return None
    return failure_of(partial(write_whole, output, placement_text(answer), inputs))


def _code(answer: Placement | Rectangle) -> int:
    if isinstance(answer, Placement) and answer.failures:
        return NO
    return OF_PLACEMENT.get(answer.verdict, OF_VERDICT.get(answer.plan_verdict, UNDECIDED))
