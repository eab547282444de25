"""Polygons of a GeoJSON file (RFC 7946) -> EarthPolygon, every fault at its line."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

from choreo.scenario.making.companions import named_at
from choreo.scenario.making.draft import Draft
from choreo.scenario.records.site import EarthPolygon, Ring
from choreo.scenario.text.document import MOST_FAULTS, Document, Keys, read_text
from choreo.scenario.text.json_places import parse_json
from choreo.words import ChoreoError, Finding
from choreo.words.kinds import GROUND_USES, GroundUse, Severity
from choreo.words.nearest import nearest_word, suggestion
from choreo.words.quantities import LONGEST_TOKEN, quoted

PROPERTIES = ("name", "use", "friction", "grade_percent", "uphill_bearing_deg")
GEOMETRIES = ("Polygon", "MultiPolygon")
# Largest longitude and latitude, in degrees.
MOST_DEG = (180.0, 90.0)
AXES = ("longitude", "latitude")
# Names that systems of RFC 7946 (longitude and latitude in WGS 84) go by in files older than it.
WGS84 = ("CRS84", "EPSG::4326", "EPSG:4326")
# What a polygon without a feature is called in messages.
NO_NAME = "a polygon"
EXPORT = "Export polygons as GeoJSON (RFC 7946): a FeatureCollection of Polygon or MultiPolygon."
# A triangle that repeats its first corner (RFC 7946, section 3.1.6).
LEAST_POSITIONS = 4
# Longitude, latitude and what some tools add: height, and a measure along a line.
MOST_NUMBERS = 4
# Far above anything that a site has; integers beyond what a float can hold are refused with it.
MOST_NUMBER = 1e12
# Files of other tools carry tables of properties: of more than this many nobody wants notes.
MOST_PROPERTIES = 50
# More than a site may have: the rest needs no reading.
MOST_CORNERS = 5000


def earth_polygons_of(draft: Draft, file: Path, keys: Keys) -> tuple[EarthPolygon, ...]:
    """Read the polygons of a file; keys: where it is named. Faults go to draft."""
    asked = draft.document.origin(keys)
    try:
        text = read_text(file, asked)
        draft.files.append(str(file))
        document = parse_json(text, str(file), quoted(file.name))
    except ChoreoError as error:
        draft.findings += named_at(asked, error.findings)
        return ()
    before = len(draft.findings)
    reading = _Reading(draft, document, file)
    reading.root()
    draft.findings[before:] = named_at(asked, draft.findings[before:])
    return tuple(reading.polygons)


class _Reading:
    def __init__(self, draft: Draft, document: Document, file: Path) -> None:
        self.draft = draft
        self.document = document
        self.file = file
        self.polygons: list[EarthPolygon] = []
        self.corners = 0
        self.unused: set[str] = set()
        self.taken: dict[str, int] = {}
        for section in ("areas", "obstacles"):
            self.taken |= dict.fromkeys(draft.document.names(section), 1)

    def root(self) -> None:
        """Take the file's collection, feature or geometry in."""
        data = self.document.data
        if not isinstance(data, dict):
            self._fault((), self._file, "it is not a GeoJSON object", EXPORT)
            return
        self._other_system(data)
        kind = data.get("type")
        if kind == "FeatureCollection":
            features = data.get("features")
            if not isinstance(features, list) or not features:
                self._fault((), self._file, "it has no list of `features`", EXPORT)
                return
            for index, feature in enumerate(features):
                if self.corners > MOST_CORNERS or len(self.draft.findings) > MOST_FAULTS:
                    return
                self._feature(("features", index), feature, f"feature no. {index + 1}")
        elif kind == "Feature":
            self._feature((), data, "feature no. 1")
        elif kind in GEOMETRIES:
            self._geometry((), data, {}, NO_NAME)
        else:
            self._fault(("type",), self._file, f"its type is {_shown(kind)}", EXPORT)

    @property
    def _file(self) -> str:
        return quoted(self.file.name)

    def _fault(self, keys: Keys, what: str, why: str, instead: str) -> None:
        self._add("site.bad-geojson", keys, what=what, why=why, instead=instead)

    def _add(
        self, code: str, keys: Keys, severity: Severity = "error", **values: str | float
    ) -> None:
        origin = self.document.origin(keys)
        self.draft.findings.append(Finding(code, severity, origin, values, ()))

    def _other_system(self, data: dict[str, Any]) -> None:
        """Before RFC 7946 a file could name a system of coordinates; only the one that became the rule is read."""
        system = data.get("crs")
        if system is None:
            return
        inner = system.get("properties") if isinstance(system, dict) else None
        name = inner.get("name") if isinstance(inner, dict) else None
        if not (isinstance(name, str) and name.endswith(WGS84)):
            why = f"its system of coordinates is {_shown(name)}"
            self._fault(("crs",), self._file, why, "Export in longitude and latitude (WGS 84).")

    def _feature(self, keys: Keys, feature: Any, what: str) -> None:
        if not isinstance(feature, dict) or feature.get("type") != "Feature":
            kind = feature.get("type") if isinstance(feature, dict) else feature
            self._fault(keys, what, f"its type is {_shown(kind)}, not `Feature`", EXPORT)
            return
        properties = feature.get("properties")
        if properties is None:
            properties = {}
        if not isinstance(properties, dict):
            self._fault((*keys, "properties"), what, "its properties are no object", EXPORT)
            return
        geometry = feature.get("geometry")
        if not isinstance(geometry, dict):
            self._fault(keys, what, "it has no geometry", "Leave it out of the export.")
            return
        self._geometry((*keys, "geometry"), geometry, properties, what, (*keys, "properties"))

    def _geometry(
        self,
        keys: Keys,
        geometry: dict[str, Any],
        properties: dict[str, Any],
        what: str,
        properties_at: Keys = (),
    ) -> None:
        kind, coordinates = geometry.get("type"), geometry.get("coordinates")
        if kind not in GEOMETRIES:
            advice = "Export ground and obstacles as Polygon or MultiPolygon only."
            self._fault((*keys, "type"), what, f"its geometry is {_shown(kind)}", advice)
            return
        name = self._name(properties, what, properties_at)
        use = self._use(properties, what, properties_at)
        friction = self._number(properties, "friction", what, properties_at)
        grade_percent = self._number(properties, "grade_percent", what, properties_at) or 0.0
        uphill_deg = self._number(properties, "uphill_bearing_deg", what, properties_at)
        if grade_percent and properties.get("uphill_bearing_deg") is None:
            why = "it has `grade_percent` without `uphill_bearing_deg`"
            advice = "Add the compass bearing in which the ground rises, like `90`."
            self._fault(properties_at, what, why, advice)
        self._doubtful(properties, what, properties_at)
        self._misspelt(properties, what, properties_at)
        parts = [coordinates] if kind == "Polygon" else coordinates
        if not isinstance(parts, list) or not parts:
            self._fault((*keys, "coordinates"), what, "it has no coordinates", EXPORT)
            return
        for index, part in enumerate(parts):
            at: Keys = (*keys, "coordinates", *(() if kind == "Polygon" else (index,)))
            rings = self._rings(at, part, what)
            if rings:
                self.corners += sum(len(ring) for ring in rings)
                self.polygons.append(
                    EarthPolygon(
                        self._free(name),
                        use,
                        rings,
                        friction,
                        grade_percent / 100,
                        uphill_deg or 0.0,
                        self.document.origin(keys[:-1] or keys),
                    )
                )

    def _name(self, properties: dict[str, Any], what: str, keys: Keys) -> str:
        name = properties.get("name")
        if name is None:
            return what.replace("feature no. ", f"{quoted(self.file.stem)}-")
        if not isinstance(name, str) or not name.strip():
            why = f"its name is {_shown(name)}"
            self._fault((*keys, "name"), what, why, "Write the name as text.")
            return what
        return quoted(" ".join(name.split()))

    def _free(self, name: str) -> str:
        """The name, or the first of `name-2`, `name-3`, ... that is free: parts often share one."""
        free = name
        while free in self.taken:
            self.taken[name] += 1
            free = f"{name}-{self.taken[name]}"
        self.taken[free] = 1
        return free

    def _use(self, properties: dict[str, Any], what: str, keys: Keys) -> GroundUse:
        """Without the property a polygon is drivable; what is written must be one of the two, null is neither."""
        written = properties.get("use", "drivable")
        for use in GROUND_USES:
            if written == use:
                return use
        near = "" if written is None else f" {suggestion(str(written), GROUND_USES)}"
        advice = f"Write `drivable` or `obstacle`.{near}"
        shown = "empty (null)" if written is None else _shown(written)
        self._fault((*keys, "use"), what, f"its use is {shown}", advice)
        return "obstacle"

    def _number(self, properties: dict[str, Any], key: str, what: str, keys: Keys) -> float | None:
        value = properties.get(key)
        if value is None:
            return None
        if not _is_number(value):
            advice = "Write a plain number without quotes."
            self._fault((*keys, key), what, f"its `{key}` is {_shown(value)}", advice)
            return None
        return float(value)

    def _doubtful(self, properties: dict[str, Any], what: str, keys: Keys) -> None:
        """An obstacle must not become ground by the way it is written, nor a surface be lost."""
        for key, value in properties.items():
            right = key.strip().casefold()
            if key not in PROPERTIES and right in PROPERTIES:
                if right in properties and properties[right] == value:
                    continue
                why = f"its property `{quoted(key)}` is written `{right}` here"
                advice = f"Write `{right}`, once: properties in other case are not read."
                self._fault((*keys, key), what, why, advice)
            elif key != "use" and _says_obstacle(value) and properties.get("use") != "obstacle":
                if key == "name" and "use" in properties:
                    continue
                why = f"its property `{quoted(key)}` is {_shown(value)}, its use is not"
                advice = "Write `use: obstacle`; without it, a polygon is drivable."
                self._fault((*keys, key), what, why, advice)

    def _misspelt(self, properties: dict[str, Any], what: str, keys: Keys) -> None:
        """Files carry properties of other tools; only one that looks like one of ours is worth a word."""
        unused = [key for key in PROPERTIES if key not in properties]
        for key in list(properties)[:MOST_PROPERTIES]:
            if key in self.unused or len(self.unused) > MOST_PROPERTIES:
                continue
            self.unused.add(key)
            known = key.strip().casefold() in PROPERTIES  # in other case it is a fault
            near = None if known else nearest_word(key, unused)
            if near is not None:
                self._add(
                    "site.unused-property",
                    (*keys, key),
                    "note",
                    what=what,
                    key=quoted(key),
                    near=near,
                )

    def _rings(self, keys: Keys, part: Any, what: str) -> tuple[Ring, ...]:
        if not isinstance(part, list) or not part:
            self._fault(keys, what, "its coordinates are not a list of rings", EXPORT)
            return ()
        rings = [self._ring((*keys, index), ring, what, index) for index, ring in enumerate(part)]
        return tuple(rings) if all(rings) else ()

    def _ring(self, keys: Keys, ring: Any, what: str, index: int) -> Ring:
        where = f"ring no. {index + 1} of {what}"
        if not isinstance(ring, list) or len(ring) < LEAST_POSITIONS:
            why = "it has fewer than four positions (the last one repeats the first)"
            self._fault(keys, where, why, EXPORT)
            return ()
        points: list[tuple[float, float]] = []
        for number, position in enumerate(ring):
            if (
                not isinstance(position, list)
                or not 2 <= len(position) <= MOST_NUMBERS
                or not all(_is_number(one) for one in position)
            ):
                why = f"its position no. {number + 1} is not a pair of numbers"
                advice = "Write each position as [longitude, latitude]."
                self._fault((*keys, number), where, why, advice)
                return ()
            points.append((float(position[0]), float(position[1])))
        for number, point in enumerate(points):
            for axis, value, most in zip(AXES, point, MOST_DEG, strict=True):
                if abs(value) > most:
                    at: Keys = (*keys, number)
                    shown = f"{value:.12g}"
                    self._add(
                        "site.not-degrees", at, what=f"{where}: {axis}", value=shown, most=most
                    )
                    return ()
        if points[0] != points[-1]:
            why = "it is open: its last position is not its first"
            self._fault(keys, where, why, "Repeat the first position at the end.")
            return ()
        return tuple(points[:-1])


def _is_number(value: Any) -> bool:
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return False
    # An integer may be too large for a float.
    return abs(value) <= MOST_NUMBER and math.isfinite(value)


def _says_obstacle(value: Any) -> bool:
    return isinstance(value, str) and value.strip().casefold() == "obstacle"


def _shown(value: Any) -> str:
    """A value of the file in a message."""
    if value is None:
        return "missing"
    if isinstance(value, (dict, list)):
        return "a list" if isinstance(value, list) else "an object"
    return f"`{quoted(str(value), LONGEST_TOKEN)}`"
