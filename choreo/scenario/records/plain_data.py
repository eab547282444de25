"""Records as plain data."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import Field, fields, is_dataclass
from functools import cache
from types import MappingProxyType
from typing import Any

# Of a record's field that an earlier version of the format had not: at its default it is no part of plain data, so that
# what doesn't use it keeps the fingerprint that it always had.
LATER: Mapping[str, bool] = MappingProxyType({"later": True})


@cache
def _fields_of(kind: Any) -> tuple[Field[Any], ...]:
    return fields(kind)


def _unused(one: Field[Any], value: Any) -> bool:
    return "later" in one.metadata and value == one.default


def plain(value: Any) -> Any:
    """Give a record as plain data, fields by name, all the way down; what is no record or collection stays itself.

    What dataclasses.asdict gives, which copies every number and takes three times as long.
    """
    if value is None or isinstance(value, (float, str, int)):
        return value
    if isinstance(value, (tuple, list)):
        return type(value)([plain(one) for one in value])
    if isinstance(value, (dict, Mapping)):
        return {key: plain(one) for key, one in value.items()}
    if is_dataclass(value):
        kind: Any = type(value)
        named = ((one, getattr(value, one.name)) for one in _fields_of(kind))
        return {one.name: plain(held) for one, held in named if not _unused(one, held)}
    return value
