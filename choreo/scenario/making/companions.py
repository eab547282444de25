"""Files that others name: sites and fleets, checked to be what they are named as."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import TypeVar

from pydantic import BaseModel

from choreo.scenario.text.document import Document, parse_document, read_text
from choreo.scenario.text.repeats import write_out
from choreo.scenario.written.faults import validated
from choreo.scenario.written.scenario import FileWritten, FleetWritten
from choreo.scenario.written.site import SiteWritten
from choreo.words import ChoreoError, Finding, Origin

Model = TypeVar("Model", bound=BaseModel)

# What files are called, by the key that each kind begins with.
KINDS: Mapping[str, str] = {
    "choreo": "a scenario",
    "choreo fleet": "a fleet file",
    "choreo site": "a site file",
    "choreo campaign": "a campaign",
    "choreo circuit": "a circuit (`choreo laps` plans it)",
    "choreo share": "a shared track (`choreo share` plans it)",
    "choreo rules": "a rule set",
    "format": "a plan document",
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
        document = parse_document(read_text(file, asked), str(file))
        write_out(document)
        found += document.findings
        _check_kind(document, model)
        written = validated(document, model, found)
    except ChoreoError as error:
        found += error.findings
    findings += named_at(asked, found)
    return None if written is None else (written, document)


def named_at(asked: Origin | None, found: Iterable[Finding]) -> list[Finding]:
    """Give what was found in a file, with the place where another one names it beside the first fault."""
    told = list(found)
    first = next((i for i, one in enumerate(told) if one.severity == "error"), None)
    if first is not None and asked is not None and asked != told[first].origin:
        told[first] = replace(told[first], related=(*told[first].related, asked))
    return told


def _check_kind(document: Document, model: type[BaseModel]) -> None:
    begins = BEGINS_WITH[model]
    if begins in document.data:
        return
    other = next((kind for key, kind in KINDS.items() if key in document.data), None)
    values = {
        "kind": KINDS[begins],
        "why": f"it is {other}" if other else f"it has no `{begins}: 1`",
        "key": begins,
    }
    raise ChoreoError((Finding("scenario.not-the-kind", "error", document.origin(()), values),))
