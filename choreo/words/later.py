"""Heavy libraries that few answers need are loaded when they are first used."""

from __future__ import annotations

from importlib import import_module
from types import ModuleType
from typing import Any


class _Later(ModuleType):
    def __getattr__(self, name: str) -> Any:
        return getattr(import_module(self.__name__), name)


def loaded_later(name: str) -> Any:
    """Stand for a module until one of its names is asked for; raises ImportError only then."""
    return _Later(name)
