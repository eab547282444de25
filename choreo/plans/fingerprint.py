"""A short fingerprint of a scenario's meaning: what the numbers say, not how the file is laid out."""

from __future__ import annotations

import hashlib
import json
from typing import Any

from choreo.scenario.records.plain_data import as_json

# 48 bits: two scenarios of one campaign never share them by chance, and a person can compare them by eye.
LETTERS = 12


def fingerprint_of(meaning: Any) -> str:
    """Give the fingerprint of a meaning, data and records, as 12 hexadecimal letters.

    Comments, order of keys and units of the same value don't change it; any number or name does.
    """
    text = json.dumps(meaning, sort_keys=True, default=as_json, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()[:LETTERS]
