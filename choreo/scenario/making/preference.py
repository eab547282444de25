"""`prefer: highest subject speed`: the quantity that is wanted as high or as low as it can be."""

from __future__ import annotations

from typing import get_args

from choreo.scenario.records.scenario import Extreme
from choreo.scenario.text.document import Document
from choreo.words.kinds import Which

# What is preferred besides: among plans with the same value the shortest.
BESIDES = "shortest runway"
WORDS: tuple[Which, ...] = get_args(Which)


def extreme_of(document: Document) -> Extreme | None:
    """Take `highest NAME` or `lowest NAME` out of `prefer`; the shortest runway stays in its place."""
    text = document.data.get("prefer")
    if not isinstance(text, str):
        return None
    for which in WORDS:
        first, _, name = text.strip().partition(" ")
        if first == which and name.strip():
            document.data["prefer"] = BESIDES
            return Extreme(which, " ".join(name.split()))
    return None
