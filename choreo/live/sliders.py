"""What may be moved on a live page: quantities of `choreo why` and named values, how far, in which steps."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from functools import partial
from pathlib import Path

from choreo.case import Case, Quantity
from choreo.live.slider import MOST_SLIDERS, Slider
from choreo.repair import Change, negotiable
from choreo.scenario import Scenario
from choreo.scenario.making.matrix import kind_of_value
from choreo.scenario.sources import Source
from choreo.words import ChoreoError, Finding, Origin
from choreo.words.display import WRITTEN_IN
from choreo.words.kinds import Unit
from choreo.words.nearest import suggestion
from choreo.words.quantities import QuantityError, parse, parse_range, quoted
from choreo.words.records import dataclass
from choreo.words.units import UNITS, QuantityKind

UNIT_OF_KIND: Mapping[QuantityKind | None, Unit] = {
    "length": "m",
    "time": "s",
    "speed": "m/s",
    "acceleration": "m/s2",
    "jerk": "m/s3",
}
# Where nobody says how far, a slider goes this share of its value to either side, in about so many steps.
REACH = 0.5
STEPS = 100


@dataclass(frozen=True)
class Movable:
    """One thing that may be moved, and its slider.

    source: of the text, where it is a named value: its scenario is made of the text with another value.
    """

    quantity: Quantity
    slider: Slider
    source: Source | None

    def change(self, shown: float) -> Change:
        """Give the change to what its slider shows."""
        return Change(self.quantity, shown / WRITTEN_IN[self.quantity.unit][1])


def movables(
    case: Case, source: Source, file: Path, asked: Sequence[str]
) -> tuple[dict[str, Movable], dict[str, Movable]]:
    """Give what the author picked, under `vary` and by `asked`, then all that may be picked, each by name.

    asked: NAME or NAME=LOW..HIGH UNIT each. Raises ChoreoError: of an asked one scenario.unknown-name or
    scenario.bad-value.
    """
    known = _quantities(case, source)
    make = partial(_movable, source, case.scenario)
    offered = {name: make(known[name]) for name in _offered(case, known)}
    picked = {}
    for name, texts in case.scenario.matrix.lists.items():
        if name in known:
            picked[name] = make(known[name], _ends(texts))
    for text in asked:
        name, equals, span = (part.strip() for part in text.partition("="))
        if name not in known:
            raise _unknown(name, known, file)
        picked[name] = make(known[name], _span(span, known[name], file) if equals else None)
    by_place = {one.slider.place: name for name, one in reversed(picked.items())}
    picked = {name: one for name, one in picked.items() if by_place[one.slider.place] == name}
    return dict(list(picked.items())[:MOST_SLIDERS]), {**offered, **picked}


def varied(scenario: Scenario, changes: Iterable[tuple[Movable, float]]) -> Scenario:
    """Give the scenario with other values (in SI) for some quantities. Raises ChoreoError: faults that they bring."""
    named: dict[str, str] = {}
    source: Source | None = None
    others = []
    for one, value in changes:
        if one.source is None:
            others.append((one.quantity, value))
        else:
            source = one.source
            # To the last digit: what is read again is what was asked.
            named[one.quantity.name] = f"{value!r} {one.quantity.unit}"
    if source is not None:
        scenario = source.scenario(named)
    for quantity, value in others:
        scenario = quantity.put(scenario, value)
    return scenario


def _quantities(case: Case, source: Source) -> dict[str, Quantity]:
    """All that has a number and a unit, by name; parts of a named value by names of their own too."""
    named = {name: one for one in case.quantities for name in one.names}
    known = {name: one for name, one in named.items() if math.isfinite(one.value)}
    for name, text in source.values.items():
        unit = UNIT_OF_KIND.get(kind_of_value(text))
        if name not in known and unit is not None and case.scenario.uses.get(name):
            try:
                value = parse(text, UNITS[unit].kind)
            except QuantityError:
                continue
            known[name] = Quantity(
                name, unit, value, (1, -1), -math.inf, math.inf, ("values", name), "", _never
            )
    return known


def _never(_scenario: Scenario, _value: float) -> Scenario:
    raise AssertionError("a named value is put into the text")


def _offered(case: Case, known: Mapping[str, Quantity]) -> list[str]:
    free = [one.name for one in negotiable(case) if one.name in known]
    values = [name for name, one in known.items() if one.keys[0] == "values" and name == one.name]
    return list(dict.fromkeys([*values, *free]))


def _movable(
    source: Source,
    scenario: Scenario,
    quantity: Quantity,
    span: tuple[float, float] | None = None,
) -> Movable:
    """span: from where to where in SI, as somebody asked."""
    unit, factor = WRITTEN_IN[quantity.unit]
    value, reach = quantity.value, REACH * quantity.size
    low, high = span or (value - reach, value + reach)
    if span is None and value >= 0:
        low = max(low, 0.0)
    low, high = max(low, quantity.low), min(high, quantity.high)
    step = _nice((high - low) * factor / STEPS)
    least = math.ceil(min(low - value, 0.0) * factor / step - 1e-9)
    most = math.floor(max(high - value, 0.0) * factor / step + 1e-9)
    of_text = quantity.keys[0] == "values"
    uses = set(scenario.uses.get(quantity.name, ())) if of_text else set()
    place = uses.pop() if len(uses) == 1 else scenario.origin(*quantity.keys)
    where = f"{place} {quantity.end}{' start' if quantity.moves_start else ''}"
    slider = Slider(quantity.name, unit, _plain(value * factor), step, least, most, where)
    return Movable(quantity, slider, source if of_text else None)


def _nice(least: float) -> float:
    """The next of 1, 2, 5 times a power of ten."""
    if least <= 0 or not math.isfinite(least):
        return 0.01
    power = 10.0 ** math.floor(math.log10(least))
    return next(_plain(f * power) for f in (1, 2, 5, 10) if f * power >= least * 0.999)


def _plain(value: float) -> float:
    """Without the digits that only arithmetic has put there."""
    return float(f"{value:.9g}") if math.isfinite(value) else value


def _ends(texts: Sequence[str]) -> tuple[float, float] | None:
    """The least and most of the values that are varied."""
    try:
        values = [parse(text, kind) for text in texts if (kind := kind_of_value(text)) is not None]
    except QuantityError:
        return None
    return (min(values), max(values)) if len(values) > 1 else None


def _span(text: str, quantity: Quantity, file: Path) -> tuple[float, float]:
    wrong, instead = f"`{quoted(text)}` is not a range", "Write LOW..HIGH UNIT."
    try:
        low, high = parse_range(text, UNITS[quantity.unit].kind, free=False)
    except QuantityError as error:
        low, high, wrong, instead = 0.0, 0.0, error.wrong, error.instead
    if low >= high:
        values = {"where": "--slider", "what": wrong, "instead": instead}
        raise ChoreoError(
            (Finding("scenario.bad-value", "error", Origin(str(file), 1, 1), values),)
        )
    return low, high


def _unknown(name: str, known: Iterable[str], file: Path) -> ChoreoError:
    values = {
        "what": "quantity",
        "name": quoted(name),
        "suggestion": suggestion(name, list(known)),
    }
    return ChoreoError(
        (Finding("scenario.unknown-name", "error", Origin(str(file), 1, 1), values),)
    )
