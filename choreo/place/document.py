"""A placement as a JSON document."""

from __future__ import annotations

import json
import math
from dataclasses import asdict
from typing import Any

from choreo.place.record import Placement, Rectangle


def placement_text(answer: Placement | Rectangle) -> str:
    """Give an answer as indented JSON with a final newline; keys as in the record, numbers in full."""
    return json.dumps(_plain(asdict(answer)), indent=2, allow_nan=False) + "\n"


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, (tuple, list)):
        return [_plain(item) for item in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value
