"""YAML text -> plain data, every scalar as text, every key and value with its place.

The loader composes nodes only (no tags, no objects), so that `on`, `no` or `1e3` stay what was written.
"""

from __future__ import annotations

import os
import stat
from dataclasses import field
from glob import escape
from itertools import islice
from pathlib import Path
from typing import Any

import yaml

from choreo.scenario.text.guard import (
    MOST_DEPTH,
    MOST_NODES,
    Loader,
    fault,
    guarded,
    not_yaml,
    place_of,
)
from choreo.words import Finding, Origin
from choreo.words.nearest import nearest_word
from choreo.words.quantities import quoted
from choreo.words.records import dataclass

Keys = tuple[str | int, ...]
SCENARIO = "choreo"
# Files of signals by the ends of their names.
SIGNALS = frozenset({".csv", ".txt", ".mf4", ".mdf", ".parquet", ".mme"})
# A thousand times what a scenario takes, ten times the largest site's; a larger file was named by mistake.
MOST_BYTES = 5_000_000
# Files of a folder that are looked at for the one that was meant: folders of data hold far more.
MOST_BESIDE = 1000
# Faults of one file that are reported; beyond these nobody reads on.
MOST_FAULTS = 100


@dataclass()
class Document:
    """Data made of dict, list and str, and where each entry stands.

    places: of a value that is text, where it begins; of a block or a list, its key. key_places: of keys. passes: which
    pass of its repetition an entry of a list is, 0 of none.
    """

    file: str
    data: Any = None
    places: dict[Keys, Origin] = field(default_factory=dict)
    key_places: dict[Keys, Origin] = field(default_factory=dict)
    passes: dict[Keys, int] = field(default_factory=dict)
    findings: list[Finding] = field(default_factory=list)

    def origin(self, keys: Keys) -> Origin:
        """Give the place of an entry, or of its nearest ancestor that is known."""
        while keys and keys not in self.places:
            keys = keys[:-1]
        return self.places.get(keys, Origin(self.file, 1, 1))

    def names(self, section: str) -> list[str]:
        """Give every name of a section as written, faulty entries too; none where it is no block of names."""
        entries = self.data.get(section)
        return list(entries) if isinstance(entries, dict) else []

    def is_block(self, section: str) -> bool:
        """Tell whether a section is left out or a block of names, so that `names` gives all there are."""
        return isinstance(self.data.get(section, {}), dict)

    def key_origin(self, keys: Keys) -> Origin:
        """Give the place of an entry's key, or as origin does."""
        return self.key_places.get(keys) or self.origin(keys)


def read_text(path: Path, asked: Origin | None = None, most_bytes: int = MOST_BYTES) -> str:
    """Read a text file; asked: where another file names it, for messages.

    Raises ChoreoError for what is missing, a folder, no plain file, too large or no text.
    """
    place = asked or Origin(str(path), 1, 1)
    name = quoted(str(path))
    try:
        mode = path.stat().st_mode
        if stat.S_ISDIR(mode):
            raise fault("input.folder", place, file=name)
        if not stat.S_ISREG(mode):
            # A pipe or a device may never end.
            raise fault(
                "input.unreadable",
                place,
                file=name,
                why="it is a device or a pipe, not a file",
                instead="Name a plain file.",
            )
        with path.open("rb") as stream:
            raw = stream.read(most_bytes + 1)
    except FileNotFoundError:
        raise fault("input.missing-file", place, file=name, suggestion=_nearest(path)) from None
    except OSError as error:
        why = error.strerror or "no access"
        instead = "Check its permissions."
        raise fault("input.unreadable", place, file=name, why=why, instead=instead) from None
    except ValueError:  # a NUL or a surrogate in the name
        raise fault("input.missing-file", place, file=name, suggestion=_nearest(path)) from None
    if len(raw) > most_bytes:
        raise fault("input.too-large", place, file=name, most=f"{most_bytes // 1_000_000} MB")
    if b"\0" in raw:
        raise fault("input.not-text", place)
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise fault("input.not-text", Origin(str(path), line, 1)) from None


def _begin(file: str, begins: str) -> str:
    """How a file of that name begins: signals are told what they are by a file that names theirs."""
    if Path(file).suffix.lower() not in SIGNALS:
        if begins == SCENARIO:
            return "Begin with `choreo: 1`, a `title:` and `movers:`."
        return f"Begin with `{begins}: 1`; `choreo guide format` has the rest."
    return (
        "Recorded signals need a description beside them, that begins with `choreo recording: 1` and has "
        f"`files: {quoted(Path(file).name)}`: `choreo guide runs`."
    )


def _nearest(path: Path) -> str:
    """What is most likely meant instead of a file that isn't there: its name in a folder below, or the most alike."""
    try:
        below = sorted(path.parent.glob(f"*/{escape(path.name)}"))
        if len(below) == 1:
            return f"Did you mean `{quoted(below[0].relative_to(path.parent).as_posix())}`?"
        beside = sorted(one.name for one in islice(os.scandir(path.parent), MOST_BESIDE))
    except (OSError, ValueError):
        beside = []
    # Endings say nothing: with them `a.yaml` would be like every other.
    by_stem = {Path(one).stem: one for one in sorted(beside, key=lambda o: o.endswith(path.suffix))}
    nearest = nearest_word(path.stem, by_stem)
    return "Check the path." if nearest is None else f"Did you mean `{quoted(by_stem[nearest])}`?"


def parse_document(text: str, file: str, begins: str = SCENARIO) -> Document:
    """Turn YAML text into a Document. begins: the key that files of its kind begin with, for messages.

    Raises ChoreoError: empty, not YAML, too deep, several documents, exploding aliases; duplicate keys and
    other faults that leave a readable tree are gathered in its findings.
    """
    place = Origin(file, 1, 1)
    text = text.removeprefix("\ufeff")
    findings = guarded(text, file)
    try:
        nodes = list(yaml.compose_all(text, Loader=Loader))
    except yaml.YAMLError as error:
        raise not_yaml(error, file) from None
    nodes = [node for node in nodes if node is not None]
    if not nodes:
        raise fault("input.empty", place, begin=_begin(file, begins))
    if len(nodes) > 1:
        raise fault("input.several-documents", place_of(nodes[1], file))
    document = Document(file, findings=findings)
    reader = _Reader(document)
    document.data = reader.read(nodes[0], ())
    if not isinstance(document.data, dict):
        raise fault("input.not-mapping", place_of(nodes[0], file), begin=_begin(file, begins))
    return document


class _Reader:
    def __init__(self, document: Document) -> None:
        self.document = document
        self.nodes = 0

    def read(self, node: Any, keys: Keys) -> Any:
        self.nodes += 1
        place = place_of(node, self.document.file)
        if self.nodes > MOST_NODES:
            raise fault("input.too-many-entries", place, most=str(MOST_NODES))
        if len(keys) > MOST_DEPTH:
            raise fault("input.too-deep", place, most=str(MOST_DEPTH))
        self.document.places.setdefault(keys, place)
        if isinstance(node, yaml.MappingNode):
            return self._mapping(node, keys)
        if isinstance(node, yaml.SequenceNode):
            return [self.read(item, (*keys, index)) for index, item in enumerate(node.value)]
        return str(node.value)

    def _mapping(self, node: Any, keys: Keys) -> dict[str, Any]:
        data: dict[str, Any] = {}
        first: dict[str, Origin] = {}
        for key_node, value_node in node.value:
            place = place_of(key_node, self.document.file)
            if not isinstance(key_node, yaml.ScalarNode) or key_node.value == "<<":
                self._add("input.key-not-a-word", place)
                continue
            key = str(key_node.value)
            if key in data:
                values = {"key": key, "first": str(first[key])}
                self.document.findings.append(
                    Finding("input.duplicate-key", "error", place, values, (first[key],))
                )
                continue
            first[key] = place
            self.document.key_places[(*keys, key)] = place
            if not (isinstance(value_node, yaml.ScalarNode) and value_node.value):
                self.document.places[(*keys, key)] = place
            data[key] = self.read(value_node, (*keys, key))
        return data

    def _add(self, code: str, place: Origin) -> None:
        self.document.findings.append(Finding(code, "error", place, {}, ()))
