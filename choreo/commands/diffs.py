"""What `choreo diff` does: read or make both plans, compare, tell."""

from __future__ import annotations

import json
from pathlib import Path

import click

from choreo.case import whole_answer
from choreo.commands.exits import NO, WELL
from choreo.commands.screen import screen
from choreo.export.files import load_plan
from choreo.plans.record import Plan
from choreo.report import print_content
from choreo.report.changes import changes_content, changes_of
from choreo.scenario import load

CHANGES_FORMAT = "choreo changes 1"


def diff_files(old: Path, new: Path, *, as_json: bool, width: int | None) -> int:
    """Compare two plans and print what differs; returns the exit code. Raises ChoreoError: faults of either file."""
    before, now = _plan(old), _plan(new)
    rows = list(changes_of(before, now))
    same = not rows and before.verdict == now.verdict and before.title == now.title
    if as_json:
        document = {
            "format": CHANGES_FORMAT,
            "verdicts": [before.verdict, now.verdict],
            "titles": [before.title, now.title],
            "changes": [
                dict(zip(("what", "before", "now", "change"), row, strict=True)) for row in rows
            ],
        }
        click.echo(json.dumps(document, indent=2))
    else:
        print_content(changes_content(before, now), screen(width))
    return WELL if same else NO


def _plan(path: Path) -> Plan:
    """A saved plan, or that of a scenario."""
    return load_plan(path) if path.suffix.lower() == ".json" else whole_answer(load(path)).plan
