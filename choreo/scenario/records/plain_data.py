"""Records as plain data."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from functools import cache
from types import MappingProxyType
from typing import Any

# Of a record's field that an earlier version of the format had not: at its default it is no part of plain data, so that
# what doesn't use it keeps the fingerprint that it always had.
LATER: Mapping[str, bool] = MappingProxyType({"later": True})


# Values that are plain themselves, and what most of a record is made of.
PLAIN = frozenset({float, str, int, bool, type(None)})


@cache
def _fields_of(kind: Any) -> tuple[tuple[str, bool, Any], ...]:
    """Name of each field that is not only told, whether an earlier version had none, and its default."""
    return tuple(
        (one.name, "later" in one.metadata, one.default)
        for one in fields(kind)
        if "told" not in one.metadata
    )


def plain(value: Any) -> Any:
    """Give a record as plain data, fields by name, all the way down; what is no record or collection stays itself.

    What dataclasses.asdict gives, which copies every number and takes three times as long.
    """
    if type(value) in PLAIN or (type(value) is tuple and PLAIN.issuperset(map(type, value))):
        return value
    if isinstance(value, (tuple, list)):
        return type(value)([plain(one) for one in value])
    if isinstance(value, (dict, Mapping)):
        return {key: plain(one) for key, one in value.items()}
    if is_dataclass(value):
        kind: Any = type(value)
        named = ((name, getattr(value, name), *used) for name, *used in _fields_of(kind))
        return {
            name: plain(held)
            for name, held, later, default in named
            if not (later and held == default)
        }
    return value
