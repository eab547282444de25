"""`dataclass` for records, as the standard library has it, but for when its methods are written.

The standard one writes and compiles six functions for each class that is defined. On the way to a plan four hundred
are, most of whose methods are never called: that was a quarter of what starting took. Here `__init__` is compiled
when the first record is made; comparing, hashing, showing and refusing to be changed need no code of their own.
Fields, slots, `replace`, `asdict` and what type checkers know are the standard library's.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from dataclasses import MISSING, FrozenInstanceError, fields
from operator import attrgetter
from reprlib import recursive_repr
from typing import TYPE_CHECKING, Any, NoReturn


def _record(*, frozen: bool = False, slots: bool = False, eq: bool = True) -> Callable[..., type]:
    """Make records of a class; what a keyword means stands in `dataclasses.dataclass`.

    Raises TypeError for a class that derives from another.
    """

    def made(cls: type) -> type:
        if cls.__bases__ != (object,):
            raise TypeError(f"{cls.__name__} derives from another class: a record doesn't")
        own = set(cls.__dict__)
        record: type = dataclasses.dataclass(init=False, repr=False, eq=False, slots=slots)(cls)
        methods: dict[str, Any] = {"__init__": _written_later(record, frozen), "__repr__": _shown}
        if eq:
            methods |= _comparison(record, frozen)
        if frozen:
            methods |= {"__setattr__": _not_set, "__delattr__": _not_deleted}
            methods |= {"__getstate__": _state, "__setstate__": _restore} if slots else {}
        for name, method in methods.items():
            if name not in own:
                setattr(record, name, method)
        return record

    return made


def _written_later(record: type, frozen: bool) -> Callable[..., None]:
    """Stand for `__init__` until a record is made."""

    def first(self: Any, *values: Any, **named: Any) -> None:
        _write_init(record, frozen)
        self.__init__(*values, **named)

    return first


def _write_init(record: type, frozen: bool) -> None:
    """Compile `__init__`: a parameter for each field that has one, in their order; then `__post_init__`."""
    known: dict[str, Any] = {"_set": object.__setattr__, "_missing": MISSING}
    parameters, lines = [], []
    for field in fields(record):
        name, given = field.name, f"_given_{field.name}"
        made, default, value = f"{given}()", "", name
        if field.default_factory is not MISSING:
            known[given], default = field.default_factory, "=_missing"
            value = f"{made} if {name} is _missing else {name}"
        elif field.default is not MISSING:
            known[given], default, made = field.default, f"={given}", given
        elif not field.init:
            continue
        if field.init:
            parameters.append(name + default)
        else:
            value = made
        lines.append(f"_set(self, {name!r}, {value})" if frozen else f"self.{name} = {value}")
    if hasattr(record, "__post_init__"):
        lines.append("self.__post_init__()")
    head = f"def __init__({', '.join(('self', *parameters))}):"
    exec("\n    ".join((head, *(lines or ("pass",)))), known)
    init = known["__init__"]
    init.__qualname__ = f"{record.__qualname__}.__init__"
    type.__setattr__(record, "__init__", init)


def _comparison(record: type, frozen: bool) -> dict[str, Any]:
    """Records of one class with equal fields are equal; only frozen ones may be kept in sets."""
    names = [field.name for field in fields(record) if field.compare]
    values: Callable[[Any], Any] = attrgetter(*names, "__class__") if names else type

    def equal(self: Any, other: object) -> bool:
        return (
            values(self) == values(other) if other.__class__ is self.__class__ else NotImplemented
        )

    def hashed(self: Any) -> int:
        return hash(values(self))

    return {"__eq__": equal, "__hash__": hashed if frozen else None}


@recursive_repr()
def _shown(self: Any) -> str:
    told = (f"{one.name}={getattr(self, one.name)!r}" for one in fields(self) if one.repr)
    return f"{type(self).__qualname__}({', '.join(told)})"


def _not_set(self: object, name: str, _value: object) -> NoReturn:
    raise FrozenInstanceError(f"cannot assign to field {name!r}")


def _not_deleted(self: object, name: str) -> NoReturn:
    raise FrozenInstanceError(f"cannot delete field {name!r}")


def _state(self: Any) -> list[Any]:
    return [getattr(self, field.name) for field in fields(self)]


def _restore(self: Any, state: list[Any]) -> None:
    for field, value in zip(fields(self), state, strict=True):
        object.__setattr__(self, field.name, value)


if TYPE_CHECKING:
    from dataclasses import dataclass
else:
    dataclass = _record

__all__ = ["dataclass"]
