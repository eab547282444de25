"""A Problem taken apart into its structure and its numbers, and put together with others in place.

The solver builds its programme once for a structure; a variant only brings other numbers.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import fields, is_dataclass
from typing import Any

from choreo.words.origin import Origin


def numbers_of(record: Any) -> list[float]:
    """Give every finite float of a Problem in a fixed order (depth first, fields as declared)."""
    return [value for value in _leaves(record) if isinstance(value, float) and math.isfinite(value)]


def structure_of(record: Any) -> tuple[Any, ...]:
    """Give a hashable key of all that is not a finite number; equal keys share one programme.

    Whether a range is a single value is structure as well: it decides what is unknown.
    """
    return tuple(_shape(record))


def replace_numbers(record: Any, make: Callable[[str, float], Any]) -> Any:
    """Give a copy in which make(path, value) stands for every finite float, in numbers_of order."""
    return _replace(record, make, "")


def _leaves(record: Any) -> Iterator[Any]:
    if isinstance(record, Origin):
        return
    if is_dataclass(record):
        for part in fields(record):
            yield from _leaves(getattr(record, part.name))
    elif isinstance(record, tuple):
        for item in record:
            yield from _leaves(item)
    else:
        yield record


def _shape(record: Any) -> Iterator[Any]:
    if isinstance(record, Origin):
        return
    if is_dataclass(record):
        yield type(record).__name__
        if getattr(record, "fixed", False):
            yield "fixed"
        for part in fields(record):
            yield from _shape(getattr(record, part.name))
    elif isinstance(record, tuple):
        yield len(record)
        for item in record:
            yield from _shape(item)
    elif isinstance(record, float) and math.isfinite(record):
        yield "#"
    else:
        yield record


def _replace(record: Any, make: Callable[[str, float], Any], path: str) -> Any:
    if isinstance(record, Origin):
        return record
    if is_dataclass(record) and not isinstance(record, type):
        parts = {
            part.name: _replace(getattr(record, part.name), make, f"{path}.{part.name}")
            for part in fields(record)
        }
        return type(record)(**parts)
    if isinstance(record, tuple):
        return tuple(_replace(item, make, f"{path}.{i}") for i, item in enumerate(record))
    if isinstance(record, float) and math.isfinite(record):
        return make(path, record)
    return record
