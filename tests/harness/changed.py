"""The same scenario told otherwise, and looser ones: what must not change an answer."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import yaml

Document = dict[str, Any]
# The frame is moved and turned by this.
MOVED_M = (137.25, -58.5)
TURNED_DEG = 37.0
NAMES = {"first": "alpha", "lead": "zulu", "subject": "kilo", "walker": "bravo"}


def _number(text: str) -> float:
    return float(text.split()[0])


def moved(document: Document) -> Document:
    """Another place and direction on the ground."""
    turn = math.radians(TURNED_DEG)
    for path in document["paths"].values():
        x, y = (_number(one) for one in path["start"])
        new = (
            MOVED_M[0] + x * math.cos(turn) - y * math.sin(turn),
            MOVED_M[1] + x * math.sin(turn) + y * math.cos(turn),
        )
        path["start"] = [f"{one:.12f} m" for one in new]
        path["heading"] = f"{_number(path['heading']) + TURNED_DEG!r} deg"
    return document


def mirrored(document: Document) -> Document:
    """Left for right."""
    for path in document["paths"].values():
        x, y = (_number(one) for one in path["start"])
        path["start"] = [f"{x!r} m", f"{-y!r} m"]
        path["heading"] = f"{-_number(path['heading'])!r} deg"
        for piece in path["pieces"]:
            if "arc" in piece:
                piece["arc"]["angle"] = f"{-_number(piece['arc']['angle'])!r} deg"
    for encounter in document["encounters"].values():
        if "offset" in encounter:
            encounter["offset"] = f"{-_number(encounter['offset'])!r} m"
    return document


def reordered(document: Document) -> Document:
    """Everything that has names, in another order."""
    for part in ("paths", "movers", "triggers", "encounters", "instants"):
        if part in document:
            document[part] = dict(reversed(document[part].items()))
    return dict(reversed(document.items()))


def with_a_stranger(document: Document) -> Document:
    """Somebody who stands far off and takes part in nothing."""
    document["movers"]["stranger"] = {
        "kind": "vehicle",
        "stand": {"at": ["-500 m", "-900 m"]},
        "body": {"length": "4 m", "width": "1.8 m"},
    }
    return document


def longer(document: Document) -> Document:
    """More runway, where the path is a line."""
    for path in document["paths"].values():
        if "closed" not in path:
            path["pieces"].append({"line": "300 m"})
    return document


def wider(document: Document) -> Document:
    """Ranges of start marks that reach farther."""
    for mover in document["movers"].values():
        station = mover.get("start", {}).get("station", "")
        if ".." in station:
            low, high = (float(one) for one in station.split()[0].split(".."))
            mover["start"]["station"] = f"{max(0.0, low - 3.0)!r}..{high + 3.0!r} m"
    return document


def told(text: str, change: Callable[[Document], Document]) -> str:
    """The text of the changed scenario."""
    return yaml.safe_dump(change(yaml.safe_load(text)), sort_keys=False, width=1000)


def renamed(text: str) -> str:
    """Movers by other names, in another alphabetical order."""
    for old, new in NAMES.items():
        text = text.replace(f"kind: {old}", "kind: \0").replace(old, new)
        text = text.replace("kind: \0", f"kind: {old}")
    return text
