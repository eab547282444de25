"""A scenario file read once, from which its variants are made: other quantities for its named values."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from functools import cached_property
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from choreo.scenario.loading import Loading
from choreo.scenario.making.values import check_values, references_of
from choreo.scenario.records.scenario import Scenario
from choreo.scenario.text.document import Document, Keys, parse_document, read_text
from choreo.scenario.text.repeats import write_out
from choreo.scenario.text.turning import lay_turning
from choreo.scenario.written import scenario as w
from choreo.words import ChoreoError, Origin

# Sections whose entries are read by themselves, and what else a file needs.
PARTS = ("paths", "movers", "triggers", "encounters", "instants", "sights")
HEAD = {"choreo": "1", "title": "?"}


class Source:
    """The text of a scenario with the files that it names, each read once.

    file: as it was named. folder: where the files that it names are looked for.
    """

    def __init__(self, document: Document, folder: Path) -> None:
        self.file = document.file
        self.folder = folder
        self._document = document
        self._first: Loading | None = None
        self._made: Scenario | None = None

    @property
    def values(self) -> dict[str, str]:
        """The named values, as written."""
        raw = self._document.data.get("values", {})
        return {k: v for k, v in raw.items() if isinstance(v, str)} if isinstance(raw, dict) else {}

    def scenario(self, values: Mapping[str, str] | None = None) -> Scenario:
        """Make the scenario with other quantities for some of its named values.

        Raises ChoreoError: every fault of the scenario as it is then.
        """
        named = {**self.values, **(values or {})}
        if self._first is not None:
            try:
                data = _put(self._document.data, self._references, named)
                neighbour = _Neighbour(self._with(data), self._first, self._references)
                return self._alike(neighbour.scenario())
            except (ChoreoError, _OtherParts):
                pass  # read whole, it is told with all its faults
        data = _copy(self._document.data)
        if named:
            data["values"] = {**data["values"], **named}
        if self._first is not None:
            return self._alike(_Another(self._with(data), self._first).scenario())
        first = Loading(self._with(data), self.folder)
        self._made = first.scenario()
        self._first = first
        return self._made

    def _with(self, data: Any) -> Document:
        """The file with other data. What is written out in place of `follow` moves places, so they are its own."""
        first, known = self._first, self._document
        if first is not None and first.made.places_stay:
            known = first.document
            places = known.places, known.key_places, known.passes
        else:
            places = dict(known.places), dict(known.key_places), dict(known.passes)
        return Document(known.file, data, *places, list(self._document.findings))

    @cached_property
    def _references(self) -> tuple[tuple[Keys, str], ...]:
        """Where named values stand, and which."""
        return tuple((keys, name) for _, keys, name in references_of(self._document.data))

    def _alike(self, scenario: Scenario) -> Scenario:
        """The scenario with the very records of the first one where they say the same: what is made of them is too."""
        known = {} if self._made is None else self._made.paths
        if all(known.get(name) is path for name, path in scenario.paths.items()):
            return scenario
        paths = {
            name: known[name] if known.get(name) == path else path
            for name, path in scenario.paths.items()
        }
        return replace(scenario, paths=paths)


def source_of(path: Path, asked: Origin | None = None) -> Source:
    """Read a scenario file, to make variants of it; asked: where another file names it.

    Raises ChoreoError: a file that can't be read, or is no YAML.
    """
    document = parse_document(read_text(path, asked), str(path))
    write_out(document)
    lay_turning(document)
    return Source(document, path.parent)


class _Another(Loading):
    """One more scenario of the same file: what site and fleet files give is taken over."""

    def __init__(self, document: Document, first: Loading) -> None:
        super().__init__(document, first.folder)
        self._first = first

    def _share(self, _written: w.FileWritten) -> None:
        first = self._first
        self.shared = first.shared
        self.files = list(first.files)
        self.draft.paths = list(first.shared.paths)
        self.draft.files = list(first.draft.files)
        self.draft.paths_known = first.draft.paths_known
        if self.places is not first.places:
            for keys, place in first.places.items():
                if keys[:1] == ("paths",):
                    self.places.setdefault(keys, place)


class _OtherParts(Exception):
    """Other values stand where a part can't be read by itself."""


class _Neighbour(_Another):
    """One more scenario of which only the parts are read in which another value stands than in the first one."""

    def __init__(
        self, document: Document, first: Loading, references: Sequence[tuple[Keys, str]]
    ) -> None:
        super().__init__(document, first)
        self.made = first.made.copy()
        self._references = references

    def _substituted(self) -> tuple[dict[str, str], dict[str, tuple[Origin, ...]]]:
        values = dict(self.document.data.get("values", {}))
        check_values(self.draft, values, self._first.uses)
        return values, self._first.uses

    def _read(self) -> w.FileWritten | None:
        known, data = self.made.written, self.document.data
        if known is None:
            raise _OtherParts
        parts: dict[str, dict[str, Any]] = {"movers": {}}
        for keys, name in self._references:
            if known.values[name] != data["values"][name]:
                if keys[0] not in PARTS or len(keys) < 3:
                    raise _OtherParts
                section, entry = str(keys[0]), str(keys[1])
                parts.setdefault(section, {})[entry] = data[section][entry]
        try:
            read = w.FileWritten.model_validate({**HEAD, **parts})
        except ValidationError:
            raise _OtherParts from None
        update = {one: {**getattr(known, one), **getattr(read, one)} for one in parts}
        return known.model_copy(update={**update, "values": dict(data.get("values", {}))})


def _put(data: Any, references: Iterable[tuple[Keys, str]], values: Mapping[str, str]) -> Any:
    """A file's data with other values, and those in their places: what is above these is new, all else the same."""
    root = {key: dict(one) if isinstance(one, dict) else one for key, one in data.items()}
    if values:
        root["values"] = {**root["values"], **values}
    fresh: dict[Keys, Any] = {}
    for keys, name in references:
        at = root[keys[0]]
        for depth in range(2, len(keys)):
            above = keys[:depth]
            if above not in fresh:
                one = at[above[-1]]
                fresh[above] = at[above[-1]] = dict(one) if isinstance(one, dict) else list(one)
            at = fresh[above]
        at[keys[-1]] = values[name]
    return root


def _copy(data: Any) -> Any:
    """Plain data once more: blocks and lists new, texts the same."""
    if isinstance(data, dict):
        return {key: _copy(one) for key, one in data.items()}
    if isinstance(data, list):
        return [_copy(one) for one in data]
    return data
