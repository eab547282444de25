"""Records as plain data."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from typing import Any


def plain(value: Any) -> Any:
    """Give a record as plain data, fields by name, all the way down; what is no record or collection stays itself.

    What dataclasses.asdict gives, which copies every number and takes three times as long.
    """
    if value is None or isinstance(value, (float, str, int)):
        return value
    if isinstance(value, (tuple, list)):
        return type(value)([plain(one) for one in value])
    if isinstance(value, Mapping):
        return {key: plain(one) for key, one in value.items()}
    if is_dataclass(value):
        return {field.name: plain(getattr(value, field.name)) for field in fields(value)}
    return value
