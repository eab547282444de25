"""What to write where somebody wrote less, or more, than a key wants: the line itself, from what stands there."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from choreo.words.quantities import QuantityError, kind_of, quoted

GUIDE = "`choreo guide format` says what each key holds."
# The key that a single value under these most likely belongs to.
INNER_KEYS: Mapping[str, str] = {
    "start": "station",
    "ramp": "to",
    "stop": "brake",
    "return": "at",
    "failsafe": "brake",
    "arc": "radius",
    "bend": "radius",
    "clothoid": "length",
    "shift": "offset",
    "start mark": "along",
    "path": "offset",  # what may be off of it
    "headway": "reaction",
}
# Phases that can have a `name`, beside their own block.
NAMED_PHASES = ("wait", "ramp", "hold", "stop", "follow", "return")
# A phase that is named and no more, as it may stand.
BARE_PHASES: Mapping[str, str] = {
    "stop": "- stop: {}",
    "ramp": "- ramp: {to: 40 km/h}",
    "hold": "- hold: {until: contact}",
    "wait": "- wait: {for: TRIGGER}",
    "return": "- return: {to: start, at: 20 km/h}",
}
BACKWARDS = (
    "Write `drive: backwards` at those pieces of its path that are driven so, like "
    "`- {line: 10 m, drive: backwards}`, or at the mover when all of them are."
)
# What is written in a phase, or as one, and what is meant.
PHASE_MEANT: Mapping[tuple[str, str], str] = {
    ("", "accelerate"): "Write `- ramp: {to: 40 km/h, accelerate: 2 m/s2}`.",
    (
        "",
        "decelerate",
    ): "Write `- ramp: {to: 20 km/h, brake: 2 m/s2}`, or `- stop: {brake: 2 m/s2}`.",
    ("", "brake"): "Write `- stop: {brake: 4 m/s2}`, or `- ramp: {to: 20 km/h, brake: 4 m/s2}`.",
    ("", "cruise"): "Write `- hold: {for: 5 s}`, or `- hold: {until: EVENT}`.",
    ("", "constant"): "Write `- hold: {for: 5 s}`, or `- hold: {until: EVENT}`.",
    ("ramp", "speed"): "Did you mean `to`?",
    ("hold", "speed"): "A hold keeps the speed that it has: write a `ramp` before it.",
    ("hold", "distance"): "Write `for: 50 m`.",
    ("hold", "lasting"): "Write `for: 5 s`.",
    ("hold", "time"): "Write `for: 5 s`.",
    ("hold", "duration"): "Write `for: 5 s`.",
}
# What a comma has torn off: digits and perhaps a unit, where a key should be.
TORN_OFF = re.compile(r"[0-9]+(\s*[A-Za-z/%][A-Za-z0-9/]*)?")


def block_for(keys: tuple[str | int, ...], written: Any) -> str:
    """Say what to write instead of a single value, a list or nothing where a block of keys belongs."""
    key = keys[-1] if keys else ""
    if keys == ("day", "return") and isinstance(written, str):
        return f"Write `return: {{speed: {quoted(written)}}}`."
    if isinstance(key, int) and isinstance(written, str) and "programme" in keys:
        return _phase(written)
    if isinstance(written, str):
        inner = _inner_key(str(key), written)
        return f"Write `{key}: {{{inner}: {quoted(written)}}}`." if inner else GUIDE
    if isinstance(written, list) and len(keys) == 1:
        return f"Write a name for each entry of `{key}`, as `NAME:` with its keys indented below, without `-`."
    return GUIDE


def list_for(keys: tuple[str | int, ...], written: Any) -> str:
    """Say what to write instead of a block or a single value where a list belongs."""
    if isinstance(written, (dict, str)) and keys and keys[-1] in ("programme", "pieces"):
        return "Begin each entry with `- `, in the order in which they come."
    return GUIDE


def _phase(written: str) -> str:
    first, _, rest = written.strip().partition(" ")
    kind = first.rstrip(":").lower()
    if kind not in BARE_PHASES:
        return GUIDE
    inner = _inner_key(kind, rest.strip()) if rest.strip() else None
    line = f"- {kind}: {{{inner}: {quoted(rest.strip())}}}" if inner else BARE_PHASES[kind]
    return f"Write `{line}`."


def _inner_key(key: str, written: str) -> str | None:
    """The key under which a single value is meant; of some phases and places that depends on what it is."""
    if key not in ("hold", "wait", "stop", "headway"):
        return INNER_KEYS.get(key)
    try:
        kind = kind_of(written)
    except QuantityError:
        return {"hold": "until", "wait": "for"}.get(key)
    if key in ("stop", "headway"):
        # The stop of an excursion lasts; a stop of a programme brakes.
        return {"stop": "for"}.get(key, "reaction") if kind == "time" else INNER_KEYS[key]
    if key == "wait":
        return "lasting" if kind == "time" else None
    return "for" if kind in ("time", "length") else None


def rejoined(key: str, siblings: Mapping[str, Any]) -> str | None:
    """Say what to write where a key is none: `{latency: 0,06 s}` has a key `06 s`, `{station:free}` one in all.

    siblings: the block as read, in its order. Returns None for any other unknown key.
    """
    name, colon, rest = key.partition(":")
    if colon and rest.strip():
        return f"Write `{quoted(name)}: {quoted(rest.strip())}`, with a space after the colon."
    if TORN_OFF.fullmatch(key) is None or key not in siblings:
        return None
    names = list(siblings)
    before = names[names.index(key) - 1] if names.index(key) else None
    number = siblings[before] if before is not None else None
    if not isinstance(number, str) or not number.lstrip("+-").isdigit():
        return None
    point = f"`{before}: {number}.{key}`"
    if re.match(r"[0-9]{3}(?![0-9])", key) and number.lstrip("+-") != "0":
        point = f"`{before}: {number}{key}`, or {point}"
    return f"A comma parts entries here. Write {point}."


def phase_named(keys: tuple[Any, ...], block: Mapping[str, Any]) -> str | None:
    """Say where the name of a phase stands, if it is written inside the phase's own block; else None.

    keys: the place of the unknown key. block: the block that it stands in.
    """
    phase = str(keys[-2]) if len(keys) > 2 else ""
    if keys[-1] != "name" or keys[0] != "movers" or phase not in NAMED_PHASES:
        return None
    name = block.get("name")
    name = quoted(name) if isinstance(name, str) and name else "NAME"
    return f"Write the name beside `{phase}`: `{{{phase}: {{...}}, name: {name}}}`."


def phase_meant(keys: tuple[Any, ...]) -> str | None:
    """Say what to write for a key that a phase doesn't have, where people mean another; else None. keys: its place."""
    key = str(keys[-1])
    if "programme" not in keys:
        return None
    if key in ("drive", "direction"):
        return BACKWARDS
    inside = str(keys[-2]) if len(keys) > 1 else ""
    return PHASE_MEANT.get((inside if inside in BARE_PHASES else "", key))


def error_placed(keys: tuple[Any, ...]) -> str | None:
    """Say where what may be off is written, if it stands where it can't be; else None. keys: of the unknown key."""
    key = keys[-1]
    if key == "errors" and keys[0] != "movers":
        return "What may be off belongs to a mover: write `errors: {speed held: 0.3 km/h}` inside one of `movers`."
    if "errors" in keys[:-1] and key == "latency":
        return "Write it at the trigger: `latency: 60 ms +/- 10 ms`."
    if "errors" in keys[:-1] and key in ("along", "beside"):
        return f"Write `start mark: {{{key}: 0.02 m}}`."
    if keys[-2:-1] == ("errors",) and key in ("offset", "wander"):
        return f"Write `path: {{{key}: ...}}`."
    return None


def torn(loc: tuple[Any, ...], data: Any) -> bool:
    """Whether the value at a place was torn apart by a comma: the next key of its block says what to write."""
    block = data
    for key in loc[:-1]:
        try:
            block = block[key]
        except (KeyError, IndexError, TypeError):
            return False
    if not isinstance(block, dict) or loc[-1] not in block:
        return False
    names = list(block)
    after = names.index(loc[-1]) + 1
    return after < len(names) and rejoined(str(names[after]), block) is not None


def braking_instead(keys: tuple[str | int, ...], written: Any) -> str | None:
    """Say how slowing down is written, for a negative `accelerate` of a ramp and a negative `brake`; else None."""
    if not isinstance(written, str) or written.strip()[:1] not in ("-", "\u2212", "\u2013"):
        return None
    if not keys or keys[-1] not in ("accelerate", "brake"):
        return None
    number = quoted(written.strip()[1:].strip())
    return f"Write `brake: {number}`: braking has a key of its own, and its numbers are positive."
