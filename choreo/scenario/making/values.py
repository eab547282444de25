"""Named values: put in place of `$name` before anything is read, checked by kind."""

from __future__ import annotations

import re
from collections.abc import Container, Iterator, Mapping
from typing import Any

from choreo.scenario.making.draft import Draft
from choreo.scenario.text.document import Document, Keys
from choreo.words.origin import Origin
from choreo.words.quantities import FREE, QuantityError, kind_of, parse_range

REFERENCE = re.compile(r"\$([A-Za-z][A-Za-z0-9_-]*)")
# Text for people: a `$` there means itself.
NOT_QUANTITIES = (
    ("values",),
    ("vary",),
    ("together",),
    ("without",),
    ("title",),
    ("about",),
    ("conditions",),
)


def substitute(
    draft: Draft, document: Document
) -> tuple[dict[str, str], dict[str, tuple[Origin, ...]]]:
    """Put the named values in place of `$name`; find unknown, unused and unreadable ones.

    Returns the values as written, and where each of them is used.
    """
    raw = document.data.get("values", {})
    values = {k: v for k, v in raw.items() if isinstance(v, str)} if isinstance(raw, dict) else {}
    used: dict[str, tuple[Origin, ...]] = {}
    for holder, keys, name in references_of(document.data):
        if name in values:
            used[name] = (*used.get(name, ()), document.origin(keys))
            holder[keys[-1]] = values[name]
        else:
            draft.unknown(keys, "value", name, values)
    check_values(draft, values, used)
    return values, used


def references_of(data: Any) -> list[tuple[Any, Keys, str]]:
    """Give every `$name` of a file's data: the block or list that holds it, its keys, the name."""
    found = []
    for holder, key, keys in _scalars(data, ()):
        match = REFERENCE.fullmatch(holder[key].strip())
        if match is not None and keys[:1] not in NOT_QUANTITIES:
            found.append((holder, keys, match.group(1)))
    return found


def check_values(draft: Draft, values: Mapping[str, str], used: Container[str]) -> None:
    """Find unreadable and unused values."""
    for name, text in values.items():
        _kind(draft, ("values", name), text)
        if name not in used:
            draft.fault("scenario.unused-value", ("values", name), severity="note", name=name)


def _kind(draft: Draft | None, keys: Keys, text: str) -> str | None:
    """The kind of a value by its unit; a fault when it can't be read."""
    if text.strip() == FREE:
        return None
    try:
        kind = kind_of(text)
        parse_range(text, kind)
    except QuantityError as error:
        if draft is not None:
            where = " > ".join(str(key) for key in keys[:2])
            draft.fault(
                "scenario.bad-value", keys, where=where, what=error.wrong, instead=error.instead
            )
        return None
    return kind


def _scalars(data: Any, keys: Keys) -> Iterator[tuple[Any, Any, Keys]]:
    entries: Any = ()
    if isinstance(data, dict):
        entries = data.items()
    elif isinstance(data, list):
        entries = enumerate(data)
    for key, value in entries:
        if isinstance(value, str):
            yield data, key, (*keys, key)
        else:
            yield from _scalars(value, (*keys, key))
