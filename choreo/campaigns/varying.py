"""The scenario of a variant: named values put into its text, quantities of `choreo why` into its records."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from functools import cached_property

from choreo.case.settings import Setting, settings_of
from choreo.scenario import Scenario
from choreo.scenario.making.matrix import ELSE, kind_of_value
from choreo.scenario.records.matrix import Matrix
from choreo.scenario.sources import Source
from choreo.words import ChoreoError, Finding, Origin
from choreo.words.nearest import suggestion
from choreo.words.quantities import KINDS, parse, quoted
from choreo.words.records import dataclass


@dataclass(frozen=True)
class Varying:
    """A scenario's text and what is varied of it.

    places: of each varied name and each of its values, where it is written. files: all that the scenario is read
    from.
    """

    source: Source
    matrix: Matrix
    places: Mapping[tuple[str, str], Origin]
    files: tuple[str, ...]

    @cached_property
    def named(self) -> frozenset[str]:
        """The varied names that are named values of the text; all others are quantities."""
        return frozenset(self.matrix.lists) & frozenset(self.source.values)

    def scenario(self, values: Mapping[str, str]) -> Scenario:
        """Make the scenario in which the varied names have these values.

        Raises ChoreoError: what the values bring, with the places where they are written.
        """
        named = {name: text for name, text in values.items() if name in self.named}
        try:
            scenario = self.source.scenario(named)
        except ChoreoError as error:
            raise ChoreoError(self._told(error, values)) from None
        for name, text in values.items():
            if name not in self.named:
                scenario = self._put(scenario, name, text)
        return scenario

    def faults(self, scenario: Scenario) -> Iterator[Finding]:
        """Give the faults of names that are no quantity, and of values that are of another kind.

        scenario: as its author wrote it.
        """
        known = {one.name: one for one in settings_of(scenario)}
        for name, texts in self.matrix.lists.items():
            if name in self.source.values:
                if not scenario.uses.get(name):
                    what = f"`${quoted(name)}` is used nowhere in {quoted(self.source.file)}"
                    yield self._wrong(name, "", what, "Vary a value that is used.")
                continue
            if name not in known:
                names = dict.fromkeys((*self.source.values, *known))
                values = {
                    "what": "value or quantity",
                    "name": quoted(name),
                    "suggestion": f"{suggestion(name, names)} {ELSE}",
                }
                yield Finding("scenario.unknown-name", "error", self.place(name), values)
                continue
            place = scenario.origin(*known[name].keys)
            for value in self.named:
                if place in scenario.uses.get(value, ()):
                    what = f"`{quoted(name)}` is what `{quoted(value)}` says, which is varied too"
                    yield self._wrong(name, "", what, "Vary one of the two.")
            wanted = KINDS[known[name].kind]
            for text in texts:
                if kind_of_value(text) != wanted.name or ".." in text:
                    what = f"`{quoted(text)}` is not {wanted.a}"
                    instead = f"Write {wanted.a}, like `{wanted.example}`."
                    yield self._wrong(name, text, what, instead)

    def impossible(self, values: Mapping[str, str], faults: Iterable[Finding]) -> Iterator[Finding]:
        """Give faults that values bring as faults of the place where the first of them is written."""
        name, text = next(iter(values.items()))
        place = self.place(name, text)
        own = {self.place(*one) for one in values.items()}
        meant = ", ".join(f"{quoted(name)}: {quoted(text)}" for name, text in values.items())
        for one in faults:
            places = dict.fromkeys(
                (*own, *(() if one.origin is None else (one.origin,)), *one.related)
            )
            told = {"values": meant, "what": one.text, "instead": one.advice}
            related = tuple(at for at in places if at != place)
            yield Finding("campaign.impossible-value", "error", place, told, related)

    def place(self, name: str, text: str = "") -> Origin:
        """Give the place where a varied name, or one of its values, is written."""
        return self.places.get((name, text)) or self.places[(name, "")]

    def _put(self, scenario: Scenario, name: str, text: str) -> Scenario:
        """The scenario with a quantity set, within what it can be."""
        setting = next((one for one in settings_of(scenario) if one.name == name), None)
        if setting is None:
            what = f"there is no `{quoted(name)}` with these values"
            raise ChoreoError((self._wrong(name, text, what, "Vary it in a run of its own."),))
        value = parse(text, setting.kind)
        if not setting.low <= value <= setting.high:
            raise ChoreoError((self._beyond(scenario, setting, text, value),))
        return setting.put(scenario, value)

    def _beyond(self, scenario: Scenario, setting: Setting, text: str, value: float) -> Finding:
        """The fault of a value that a setting can't have; beside it where that stands."""
        unit, factor = setting.unit, setting.factor
        low, high = (f"{end * factor:.4g} {unit}" for end in (setting.low, setting.high))
        beyond = f"more than {high}, its limit" if value > setting.high else f"less than {low}"
        what, at = f"`{quoted(text)}` is {beyond}", scenario.origin(*setting.keys)
        return self._wrong(setting.name, text, what, "Write another value.", (at,))

    def _wrong(
        self, name: str, text: str, what: str, instead: str, related: tuple[Origin, ...] = ()
    ) -> Finding:
        values = {"where": quoted(name), "what": what, "instead": instead}
        return Finding("scenario.bad-value", "error", self.place(name, text), values, related)

    def _told(self, error: ChoreoError, values: Mapping[str, str]) -> list[Finding]:
        """The findings of a variant, each with the places of the values that it was made with."""
        places = tuple(self.place(name, text) for name, text in values.items())
        return [
            Finding(one.code, one.severity, one.origin, one.values, (*one.related, *places))
            for one in error.findings
        ]
