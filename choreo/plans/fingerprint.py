"""A short fingerprint of a scenario's meaning: what the numbers say, not how the file is laid out."""

from __future__ import annotations

import hashlib
import json
from dataclasses import is_dataclass
from json.encoder import encode_basestring_ascii
from typing import Any

from choreo.scenario.records.plain_data import as_json

# 48 bits: two scenarios of one campaign never share them by chance, and a person can compare them by eye.
LETTERS = 12
# A meaning is made of sections, those of entries: records, which are the very same in many variants of a scenario.
DEPTH = 2
# Of so many of them it is remembered how they are told, by their address.
MOST_TOLD = 200
_TOLD: dict[int, tuple[Any, str]] = {}


def fingerprint_of(meaning: Any) -> str:
    """Give the fingerprint of a meaning, data and records, as 12 hexadecimal letters.

    Comments, order of keys and units of the same value don't change it; any number or name does.
    """
    return hashlib.sha256(_told(meaning, DEPTH).encode()).hexdigest()[:LETTERS]


def _told(value: Any, depth: int) -> str:
    """A value as JSON without blanks, keys in their order; entries of its blocks one by one down to a depth."""
    if depth and type(value) is dict and all(type(key) is str for key in value):
        entries = (
            f"{encode_basestring_ascii(key)}:{_told(value[key], depth - 1)}"
            for key in sorted(value)
        )
        return f"{{{','.join(entries)}}}"
    known = _TOLD.get(id(value))
    if known is not None and known[0] is value:
        return known[1]
    text = json.dumps(value, sort_keys=True, default=as_json, separators=(",", ":"))
    if is_dataclass(value):
        if len(_TOLD) >= MOST_TOLD:
            _TOLD.clear()
        _TOLD[id(value)] = value, text
    return text
