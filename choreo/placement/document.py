"""A placement as a JSON document."""

from __future__ import annotations

import json

from choreo.placement.record import Placement, Rectangle
from choreo.plans.document import plain_data


def placement_text(answer: Placement | Rectangle) -> str:
    """Give an answer as indented JSON with a final newline; keys as in the record, numbers in full."""
    return json.dumps(plain_data(answer), indent=2, allow_nan=False) + "\n"
