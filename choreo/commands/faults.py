"""How bad input is told: every fault at once, place first, then what to write instead."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

import click

from choreo.commands.exits import BAD_INPUT
from choreo.words import ChoreoError, Finding, errors_of
from choreo.words.display import how_many


@contextmanager
def faults_reported(*, as_json: bool, otherwise: str = "") -> Iterator[None]:
    """Turn a ChoreoError into text on standard error (or a JSON document) and exit code 2.

    otherwise: what the command did not do because of them, for the closing line.
    """
    try:
        yield
    except ChoreoError as error:
        if as_json:
            click.echo(
                json.dumps(
                    {"verdict": None, "faults": [fault(f) for f in error.findings]}, indent=2
                )
            )
        else:
            report_findings(error.findings, otherwise)
        sys.exit(BAD_INPUT)


def failure_of(write: Callable[[], None]) -> ChoreoError | None:
    """Write a file of an answer that is told next; give the fault, for report_not_saved after the answer."""
    try:
        write()
    except ChoreoError as error:
        return error
    return None


def report_not_saved(failure: ChoreoError | None) -> None:
    """End with exit code 2 where writing has failed; the answer was given all the same."""
    if failure is not None:
        report_findings(failure.findings, "the answer stands, it is not saved")
        sys.exit(BAD_INPUT)


def report_findings(findings: tuple[Finding, ...], otherwise: str = "") -> None:
    """Print findings to standard error, one paragraph each, in the order of their places, and a count."""
    ordered = sorted(findings, key=_order)
    for finding in ordered:
        place = "" if finding.origin is None else f"{finding.origin}: "
        click.echo(f"{place}{finding.severity}: {finding.text}", err=True)
        if finding.advice:
            click.echo(f"    {finding.advice}", err=True)
        for origin in finding.related:
            click.echo(f"    see also {origin}", err=True)
    faults = len(errors_of(ordered))
    if faults:
        count = how_many(faults, "fault")
        click.echo(f"{count}; {otherwise}." if otherwise else f"{count}.", err=True)


def _order(finding: Finding) -> tuple[str, int, int]:
    if finding.origin is None:
        return ("", 0, 0)
    return (finding.origin.file, finding.origin.line, finding.origin.column)


def fault(finding: Finding) -> dict[str, Any]:
    """A finding as plain data."""
    return {
        "code": finding.code,
        "severity": finding.severity,
        "place": None if finding.origin is None else str(finding.origin),
        "text": finding.text,
        "advice": finding.advice,
        "related": [str(origin) for origin in finding.related],
    }
