"""Movers that turn about a point, doors above all, written out as movers on an arc about it.

The reference point is the middle of the door: its path is the arc of half the door's length about the hinge, and its
body lies across that path. Angles, and what is counted in them, become lengths along that arc.
"""

from __future__ import annotations

import math
import re
from typing import Any

from choreo.scenario.text.document import Document, Keys
from choreo.words import Finding
from choreo.words.nearest import suggestion
from choreo.words.quantities import QuantityError, parse, quoted

KEYS = ("about", "by", "from")
# What can't be beside `turns`, which says all about the way.
INSTEAD_OF = ("path", "stand", "drive")
# Of the mover's own block, what may be counted in degrees.
COUNTED = ("limits", "usual", "start", "programme", "errors")
IN_DEGREES = re.compile(r"(-?[0-9.]+?)(?:\.\.(-?[0-9.]+))?\s*deg(/s[23]?)?")
# A door turns no farther than this (deg).
MOST_DEG = 180.0


def lay_turning(document: Document) -> None:
    """Put a path and a body in place of every `turns`; faults go to the document."""
    paths = document.data.setdefault("paths", {})
    if paths == "":
        paths = document.data["paths"] = {}
    for name in document.names("movers"):
        mover = document.data["movers"][name]
        if isinstance(mover, dict) and "turns" in mover and isinstance(paths, dict):
            _Turning(document, name, mover, paths).lay()
    if paths == {}:
        del document.data["paths"]


class _Turning:
    def __init__(
        self, document: Document, name: str, mover: dict[str, Any], paths: dict[str, Any]
    ) -> None:
        self.document = document
        self.name = name
        self.mover = mover
        self.paths = paths
        self.keys: Keys = ("movers", name, "turns")

    def lay(self) -> None:
        """Write the mover as one on an arc."""
        turns = self.mover.pop("turns")
        for other in INSTEAD_OF:
            if self.mover.pop(other, None) is not None:
                values = {"where": self.name, "first": "`turns`", "second": f"`{other}`"}
                self._add("scenario.not-together", ("movers", self.name, other), values)
        if not isinstance(turns, dict):
            self._wrong(self.keys, "a block of keys is wanted here")
            turns = {}
        for key in turns:
            if key not in KEYS:
                values = {"key": quoted(key), "where": "turns", "suggestion": suggestion(key, KEYS)}
                place = self.document.key_origin((*self.keys, key))
                self.document.findings.append(
                    Finding("scenario.unknown-key", "error", place, values)
                )
        x_m, y_m = self._about(turns.get("about"))
        by = self._angle("by", turns.get("by"), math.pi / 2)
        if not 0.0 < abs(math.degrees(by)) <= MOST_DEG:
            self._wrong((*self.keys, "by"), f"a turn of {math.degrees(by):g} deg is none of a door")
            by = math.pi / 2
        begins = self._angle("from", turns.get("from", "0 deg"), 0.0)
        length_m, width_m = self._size()
        radius_m = length_m / 2
        path = self._path_name()
        side = math.copysign(math.pi / 2, by)
        at = (x_m + radius_m * math.cos(begins), y_m + radius_m * math.sin(begins))
        self.paths[path] = {
            "start": [_text(one, "m") for one in at],
            "heading": _text(math.degrees(begins + side), "deg"),
            "pieces": [
                {"arc": {"radius": _text(radius_m, "m"), "angle": _text(math.degrees(by), "deg")}}
            ],
        }
        self.document.places["paths", path] = self.document.origin(self.keys)
        self.mover["path"] = path
        self.mover.setdefault("start", {"station": "0 m"})
        half, thick = _text(length_m / 2, "m"), _text(width_m / 2, "m")
        corners = (
            (thick, half),
            (f"-{thick}", half),
            (f"-{thick}", f"-{half}"),
            (thick, f"-{half}"),
        )
        self.mover["body"] = {"corners": [list(corner) for corner in corners]}
        for key in COUNTED:
            if key in self.mover:
                self.mover[key] = _along(self.mover[key], radius_m)

    def _about(self, about: Any) -> tuple[float, float]:
        keys = (*self.keys, "about")
        if not isinstance(about, list) or len(about) != 2:
            self._wrong(keys, "the point that it turns about is missing")
            return 0.0, 0.0
        x_m, y_m = (self._quantity(keys, one, "length", 0.0) for one in about)
        return x_m, y_m

    def _angle(self, key: str, value: Any, instead: float) -> float:
        if value is None:
            self._wrong(self.keys, f"`{key}` is missing")
            return instead
        return self._quantity((*self.keys, key), value, "angle", instead)

    def _quantity(self, keys: Keys, value: Any, kind: Any, instead: float) -> float:
        try:
            return parse(value if isinstance(value, str) else "", kind)
        except QuantityError as error:
            self._wrong(keys, error.wrong)
            return instead

    def _size(self) -> tuple[float, float]:
        """Length and width of the body in m: from the hinge to its free end, and its thickness."""
        body, keys = self.mover.get("body"), ("movers", self.name, "body")
        if not isinstance(body, dict) or set(body) != {"length", "width"}:
            self._wrong(
                keys, "the body of one that turns is its `length` from the hinge and its `width`"
            )
            return 1.0, 0.1
        sizes = [self._quantity((*keys, key), body[key], "length", 1.0) for key in body]
        if min(sizes) <= 0.0:
            self._wrong(keys, "the body of one that turns has no size")
            return 1.0, 0.1
        length_m, width_m = (
            dict(zip(body, sizes, strict=True))[key] for key in ("length", "width")
        )
        return length_m, width_m

    def _path_name(self) -> str:
        name = f"{self.name}-turning"
        while name in self.paths:
            name += "-"
        return name

    def _wrong(self, keys: Keys, what: str) -> None:
        instead = (
            "Write `turns: {about: [12 m, 3 m], by: 70 deg, from: 180 deg}` and `body: {length: 1.1 m, "
            "width: 0.1 m}`."
        )
        values = {"where": f"{self.name} > {keys[-1]}", "what": what, "instead": instead}
        self._add("scenario.bad-value", keys, values)

    def _add(self, code: str, keys: Keys, values: dict[str, Any]) -> None:
        place = self.document.origin(keys)
        self.document.findings.append(Finding(code, "error", place, values))


def _along(value: Any, radius_m: float) -> Any:
    """Give data with degrees as lengths along the arc: `60 deg/s` as so many `m/s`."""
    if isinstance(value, dict):
        return {key: _along(one, radius_m) for key, one in value.items()}
    if isinstance(value, list):
        return [_along(one, radius_m) for one in value]
    match = IN_DEGREES.fullmatch(value.strip()) if isinstance(value, str) else None
    if match is None:
        return value
    unit = "m" + (match.group(3) or "")
    try:
        ends = [math.radians(float(one)) * radius_m for one in match.group(1, 2) if one]
    except ValueError:
        return value
    return _text(ends[0], unit) if len(ends) == 1 else f"{_number(ends[0])}..{_text(ends[1], unit)}"


def _text(value: float, unit: str) -> str:
    return f"{_number(value)} {unit}"


def _number(value: float) -> str:
    text = f"{value:.12f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
