"""Files that others name: sites and fleets, checked to be what they are named as."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel

from choreo.scenario.text.document import Document, parse_document, read_text
from choreo.scenario.text.repeats import write_out
from choreo.scenario.written.faults import validated
from choreo.scenario.written.scenario import FileWritten, FleetWritten
from choreo.scenario.written.site import SiteWritten
from choreo.words import ChoreoError, Finding, Origin

Model = TypeVar("Model", bound=BaseModel)

# What files are called, by the key that each kind begins with, and which command plans them.
KINDS: Mapping[str, str] = {
    "choreo": "a scenario",
    "choreo fleet": "a fleet file",
    "choreo site": "a site file",
    "choreo campaign": "a campaign",
    "choreo circuit": "a circuit",
    "choreo share": "a shared track",
    "choreo rules": "a rule set",
    "choreo recording": "a description of recordings",
    "format": "a plan document",
}
PLANNED_BY: Mapping[str, str] = {
    "choreo": "choreo plan",
    "choreo campaign": "choreo sweep",
    "choreo circuit": "choreo laps",
    "choreo share": "choreo share",
}
BEGINS_WITH: Mapping[type[BaseModel], str] = {
    FileWritten: "choreo",
    FleetWritten: "choreo fleet",
    SiteWritten: "choreo site",
}


def companion_of(
    file: Path, model: type[Model], findings: list[Finding], asked: Origin | None = None
) -> tuple[Model, Document] | None:
    """Read a site or a fleet file. asked: where another file names it.

    Faults are added to findings, at their own places; the first of them tells where the file is named. Of a file that
    is no such file nothing else is told: it may have been named by mistake, and be nobody's business.
    """
    found: list[Finding] = []
    written = None
    try:
        document = parse_document(read_text(file, asked), str(file), BEGINS_WITH[model])
        write_out(document)
        found += document.findings
        check_kind(document, BEGINS_WITH[model])
        written = validated(document, model, found)
    except ChoreoError as error:
        found += error.findings
    findings += named_at(asked, found)
    return None if written is None else (written, document)


def kind_told(data: Mapping[str, Any]) -> tuple[str, str] | None:
    """Give the key by which a file says what it is, and that in words with the command that plans it; None: neither."""
    key = next((one for one in KINDS if one in data), None)
    if key is None:
        return None
    by = PLANNED_BY.get(key)
    return key, KINDS[key] if by is None else f"{KINDS[key]} (`{by}` plans it)"


def check_kind(document: Document, begins: str) -> None:
    """Raise ChoreoError where a file doesn't begin as its kind does: what it is instead, and what to write."""
    if begins in document.data:
        return
    other = kind_told(document.data)
    values = {
        "kind": KINDS[begins],
        "why": f"it has no `{begins}: 1`" if other is None else f"it is {other[1]}",
        "instead": "Name another file."
        if other is not None
        else f"Name another file, or add the line `{begins}: 1`.",
    }
    raise ChoreoError((Finding("scenario.not-the-kind", "error", document.origin(()), values),))


def named_at(asked: Origin | None, found: Iterable[Finding]) -> list[Finding]:
    """Give what was found in a file, with the place where another one names it beside the first fault."""
    told = list(found)
    first = next((i for i, one in enumerate(told) if one.severity == "error"), None)
    if first is not None and asked is not None and asked != told[first].origin:
        told[first] = replace(told[first], related=(*told[first].related, asked))
    return told
