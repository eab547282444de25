"""Records as plain data."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from functools import cache
from typing import Any


def plain(value: Any) -> Any:
    """Give a record as plain data, fields by name, all the way down; what is no record or collection stays itself.

    What dataclasses.asdict gives, which copies every number and takes ten times as long.
    """
    kind = type(value)
    names = _field_names(kind)
    if names:
        return {name: plain(getattr(value, name)) for name in names}
    if kind is tuple or kind is list:
        return kind([plain(one) for one in value])
    if isinstance(value, Mapping):
        return {key: plain(one) for key, one in value.items()}
    return value


@cache
def _field_names(kind: type) -> tuple[str, ...]:
    return tuple(field.name for field in fields(kind)) if is_dataclass(kind) else ()
