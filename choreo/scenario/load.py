"""A scenario file, with the site and fleet files it names -> a checked Scenario, or all its faults."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from choreo.scenario import written as w
from choreo.scenario.checks import check_encounters, check_movers, check_triggers
from choreo.scenario.faults import findings_of
from choreo.scenario.make import (
    Making,
    body_of,
    encounter_of,
    instant_of,
    limits_of,
    mover_of,
    trigger_of,
)
from choreo.scenario.paths import check_beside, mark_names, path_of
from choreo.scenario.programme import phase_names, programme_of
from choreo.scenario.records import Body, Encounter, Instant, Mover, PathSpec, Scenario, Trigger
from choreo.scenario.text import Document, Keys, parse_document, read_text
from choreo.words import ChoreoError, Finding, Origin
from choreo.words.nearest import suggestion

Model = TypeVar("Model", bound=BaseModel)
REFERENCE = re.compile(r"\$([A-Za-z][A-Za-z0-9_-]*)")


def load(path: str | Path) -> Scenario:
    """Load a scenario file and what it names.

    Raises ChoreoError with every fault found, each with file, line and column.
    """
    file = Path(path)
    return loads(read_text(file), str(path), file.parent)


def loads(text: str, file: str, folder: Path) -> Scenario:
    """Load a scenario from text; file names it in messages, folder is where its references start."""
    return _Loading(parse_document(text, file), folder).scenario()


def json_schema() -> dict[str, Any]:
    """Give the JSON Schema of scenario files, every scalar as text with its unit."""
    schema = w.FileWritten.model_json_schema(by_alias=True)
    schema["$schema"] = "https://json-schema.org/draft/2020-12/schema"
    schema["title"] = "choreo scenario"
    schema["properties"]["choreo"] = {"enum": ["1", 1], "description": "the format's version"}
    return schema


@dataclass
class _Shared:
    """What site and fleet files give: paths, and entries with the document they stand in."""

    paths: dict[str, PathSpec] = field(default_factory=dict)
    path_places: dict[Keys, Origin] = field(default_factory=dict)
    entries: dict[str, tuple[w.FleetEntryWritten, Document]] = field(default_factory=dict)


class _Loading:
    def __init__(self, document: Document, folder: Path) -> None:
        self.document = document
        self.folder = folder
        self.making = Making(document)
        self.files = [document.file]
        self.shared = _Shared()
        self.places = dict(document.places)

    def scenario(self) -> Scenario:
        self.making.findings += self.document.findings
        values = _substitute(self.making, self.document)
        written = self._validated(self.document, w.FileWritten)
        if written is None:
            raise ChoreoError(_ordered(self.making.findings))
        self._share(written)
        scenario = self._assembled(written, values)
        if any(finding.severity == "error" for finding in self.making.findings):
            raise ChoreoError(_ordered(self.making.findings))
        return scenario

    def _validated(self, document: Document, model: type[Model]) -> Model | None:
        try:
            return model.model_validate(document.data)
        except ValidationError as error:
            self.making.findings += findings_of(error, document, model)
            return None

    def _share(self, written: w.FileWritten) -> None:
        if written.site is not None:
            site = self._companion(written.site, ("site",), w.SiteWritten)
            if site is not None:
                self._site_paths(*site)
        fleets = (written.fleet,) if isinstance(written.fleet, str) else written.fleet or ()
        for index, name in enumerate(fleets):
            keys: Keys = ("fleet",) if isinstance(written.fleet, str) else ("fleet", index)
            fleet = self._companion(name, keys, w.FleetWritten)
            if fleet is not None:
                self.shared.entries |= {key: (entry, fleet[1]) for key, entry in fleet[0].movers.items()}

    def _companion(self, name: str, keys: Keys, model: type[Model]) -> tuple[Model, Document] | None:
        """Read a file that this one names; its faults are told in its own places."""
        file = self.folder / name
        try:
            document = parse_document(read_text(file), str(file))
        except ChoreoError as error:
            here = self.document.origin(keys)
            self.making.findings += [
                Finding(one.code, one.severity, one.origin, one.values, (here,)) for one in error.findings
            ]
            return None
        self.files.append(str(file))
        self.making.findings += document.findings
        found = self._validated(document, model)
        return None if found is None else (found, document)

    def _site_paths(self, site: w.SiteWritten, document: Document) -> None:
        making = Making(document)
        folder = Path(document.file).parent
        for name, path in site.paths.items():
            made = path_of(making, ("paths", name), path, folder)
            if made is not None:
                self.shared.paths[name] = made
        self.making.findings += making.findings
        inside = {keys: place for keys, place in document.places.items() if keys[:1] == ("paths",)}
        self.places = inside | self.places

    def _assembled(self, written: w.FileWritten, values: Mapping[str, str]) -> Scenario:
        making = self.making
        if written.prefer == "smallest error":
            making.fault(
                "scenario.not-yet", ("prefer",), what="prefer: smallest error",
                instead="Choose `shortest runway`, `gentlest ramps` or `quickest run`.",
            )
        paths = self._paths(written)
        self._names(written, paths)
        movers, bodies = self._movers(written)
        encounters: dict[str, Encounter] = {}
        for name, encounter in written.encounters.items():
            made = encounter_of(making, name, encounter, bodies)
            if made is not None:
                encounters[name] = made
        instants: dict[str, Instant] = {}
        for name, instant in written.instants.items():
            one = instant_of(making, name, instant)
            if one is not None:
                instants[name] = one
        triggers: dict[str, Trigger] = {}
        for name, trigger in written.triggers.items():
            found = trigger_of(making, name, trigger)
            if found is not None:
                triggers[name] = found
        check_encounters(making, encounters, set(written.movers))
        triggers = check_triggers(making, triggers, encounters, movers)
        check_movers(making, movers, paths, encounters)
        self._vary(written)
        notes = tuple(one for one in making.findings if one.severity != "error")
        return Scenario(
            title=written.title, about=written.about, prefer=written.prefer, paths=paths, movers=movers,
            triggers=triggers, encounters=encounters, instants=instants, vary=written.vary, values=values,
            notes=notes, source_files=tuple(self.files), places=self.places,
        )

    def _paths(self, written: w.FileWritten) -> dict[str, PathSpec]:
        paths = dict(self.shared.paths)
        for name, path in written.paths.items():
            made = path_of(self.making, ("paths", name), path, self.folder)
            if made is not None:
                paths[name] = made
        self.making.paths = [*self.shared.paths, *written.paths]
        check_beside(self.making, paths, set(written.paths))
        return paths

    def _names(self, written: w.FileWritten, paths: Mapping[str, PathSpec]) -> None:
        for kind, section in (
            ("encounter", written.encounters),
            ("trigger", written.triggers),
            ("instant", written.instants),
        ):
            for name in section:
                known = self.making.names.setdefault(name, kind)
                if known != kind:
                    self.making.fault(
                        "scenario.same-name", (f"{kind}s", name), name=name, first=f"an {known}",
                        second=f"a {kind}",
                    )
        for name, mover in written.movers.items():
            marks = mark_names(mover.path or "", paths)
            self.making.movers[name] = (phase_names(mover.programme), marks)

    def _movers(self, written: w.FileWritten) -> tuple[dict[str, Mover], dict[str, Body]]:
        movers: dict[str, Mover] = {}
        bodies: dict[str, Body] = {}
        for name, mover in written.movers.items():
            whole = self._like(name, mover)
            keys: Keys = ("movers", name)
            body = body_of(self.making, (*keys, "body"), name, whole.body)
            moves = bool(whole.programme)
            limits = limits_of(self.making, (*keys, "limits"), name, whole.limits, moves=moves)
            if body is not None:
                bodies[name] = body
            if body is None or limits is None:
                continue
            programme = programme_of(self.making, name, whole, limits)
            movers[name] = mover_of(whole, name, body, limits, programme)
        return movers, bodies

    def _like(self, name: str, mover: w.MoverWritten) -> w.MoverWritten:
        """Fill in what the fleet's entry says and the mover does not; places follow."""
        if mover.like is None:
            return mover
        if mover.like not in self.shared.entries:
            known = list(self.shared.entries)
            self.making.unknown(("movers", name, "like"), "fleet entry", mover.like, known)
            return mover
        entry, document = self.shared.entries[mover.like]
        for keys, place in document.places.items():
            if keys[:2] == ("movers", mover.like) and len(keys) > 2:
                self.places.setdefault(("movers", name, *keys[2:]), place)
        limits = entry.limits
        if limits is not None and mover.limits is not None:
            own = {key: getattr(mover.limits, key) for key in mover.limits.model_fields_set}
            limits = limits.model_copy(update=own)
        return mover.model_copy(
            update={
                "kind": mover.kind or entry.kind,
                "body": mover.body or entry.body,
                "limits": limits or mover.limits,
            }
        )

    def _vary(self, written: w.FileWritten) -> None:
        for name in written.vary:
            if name not in written.values:
                self.making.fault(
                    "scenario.unknown-name", ("vary", name), what="value", name=name,
                    suggestion=suggestion(name, written.values),
                )


def _substitute(making: Making, document: Document) -> dict[str, str]:
    """Put the named values in place of `$name`; tell unknown and unused ones."""
    raw = document.data.get("values", {})
    values = {k: v for k, v in raw.items() if isinstance(v, str)} if isinstance(raw, dict) else {}
    used: set[str] = set()
    for holder, key, keys in list(_scalars(document.data, ())):
        text = holder[key]
        match = REFERENCE.fullmatch(text.strip())
        if match is None or keys[:1] in (("values",), ("title",), ("about",)):
            continue
        name = match.group(1)
        if name in values:
            used.add(name)
            holder[key] = values[name]
        else:
            making.unknown(keys, "value", name, values)
    for name in values:
        if name not in used:
            making.fault("scenario.unused-value", ("values", name), severity="note", name=name)
    return values


def _scalars(data: Any, keys: Keys) -> Iterator[tuple[Any, Any, Keys]]:
    entries = data.items() if isinstance(data, dict) else enumerate(data) if isinstance(data, list) else ()
    for key, value in entries:
        if isinstance(value, str):
            yield data, key, (*keys, key)
        else:
            yield from _scalars(value, (*keys, key))


def _ordered(findings: list[Finding]) -> tuple[Finding, ...]:
    """Errors only, each once, in the order of the file."""
    errors = [one for one in findings if one.severity == "error"]

    def order(one: Finding) -> tuple[str, int, int]:
        return ("", 0, 0) if one.origin is None else (one.origin.file, one.origin.line, one.origin.column)

    unique = {(one.code, order(one), str(one.values)): one for one in errors}
    return tuple(sorted(unique.values(), key=order))
