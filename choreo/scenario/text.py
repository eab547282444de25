"""YAML text -> plain data, every scalar as text, every key and value with its place.

The loader composes nodes only (no tags, no objects), so that `on`, `no` or `1e3` stay what was written.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import yaml

from choreo.words import ChoreoError, Finding, Origin

Keys = tuple[str | int, ...]
MOST_BYTES = 5_000_000
MOST_DEPTH = 50
MOST_NODES = 200_000

Loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


@dataclass
class Document:
    """Data made of dict, list and str, and where each entry stands (a key's place is its value's)."""

    file: str
    data: Any = None
    places: dict[Keys, Origin] = field(default_factory=dict)
    findings: list[Finding] = field(default_factory=list)

    def origin(self, keys: Keys) -> Origin:
        """Give the place of an entry, or of its nearest ancestor that is known."""
        while keys and keys not in self.places:
            keys = keys[:-1]
        return self.places.get(keys, Origin(self.file, 1, 1))


def read_text(path: Path) -> str:
    """Read a text file. Raises ChoreoError for what is missing, a folder, too large or no text."""
    place = Origin(str(path), 1, 1)
    try:
        if path.is_dir():
            raise _fault("input.folder", place)
        with path.open("rb") as stream:
            raw = stream.read(MOST_BYTES + 1)
    except FileNotFoundError:
        raise _fault("input.missing-file", place) from None
    except OSError as error:
        raise _fault("input.unreadable", place, why=error.strerror or "no access") from None
    if len(raw) > MOST_BYTES:
        raise _fault("input.too-large", place, most=f"{MOST_BYTES // 1_000_000} MB")
    if b"\0" in raw:
        raise _fault("input.not-text", place)
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise _fault("input.not-text", Origin(str(path), line, 1)) from None


def parse_document(text: str, file: str) -> Document:
    """Turn YAML text into a Document.

    Raises ChoreoError: empty, not YAML, too deep, several documents, exploding aliases; duplicate keys and
    other faults that leave a readable tree are gathered in its findings.
    """
    place = Origin(file, 1, 1)
    _refuse_depth(text, file)
    try:
        nodes = list(yaml.compose_all(text, Loader=Loader))
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        where = place if mark is None else Origin(file, mark.line + 1, mark.column + 1)
        raise _fault("input.not-yaml", where, why=error.problem or "it can't be parsed") from None
    except (yaml.YAMLError, RecursionError, ValueError) as error:
        why = str(error).splitlines()[0] if str(error) else "it can't be parsed"
        raise _fault("input.not-yaml", place, why=why) from None
    nodes = [node for node in nodes if node is not None]
    if not nodes:
        raise _fault("input.empty", place)
    if len(nodes) > 1:
        raise _fault("input.several-documents", _place(nodes[1], file))
    document = Document(file)
    reader = _Reader(document)
    document.data = reader.read(nodes[0], ())
    if not isinstance(document.data, dict):
        raise _fault("input.not-mapping", _place(nodes[0], file))
    return document


def _refuse_depth(text: str, file: str) -> None:
    """Nesting is bounded before the parser recurses into it: brackets by count, blocks by indent."""
    depth = 0
    for number, line in enumerate(text.splitlines(), start=1):
        bare = re.sub(r"#.*", "", line)
        depth += bare.count("[") + bare.count("{") - bare.count("]") - bare.count("}")
        dashes = re.match(r"[\s-]*", bare)
        indent = 0 if dashes is None else len(dashes.group())
        if depth > 2 * MOST_DEPTH or indent > 20 * MOST_DEPTH or bare.count("- -") > MOST_DEPTH:
            raise _fault("input.too-deep", Origin(file, number, 1), most=str(MOST_DEPTH))


class _Reader:
    def __init__(self, document: Document) -> None:
        self.document = document
        self.nodes = 0

    def read(self, node: Any, keys: Keys) -> Any:
        self.nodes += 1
        place = _place(node, self.document.file)
        if self.nodes > MOST_NODES:
            raise _fault("input.aliases-explode", place, most=str(MOST_NODES))
        if len(keys) > MOST_DEPTH:
            raise _fault("input.too-deep", place, most=str(MOST_DEPTH))
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
            place = _place(key_node, self.document.file)
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
            self.document.places[(*keys, key)] = place
            data[key] = self.read(value_node, (*keys, key))
        return data

    def _add(self, code: str, place: Origin) -> None:
        self.document.findings.append(Finding(code, "error", place, {}, ()))


def _place(node: Any, file: str) -> Origin:
    return Origin(file, node.start_mark.line + 1, node.start_mark.column + 1)


def _fault(code: str, place: Origin, **values: str) -> ChoreoError:
    return ChoreoError((Finding(code, "error", place, values, ()),))
