"""Records as plain data, for what their meaning is told by."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from functools import cache
from types import MappingProxyType
from typing import Any

# Of a record's field that an earlier version of the format had not: at its default it is no part of plain data, so that
# what doesn't use it keeps the fingerprint that it always had.
LATER: Mapping[str, bool] = MappingProxyType({"later": True})


@cache
def _fields_of(kind: Any) -> tuple[tuple[str, bool, Any], ...]:
    """Name of each field that is not only told, whether an earlier version had none, and its default."""
    return tuple(
        (one.name, "later" in one.metadata, one.default)
        for one in fields(kind)
        if "told" not in one.metadata
    )


def fields_of(record: Any) -> dict[str, Any]:
    """Give what a record means: its fields by name, what they hold left as it is."""
    found = {}
    for name, later, default in _fields_of(record.__class__):
        held = getattr(record, name)
        if not (later and held == default):
            found[name] = held
    return found


def as_json(value: Any) -> Any:
    """Give what json asks for of all that is none of its own kinds: a record's fields, a mapping's entries, words."""
    if hasattr(type(value), "__dataclass_fields__"):
        return fields_of(value)
    return dict(value) if isinstance(value, Mapping) else str(value)
