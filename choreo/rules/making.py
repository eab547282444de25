"""A rule set as written -> records; faults go to a draft, each at its place."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from itertools import pairwise
from typing import Any, TypeVar

from choreo.rules import written as w
from choreo.rules.events import event_of
from choreo.rules.numbers import Bounds, bounds_of, number_of
from choreo.rules.records import (
    QUANTITIES,
    SIGNALS,
    Band,
    BetweenRuns,
    CampaignRule,
    Condition,
    EventRef,
    Filter,
    Grid,
    ImpactSpeeds,
    Instant,
    Onset,
    Reference,
    ReferenceName,
    Rule,
    Settle,
    Shape,
    Signal,
    SignalUnit,
    Source,
    Status,
    Window,
)
from choreo.scenario.making.draft import Draft
from choreo.scenario.making.matrix import matrix_of
from choreo.scenario.text.document import Keys
from choreo.words.quantities import QuantityError
from choreo.words.records import dataclass

Written = TypeVar("Written")
NAMED: Mapping[str, ReferenceName] = {
    "planned": "planned",
    "path": "path",
    "lead path": "lead path",
    "braking profile": "braking profile",
}
# What bounds of a signal count from where nothing is written; of all others from zero.
USUAL: Mapping[Signal, ReferenceName] = {
    "speed": "planned",
    "relative speed": "planned",
    "distance": "planned",
    "impact location": "planned",
    "impact offset": "planned",
    "start distance": "planned",
    "lateral deviation": "path",
    "heading": "path",
    "path error": "planned",
}
FAULTY = EventRef("T0")


@dataclass(frozen=True)
class Making:
    """Makes the rules of one file. inherited: sources of what comes from the set built on, by section and id."""

    draft: Draft
    document: str
    version: str
    status: Status
    inherited: Mapping[tuple[str, str], Source]

    def rules(self, file: w.RulesWritten) -> dict[str, Rule]:
        """Give all rules by id; an id stands for one rule whatever its section."""
        found: dict[str, Rule] = {}
        filters = {
            name: Filter(one.poles, one.cut_off, one.phaseless)
            for name, one in file.filters.items()
        }
        sections: tuple[tuple[str, Mapping[str, Any], Callable[..., Rule]], ...] = (
            ("windows", file.windows, self._window),
            ("bands", file.bands, partial(self._band, file=file, filters=filters)),
            ("instants", file.instants, partial(self._instant, file=file)),
            ("settles", file.settles, partial(self._settle, file=file)),
            ("shapes", file.shapes, self._shape),
            ("between runs", file.between_runs, self._between_runs),
            ("conditions", file.conditions, self._condition),
            ("campaign", file.campaign, self._campaign),
            ("onsets", file.onsets, partial(self._onset, filters=filters)),
        )
        for section, written, make in sections:
            for name, one in written.items():
                if name in found:
                    self.draft.fault("rules.same-id", (section, name), rule=name)
                found[name] = make((section, name), name, one)
        return found

    def grids(self, family: str, written: w.FamilyWritten) -> tuple[Grid, ...]:
        """Give a family's published matrix; its names are free."""
        grids = []
        for name, one in written.matrix.items():
            keys: Keys = ("families", family, "matrix", name)
            matrix = matrix_of(self.draft, keys, one, None)
            source = Source(
                self.document, self.version, one.clause, one.status or self.status, one.note
            )
            grids.append(Grid(name, matrix.vary, matrix.together, source))
        return tuple(grids)

    def impact(self, family: str, written: w.FamilyWritten) -> ImpactSpeeds | None:
        """Give a family's allowed impact speeds; None where it has none."""
        one = written.impact_speeds
        if one is None:
            return None
        keys: Keys = ("families", family, "impact speeds")
        speeds = self._speeds((*keys, "speeds"), one.speeds, one.unit)
        if any(b <= a for a, b in pairwise(speeds)):
            self._wrong((*keys, "speeds"), "the speeds don't rise", "Write the slowest first.")
        found = {}
        for name, values in one.at_most.items():
            found[name] = self._speeds((*keys, "at most", name), values, one.unit)
            if len(values) != len(speeds):
                what = f"{len(values)} impact speeds for {len(speeds)} speeds"
                self._wrong((*keys, "at most", name), what, "Write one for each.")
        source = Source(
            self.document,
            one.version or self.version,
            one.clause,
            one.status or self.status,
            one.note,
        )
        return ImpactSpeeds(one.of, speeds, found, source)

    def _speeds(self, keys: Keys, texts: tuple[str, ...], unit: str) -> tuple[float, ...]:
        read = [self._read(keys, partial(number_of, f"{text} {unit}", "m/s")) for text in texts]
        return tuple(0.0 if one is None else one for one in read)

    def event(self, keys: Keys, text: str) -> EventRef:
        """Read a moment; a fault where it is none."""
        return self._read(keys, lambda: event_of(text)) or FAULTY

    def _window(self, keys: Keys, name: str, one: w.WindowWritten) -> Window:
        ends = tuple(self.event((*keys, "ends"), text) for text in one.ends)
        return Window(
            name, self.event((*keys, "starts"), one.starts), ends, self._source(keys, one)
        )

    def _band(
        self,
        keys: Keys,
        name: str,
        one: w.BandWritten,
        file: w.RulesWritten,
        filters: Mapping[str, Filter],
    ) -> Band:
        if one.window not in file.windows:
            self.draft.unknown((*keys, "window"), "window", one.window, file.windows)
        bounds = self._bounds((*keys, "within"), one.within, SIGNALS[one.signal].unit)
        return Band(
            name,
            one.window,
            one.of,
            one.signal,
            self._reference((*keys, "about"), one.signal, one.about),
            bounds.lower,
            bounds.upper,
            self._filter(keys, one.filter, filters),
            self._source(keys, one),
        )

    def _instant(
        self, keys: Keys, name: str, one: w.InstantRuleWritten, file: w.RulesWritten
    ) -> Instant:
        if one.or_else is not None and (one.or_else not in file.instants or one.or_else == name):
            others = [other for other in file.instants if other != name]
            self.draft.unknown((*keys, "or else"), "instant", one.or_else, others)
        bounds = self._bounds((*keys, "within"), one.within, SIGNALS[one.signal].unit)
        return Instant(
            name,
            self.event((*keys, "at"), one.at),
            one.of,
            one.signal,
            self._reference((*keys, "about"), one.signal, one.about),
            bounds.lower,
            bounds.upper,
            self._source(keys, one),
            one.or_else or "",
        )

    def _settle(self, keys: Keys, name: str, one: w.SettleWritten, file: w.RulesWritten) -> Settle:
        for band in one.bands:
            if band not in file.bands:
                self.draft.unknown((*keys, "bands"), "band", band, file.bands)
        before = self.event((*keys, "before"), one.before)
        return Settle(name, before, one.lasting, one.bands, self._source(keys, one))

    def _shape(self, keys: Keys, name: str, one: w.ShapeWritten) -> Shape:
        level = Bounds(None, None)
        if one.reaches != "planned":
            level = self._bounds((*keys, "reaches"), one.reaches, SIGNALS[one.signal].unit)
        holds = one.holds or one.signal
        band = Bounds(None, None)
        if one.within is not None:
            band = self._bounds((*keys, "within"), one.within, SIGNALS[holds].unit)
        return Shape(
            name,
            self.event((*keys, "after"), one.after),
            one.of,
            one.signal,
            level.lower,
            level.upper,
            one.in_,
            holds,
            band.lower,
            band.upper,
            self.event((*keys, "until"), one.until),
            one.mean,
            self._source(keys, one),
        )

    def _between_runs(self, keys: Keys, name: str, one: w.BetweenRunsWritten) -> BetweenRuns:
        bounds = self._bounds((*keys, "within"), one.within, QUANTITIES[one.quantity])
        source = self._source(keys, one)
        return BetweenRuns(name, one.quantity, bounds.lower, bounds.upper, one.remedy, source)

    def _condition(self, keys: Keys, name: str, one: w.ConditionWritten) -> Condition:
        bounds = self._bounds((*keys, "within"), one.within, QUANTITIES[one.quantity])
        source = self._source(keys, one)
        return Condition(name, one.of, one.quantity, bounds.lower, bounds.upper, source)

    def _campaign(self, keys: Keys, name: str, one: w.CampaignRuleWritten) -> CampaignRule:
        failures = None
        if one.failures is not None:
            failures = self._number((*keys, "failures"), one.failures, "1")
        source = self._source(keys, one)
        return CampaignRule(name, one.repeats, one.extra, one.stop, failures, source)

    def _onset(
        self, keys: Keys, name: str, one: w.OnsetWritten, filters: Mapping[str, Filter]
    ) -> Onset:
        unit = SIGNALS[one.signal].unit
        back = None
        if one.back_to is not None:
            back = self._number((*keys, "back to"), one.back_to, unit)
        return Onset(
            name,
            one.event,
            one.of,
            one.signal,
            self._number((*keys, "level"), one.level, unit),
            back,
            self._filter(keys, one.filter, filters),
            self._source(keys, one),
        )

    def _reference(self, keys: Keys, signal: Signal, text: str | None) -> Reference:
        if text is None:
            return Reference(USUAL.get(signal, "constant"))
        if text in NAMED:
            return Reference(NAMED[text])
        return Reference("constant", self._number(keys, text, SIGNALS[signal].unit))

    def _filter(self, keys: Keys, name: str | None, filters: Mapping[str, Filter]) -> Filter | None:
        if name is not None and name not in filters:
            self.draft.unknown((*keys, "filter"), "filter", name, filters)
        return None if name is None else filters.get(name)

    def _source(self, keys: Keys, one: w.SourcedWritten) -> Source:
        known = self.inherited.get((str(keys[0]), str(keys[1])))
        if known is not None:
            return known
        status = one.status or self.status
        return Source(self.document, self.version, one.clause, status, one.note)

    def _bounds(self, keys: Keys, text: str, unit: SignalUnit) -> Bounds:
        return self._read(keys, lambda: bounds_of(text, unit)) or Bounds(None, None)

    def _number(self, keys: Keys, text: str, unit: SignalUnit) -> float:
        found = self._read(keys, lambda: number_of(text, unit))
        return 0.0 if found is None else found

    def _wrong(self, keys: Keys, what: str, instead: str) -> None:
        where = " > ".join(str(key) for key in keys)
        self.draft.fault("scenario.bad-value", keys, where=where, what=what, instead=instead)

    def _read(self, keys: Keys, read: Callable[[], Written]) -> Written | None:
        try:
            return read()
        except QuantityError as error:
            where = " > ".join(str(key) for key in keys)
            self.draft.fault(
                "scenario.bad-value", keys, where=where, what=error.wrong, instead=error.instead
            )
            return None
