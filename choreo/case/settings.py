"""What a scenario's `vary:` or a campaign may name: its quantities, and where on a body its contacts lie."""

from __future__ import annotations

import math
from collections.abc import Iterator

from choreo.case.quantities import quantities_of
from choreo.case.quantity import Keys, Set
from choreo.scenario import Contact, Scenario
from choreo.scenario.making.encounters import LEAST_SHARE, MOST_SHARE, contact_at
from choreo.scenario.records.edits import with_encounter
from choreo.words import ChoreoError, Finding
from choreo.words.display import WRITTEN_IN
from choreo.words.kinds import ContactWay
from choreo.words.nearest import suggestion
from choreo.words.quantities import quoted
from choreo.words.records import dataclass
from choreo.words.units import UNITS, QuantityKind


@dataclass(frozen=True)
class Setting:
    """A number by name. unit, factor: as it is told, and how many of those one of SI is. keys: where it is written.

    low, high: in SI, how far it may go. put: gives a scenario in which it has another value.
    """

    name: str
    kind: QuantityKind
    unit: str
    factor: float
    keys: Keys
    low: float
    high: float
    put: Set


def settings_of(scenario: Scenario) -> list[Setting]:
    """Give all that can be varied by a name of its own, in the author's order, contacts last."""
    found = []
    for one in quantities_of(scenario):
        high = one.high if one.capped else math.inf
        kind, told = UNITS[one.unit].kind, WRITTEN_IN[one.unit]
        found.append(Setting(one.name, kind, *told, one.keys, one.low, high, one.put))
    return [*found, *_impacts(scenario)]


def _impacts(scenario: Scenario) -> Iterator[Setting]:
    """Where contacts lie. Nobody would negotiate that, but a matrix varies it."""
    for name, one in scenario.encounters.items():
        if not isinstance(one, Contact):
            continue
        way: ContactWay = "offset"
        if one.overlap is not None:
            way = "overlap"
        elif one.face == "side":
            way = "side"

        def put(
            scenario: Scenario, value: float, name: str = name, way: ContactWay = way
        ) -> Scenario:
            old = scenario.encounters[name]
            if not isinstance(old, Contact):
                return scenario
            return with_encounter(
                scenario, name, contact_at(old, scenario.movers[old.of].body, way, value)
            )

        keys: Keys = ("encounters", name, way)
        if way == "offset":
            yield Setting(f"{name} {way}", "length", "m", 1.0, keys, -math.inf, math.inf, put)
        else:
            yield Setting(f"{name} {way}", "ratio", "%", 100.0, keys, LEAST_SHARE, MOST_SHARE, put)


def check_kept(scenario: Scenario) -> None:
    """Refuse names under keep:, cheap: or vary: that nothing has. Raises ChoreoError: scenario.unknown-name."""
    varied: list[tuple[str, str | int, str]] = [
        (section, name, name)
        for section, lists in (
            ("vary", scenario.matrix.vary),
            ("together", scenario.matrix.together),
        )
        for name in lists
        if name not in scenario.values
    ]
    if not scenario.keep and not scenario.cheap and not varied:
        return
    quantities = [name for one in quantities_of(scenario) for name in one.names]
    known = {"keep": quantities, "cheap": quantities}
    more = [*quantities, *(one.name for one in _impacts(scenario))]
    wanted = [
        *(("keep", index, name) for index, name in enumerate(scenario.keep)),
        *(("cheap", index, name) for index, name in enumerate(scenario.cheap)),
        *varied,
    ]
    faults = [
        Finding(
            "scenario.unknown-name",
            "error",
            scenario.origin(key, index),
            {
                "what": "quantity",
                "name": quoted(name),
                "suggestion": suggestion(name, known.get(key, more)),
            },
        )
        for key, index, name in wanted
        if name not in known.get(key, more)
    ]
    if faults:
        raise ChoreoError(faults)
