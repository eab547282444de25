"""A scenario file read once, from which its variants are made: other quantities for its named values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from choreo.scenario.loading import Loading
from choreo.scenario.records.scenario import Scenario
from choreo.scenario.text.document import Document, parse_document, read_text
from choreo.scenario.text.repeats import write_out
from choreo.scenario.text.turning import lay_turning
from choreo.scenario.written.scenario import FileWritten
from choreo.words import Origin


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
        data = _copy(self._document.data)
        if values:
            data["values"] = {**data["values"], **values}
        known = self._document
        document = Document(
            known.file, data, known.places, known.key_places, known.passes, list(known.findings)
        )
        if self._first is not None:
            return self._alike(_Another(document, self.folder, self._first).scenario())
        first = Loading(document, self.folder)
        self._made = first.scenario()
        self._first = first
        return self._made

    def _alike(self, scenario: Scenario) -> Scenario:
        """The scenario with the very records of the first one where they say the same: what is made of them is too."""
        known = None if self._made is None else self._made.paths
        if not known:
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

    def __init__(self, document: Document, folder: Path, first: Loading) -> None:
        super().__init__(document, folder)
        self._first = first

    def _share(self, _written: FileWritten) -> None:
        first = self._first
        self.shared = first.shared
        self.files = list(first.files)
        self.draft.paths = list(first.shared.paths)
        self.draft.files = list(first.draft.files)
        self.draft.paths_known = first.draft.paths_known


def _copy(data: Any) -> Any:
    """Plain data once more: blocks and lists new, texts the same."""
    if isinstance(data, dict):
        return {key: _copy(one) for key, one in data.items()}
    if isinstance(data, list):
        return [_copy(one) for one in data]
    return data
