"""Whether two surveys of a plan's room say the same, whichever versions of libraries made them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from typing import Any

import shapely

from choreo.plans.message import Message
from choreo.plans.room_record import KeepOut, PairClearance, SpacePlan

# By the unit at the end of a field's name. Clearances and stops are bounded to a millimetre, instants found to one
# millisecond, each time from its own side; shares and rates come out of closed forms.
TOLERANCES: Mapping[str, float] = {"_m": 2e-3, "_s": 2e-3, "_m2": 1e-2}
OTHERWISE = 1e-6
# Times in lists that have no unit in their name.
TIMES = frozenset({"windows", "episodes"})
# Zones are unions of hulls: two of them cover the same but for this share of their area.
ZONE_SHARE = 1e-3
# Where and when a least or a longest is reached: along a straight edge or in a steady gap any place of many.
ANY_OF_MANY: Mapping[str, frozenset[str]] = {
    "PairClearance": frozenset({"time_s", "x_m", "y_m"}),
    "FailsafeStop": frozenset({"longest_at_s"}),
    "SiteFit": frozenset({"x_m", "y_m"}),
}


def other_parts(one: SpacePlan, other: SpacePlan) -> list[str]:
    """Name the parts of two surveys that differ; what is not modelled is the version's to say, not the plan's."""
    parts = [part.name for part in fields(SpacePlan) if part.name != "not_modelled"]
    return [part for part in parts if not same(getattr(one, part), getattr(other, part), part)]


def same(one: Any, other: Any, name: str = "") -> bool:
    """Say whether two records, lists or values agree within the tolerances. name: of the field that they are in."""
    match one:
        case bool() | str() | None:
            return type(one) is type(other) and one == other
        case int() | float():
            return _same_number(one, other, name)
        case dict():
            return (
                isinstance(other, dict)
                and one.keys() == other.keys()
                and all(same(value, other[key], name) for key, value in one.items())
            )
        case tuple() if name == "clearances":
            return same(_by_pair(one), _by_pair(other))
        case tuple():
            return len(one) == len(other) and all(
                same(a, b, name) for a, b in zip(one, other, strict=True)
            )
        case KeepOut():
            return isinstance(other, KeepOut) and _same_zone(one, other)
        case Message():
            # Their words hold rounded figures, and a place as it was named then.
            return isinstance(other, Message) and one.code == other.code
    if not is_dataclass(one) or type(one) is not type(other):
        return False
    skipped = ANY_OF_MANY.get(type(one).__name__, frozenset())
    if isinstance(one, PairClearance) and one.meets_s is not None:
        skipped = frozenset()
    return all(
        same(getattr(one, part.name), getattr(other, part.name), part.name)
        for part in fields(one)
        if part.name not in skipped
    )


def _same_number(one: float, other: Any, name: str) -> bool:
    if not isinstance(other, (int, float)) or isinstance(other, bool):
        return False
    if name in TIMES:
        return math.isclose(one, other, rel_tol=0.0, abs_tol=TOLERANCES["_s"])
    unit = next((unit for unit in TOLERANCES if name.endswith(unit)), "")
    share = ZONE_SHARE if unit == "_m2" else 1e-9
    return math.isclose(one, other, rel_tol=share, abs_tol=TOLERANCES.get(unit, OTHERWISE))


def _by_pair(pairs: tuple[PairClearance, ...]) -> dict[tuple[str, str], PairClearance]:
    """Clearances stand in the order of their size, which rounding may turn."""
    return {(pair.a, pair.b): pair for pair in pairs}


def _same_zone(one: KeepOut, other: KeepOut) -> bool:
    numbers = [part.name for part in fields(KeepOut) if part.name != "polygons"]
    if not all(same(getattr(one, part), getattr(other, part), part) for part in numbers):
        return False
    first, second = (
        shapely.unary_union([shapely.Polygon(rings[0], rings[1:]) for rings in zone.polygons])
        for zone in (one, other)
    )
    apart_m2 = float(first.symmetric_difference(second).area)
    return apart_m2 <= max(ZONE_SHARE * one.area_m2, TOLERANCES["_m2"])
