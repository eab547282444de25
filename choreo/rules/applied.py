"""A scenario with the rules that it names: what it leaves out comes from them, and the answer says so.

Filled in are the tolerances of encounters, how far movers may be off for a run to count, how long a speed is steady
before the test, and the instant T0. What the author wrote stays.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path

from choreo.rules.asked import T0, band_of, encounter_tolerance, ends_of, steady_before
from choreo.rules.cast import Cast, cast_of, start_of_test
from choreo.rules.events import told_event
from choreo.rules.holding import findings_of
from choreo.rules.numbers import told, told_bounds
from choreo.rules.reading import family_of, rule_set
from choreo.rules.records import Band, RuleSet, SignalUnit
from choreo.scenario import Contact, Encounter, Event, Gap, Mover, Scenario, Tolerances
from choreo.words import ChoreoError, Finding
from choreo.words.records import dataclass


@dataclass(frozen=True)
class Rules:
    """The rules of a scenario: a set, and a family with who has which role of it."""

    set: RuleSet
    cast: Cast


def rules_of(scenario: Scenario) -> Rules | None:
    """Give the rules that a scenario names; None where it names none.

    Raises ChoreoError: no such set or family, faults of the set's file, rules.no-mover.
    """
    asked = scenario.rules
    if asked is None:
        return None
    chosen = rule_set(asked.set, Path(asked.folder), scenario.origin("rules", "set"))
    place = scenario.origin("rules", "family")
    family = family_of(chosen, asked.family, place)
    cast = cast_of(scenario, family)
    missing = [role for role in family.roles if role not in cast.movers]
    if missing:
        values = {"family": family.name, "role": missing[0], "set": chosen.name}
        raise ChoreoError([Finding("rules.no-mover", "error", place, values)])
    return Rules(chosen, cast)


def applied(scenario: Scenario) -> Scenario:
    """Give a scenario with what its rules say where it says nothing, and with what they find as notes.

    A scenario without rules, or one that has been through here, comes back as it is. Raises ChoreoError: as rules_of.
    """
    rules = rules_of(scenario)
    if rules is None or any(note.code.startswith("rules.") for note in scenario.notes):
        return scenario
    found = findings_of(rules.set, rules.cast)
    return _Filling(rules, scenario).filled(found)


class _Filling:
    def __init__(self, rules: Rules, scenario: Scenario) -> None:
        self.rules = rules
        self.cast = rules.cast
        self.family = rules.cast.family
        self.scenario = scenario
        self.told: list[str] = []

    def filled(self, found: tuple[Finding, ...]) -> Scenario:
        """Give the scenario with all that was left out."""
        scenario = self.scenario
        encounters = {name: self._encounter(name, one) for name, one in scenario.encounters.items()}
        instants = dict(scenario.instants)
        t0 = start_of_test(self.cast)
        if T0 not in self._names() and t0 is not None and self.family.t0 is not None:
            instants[T0] = t0
            # As long before the encounter by plan: until then somebody may still change speed.
            how = (
                ""
                if self.family.t0.value_s is None
                else ", counted back from the encounter by plan"
            )
            self.told.append(f"T0: {told_event(self.family.t0)}{how}")
        movers = {name: self._settled(name, one) for name, one in scenario.movers.items()}
        tolerances = {**scenario.tolerances, **self._tolerances(T0 in instants)}
        notes = [*scenario.notes, *found]
        if T0 not in instants and T0 not in self._names() and self.family.t0 is not None:
            lacking = {
                "family": self.family.name,
                "t0": told_event(self.family.t0),
                "set": self.rules.set.name,
            }
            notes.append(
                Finding("rules.no-start-of-test", "note", scenario.origin("rules"), lacking)
            )
        if self.told:
            values = {"set": self.rules.set.name, "what": "; ".join(self.told)}
            notes.append(Finding("rules.filled", "note", scenario.origin("rules"), values))
        return replace(
            scenario,
            encounters=encounters,
            instants=instants,
            movers=movers,
            tolerances=tolerances,
            notes=tuple(notes),
        )

    def _names(self) -> set[str]:
        scenario = self.scenario
        return {*scenario.encounters, *scenario.triggers, *scenario.instants}

    def _written(self, *keys: str | int) -> bool:
        return keys in self.scenario.places

    def _encounter(self, name: str, one: Encounter) -> Encounter:
        if self._written("encounters", name, "tolerance"):
            return one
        found = encounter_tolerance(self.cast, name, one)
        if found is None:
            return one
        tolerance, source = found
        unit: SignalUnit = "s" if isinstance(one, Gap) and one.measure != "distance" else "m"
        self.told.append(f"tolerance of {name} {told(tolerance, unit)} ({source.words})")
        if isinstance(one, Contact):
            return replace(one, tolerance_m=tolerance)
        return replace(one, tolerance=tolerance)

    def _settled(self, name: str, mover: Mover) -> Mover:
        found = steady_before(self.cast, name)
        if found is None:
            return mover
        index, lasting_s, source = found
        keys = ("movers", name, "programme", index, "hold", "settle")
        if self._written(*keys) or mover.programme[index].settle_s > 0:
            return mover
        phases = list(mover.programme)
        phases[index] = replace(phases[index], settle_s=lasting_s)
        self.told.append(f"settle of {name} {told(lasting_s, 's')} ({source.words})")
        return replace(mover, programme=tuple(phases))

    def _tolerances(self, has_t0: bool) -> Mapping[str, Tolerances]:
        """Speed and path of everybody that has a band of them, where the author gave no tolerances."""
        since = Event("instant", T0) if has_t0 else None
        made = {}
        for role, name in self.cast.movers.items():
            if name in self.scenario.tolerances:
                continue
            moves = bool(self.cast.of(role).programme)
            speed = band_of(self.cast, role, "speed") if moves else None
            path = band_of(self.cast, role, "lateral deviation") if moves else None
            if speed is None and path is None:
                continue
            made[name] = Tolerances(ends_of(speed), ends_of(path), None, since)
            self.told.append(f"{name} may be off: {', '.join(_words(speed, path))}")
        return made


def _words(speed: Band | None, path: Band | None) -> Iterator[str]:
    for word, band in (("speed", speed), ("path", path)):
        if band is not None:
            bounds = told_bounds(band.lower, band.upper, "m/s" if word == "speed" else "m")
            yield f"{word} {bounds} ({band.source.words})"
