"""What YAML text may hold, seen on the parser's event stream before anything recurses into it.

The composer recurses once per level and expands aliases, so depth and size are bounded here first.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import yaml

from choreo.words import ChoreoError, Finding, Origin
from choreo.words.display import CONTROL

# Scenarios nest 7 deep; the composer, the models and their faults recurse once a level and must never come near
# Python's limit of a thousand.
MOST_DEPTH = 50
# Some seconds of reading; aliases of aliases would otherwise make millions of entries out of a few lines.
MOST_NODES = 200_000

# What a scalar is decides who reads it, not how it looks.
Loader = getattr(yaml, "CBaseLoader", yaml.BaseLoader)

# The parser's words for the commonest slips, in ours.
PLAIN_WORDS = {
    "mapping values are not allowed in this context": "a `:` stands where none can be (a text with one needs quotes)",
    "block sequence entries are not allowed in this context": "a `-` stands where no list can begin",
    "found character that cannot start any token": "a tab (indent by spaces), `@`, `%`, backquote begin no value here",
    "did not find expected key": "the indent doesn't fit the lines above",
    "could not find expected ':'": "a `key: value` line was expected",
    "did not find expected ',' or ']'": "a `,` or `]` is missing",
    "did not find expected ',' or '}'": "a `,` or `}` is missing",
    "did not find expected '-' indicator": "a list's entries don't line up",
    "found unexpected end of stream": "a quotation mark is never closed",
    "did not find expected alphabetic": "a value that begins with `*` or `&` needs quotes, like `'*.csv'`",
    "found undefined alias": "an alias (`*name`) names nothing",
}


def guarded(text: str, file: str) -> list[Finding]:
    """Look YAML text over. Returns faults that leave a readable tree (tags, control characters).

    Raises ChoreoError: control characters in the raw text, not YAML, too deep, too many entries.
    """
    raw = CONTROL.search(text)
    if raw is not None:
        line = text.count("\n", 0, raw.start()) + 1
        column = raw.start() - text.rfind("\n", 0, raw.start())
        raise fault("input.control-character", Origin(file, line, column), character=_named(raw[0]))
    findings: list[Finding] = []
    depth = 0
    for number, event in enumerate(_events(text, file)):
        if isinstance(event, yaml.CollectionStartEvent):
            depth += 1
        elif isinstance(event, yaml.CollectionEndEvent):
            depth -= 1
        if depth > MOST_DEPTH:
            raise fault("input.too-deep", place_of(event, file), most=str(MOST_DEPTH))
        if number > 2 * MOST_NODES:
            raise fault("input.too-many-entries", place_of(event, file), most=str(MOST_NODES))
        if getattr(event, "tag", None) is not None:
            findings.append(Finding("input.tag", "error", place_of(event, file), {}, ()))
        found = CONTROL.search(event.value) if isinstance(event, yaml.ScalarEvent) else None
        if found is not None:
            values = {"character": _named(found[0])}
            place = place_of(event, file)
            findings.append(Finding("input.control-character", "error", place, values, ()))
    return findings


def _events(text: str, file: str) -> Iterator[Any]:
    try:
        yield from yaml.parse(text, Loader=Loader)
    except yaml.YAMLError as error:
        raise not_yaml(error, file) from None


def not_yaml(error: yaml.YAMLError, file: str) -> ChoreoError:
    """Turn the parser's error into ours, at its place."""
    problem = str(getattr(error, "problem", None) or "")
    mark = getattr(error, "problem_mark", None)
    if problem == "could not find expected ':'":
        # The line that lacks its colon, not the one after it.
        mark = getattr(error, "context_mark", None) or mark
    place = Origin(file, 1, 1) if mark is None else Origin(file, mark.line + 1, mark.column + 1)
    if problem == "exceeded maximum nesting depth":
        return fault("input.too-deep", place, most=str(MOST_DEPTH))
    known = (words for start, words in PLAIN_WORDS.items() if problem.startswith(start))
    return fault("input.not-yaml", place, why=next(known, problem or "its structure is broken"))


def place_of(node: Any, file: str) -> Origin:
    """Give the place where a parser's event or node begins."""
    return Origin(file, node.start_mark.line + 1, node.start_mark.column + 1)


def fault(code: str, place: Origin, **values: str) -> ChoreoError:
    """Make an error of one finding."""
    return ChoreoError((Finding(code, "error", place, values, ()),))


def _named(character: str) -> str:
    return f"U+{ord(character):04X}"
