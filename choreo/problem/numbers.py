"""A Problem taken apart into its structure and its numbers, and put together with others in place.

The solver writes its rows once for a structure; a variant only brings other numbers.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import fields, is_dataclass
from functools import cache
from numbers import Integral
from typing import Any, get_args, get_type_hints

from choreo.words.origin import Origin

# Properties of records that numbers decide, and that in turn decide what is unknown and which rows there are: whether a
# range is a single value, whether a hold has to settle, whether a mover rolls before its launch, whether
# its drive is late.
CHOICES = ("fixed", "settles", "rolls", "launched_late", "braked_late")


def numbers_of(record: Any) -> list[float]:
    """Give every finite float of a Problem in a fixed order (depth first, fields as declared).

    Raises TypeError where a number is no float.
    """
    found: list[float] = []
    _gather(record, found)
    return found


def structure_of(record: Any) -> tuple[Any, ...]:
    """Give a hashable key of all that is not a finite number; equal keys share one set of rows.

    What numbers decide of the rows is structure as well (CHOICES). Raises TypeError where a number is no float.
    """
    shape: list[Any] = []
    _outline(record, shape)
    return tuple(shape)


def replace_numbers(record: Any, make: Callable[[str, float], Any]) -> Any:
    """Give a copy in which make(path, value) stands for every finite float, in numbers_of order.

    Raises TypeError where a number is no float.
    """
    return _replace(record, make, "")


def _gather(record: Any, found: list[float]) -> None:
    """Add every finite float of a record to those found."""
    if isinstance(record, float):
        if math.isfinite(record):
            found.append(record)
    elif isinstance(record, tuple):
        for item in record:
            _gather(item, found)
    elif is_dataclass(record) and not isinstance(record, Origin):
        for _, part in _parts(record):
            _gather(part, found)


def _outline(record: Any, shape: list[Any]) -> None:
    """Add all of a record that is structure, with a `#` for each finite float."""
    if isinstance(record, float):
        shape.append("#" if math.isfinite(record) else record)
    elif isinstance(record, tuple):
        shape.append(len(record))
        for item in record:
            _outline(item, shape)
    elif not is_dataclass(record):
        shape.append(record)
    elif not isinstance(record, Origin):
        shape.append(type(record).__name__)
        shape += [choice for choice in CHOICES if getattr(record, choice, False)]
        for _, part in _parts(record):
            _outline(part, shape)


def _replace(record: Any, make: Callable[[str, float], Any], path: str) -> Any:
    if isinstance(record, Origin):
        return record
    if is_dataclass(record) and not isinstance(record, type):
        parts = {name: _replace(part, make, f"{path}.{name}") for name, part in _parts(record)}
        return type(record)(**parts)
    if isinstance(record, tuple):
        return tuple(_replace(item, make, f"{path}.{i}") for i, item in enumerate(record))
    if isinstance(record, float) and math.isfinite(record):
        return make(path, record)
    return record


def _parts(record: Any) -> Iterator[tuple[str, Any]]:
    """A record's fields in order, by name.

    An int (or a bool) where a number is meant would silently become structure: it is refused.
    """
    for name, is_number in _fields_of(record.__class__):
        part = getattr(record, name)
        if is_number and _has_integer(part):
            place = f"{type(record).__name__}.{name}"
            raise TypeError(f"{place} is {part!r}: numbers of a problem are floats")
        yield name, part


@cache
def _fields_of(record_type: type) -> tuple[tuple[str, bool], ...]:
    """Names of a record's fields, and whether each is declared to hold numbers."""
    hints = get_type_hints(record_type)
    return tuple((part.name, _has_float(hints[part.name])) for part in fields(record_type))


def _has_float(hint: Any) -> bool:
    return hint is float or any(_has_float(part) for part in get_args(hint))


def _has_integer(part: Any) -> bool:
    if isinstance(part, tuple):
        return any(_has_integer(item) for item in part)
    return isinstance(part, Integral)
