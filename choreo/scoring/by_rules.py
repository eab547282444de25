"""A recorded run held against the rule set of its scenario: each rule in its window, ruled by the judge of rule sets.

What a recording says nothing of (track, weather, time between runs) is told as not judged, and costs no ruling. What it
should hold and does not (a signal that the set has a band for) can't be decided.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import replace

import numpy as np

from choreo.recordings.doubts import BRIDGED_S
from choreo.recordings.record import Uncertainty
from choreo.rules import evaluating, shapes
from choreo.rules.applied import Rules
from choreo.rules.evaluating import GUARD, Run, Sampled
from choreo.rules.records import (
    QUANTITIES,
    SIGNALS,
    Band,
    BetweenRuns,
    Condition,
    Filter,
    Instant,
    Role,
    Settle,
    Shape,
    Signal,
    SignalUnit,
    Source,
)
from choreo.scoring.contacts import Touch
from choreo.scoring.meant import DURATIONS, impact_signals, of_setup
from choreo.scoring.moments import Moments, filtered
from choreo.scoring.onsets import CLEAR, Reading, scatter_of
from choreo.scoring.run import RecordedRun
from choreo.scoring.signals import Signals, hardest_braking_mps2
from choreo.scoring.verdicts import RULINGS, Judged
from choreo.words.kinds import Unit
from choreo.words.records import dataclass

# A level counts as reached within what accelerations are measured to (m/s2): ISO 22733-1:2021, clause 5.
LEVEL_MPS2 = 0.1
# So long (s) before its defined onset a system may act already: 1 m/s2 at 5 m/s3, and more. Common practice, no source.
ONSET_S = 0.3
# The units that scenarios have too.
UNIT_OF: Mapping[SignalUnit | None, Unit] = {"m": "m", "s": "s", "m/s": "m/s", "m/s2": "m/s2"}


@dataclass(frozen=True, slots=True)
class ByRules:
    """What came of it. apart: what a recording can't say, in words. filters: what was filtered, and how."""

    judged: tuple[Judged, ...]
    apart: tuple[str, ...]
    filters: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class Asked:
    """How a run is to be judged. without: ids of rules that are left out."""

    sure: Uncertainty
    reading: Reading = "each pass"
    without: Collection[str] = ()


def judged_by_rules(
    run: RecordedRun,
    rules: Rules,
    signals: Signals,
    moments: Moments,
    touch: Touch | None,
    asked: Asked,
) -> ByRules:
    """Hold a run against every rule of its family. touch: of the subject, as it was or as it was headed for."""
    return _Judge(run, rules, signals, moments, touch, asked).all()


class _Judge:
    def __init__(
        self,
        run: RecordedRun,
        rules: Rules,
        signals: Signals,
        moments: Moments,
        touch: Touch | None,
        asked: Asked,
    ) -> None:
        self.run, self.rules, self.cast, self.signals = run, rules, rules.cast, signals
        self.moments, self.asked = moments, asked
        self.filters: dict[str, None] = dict.fromkeys(moments.filters)
        known = dict(signals.known)
        references = {**signals.references, **self._levels()}
        for key, one in (
            *impact_signals(run, self.cast, touch, moments),
            *of_setup(run, self.cast, moments),
        ):
            known[key], references[key] = one
        self.record = Run(
            known,
            moments.times_s,
            references,
            self.cast.family.t0,
            moments.closing_mps,
            most_gap_s=max(BRIDGED_S, 1.5 / run.recording.rate_hz),
            ends_s=_last_before(run, moments.ends_s),
        )

    def all(self) -> ByRules:
        """Judge rule by rule, in the order of the family."""
        found: list[Judged] = []
        apart: list[str] = []
        instead = {one.or_else for one in self.cast.family.of(Instant)}
        for rule in self.cast.family.rules:
            if rule.id in self.asked.without:
                continue
            match rule:
                case Band():
                    found.append(self._band(rule))
                case Instant() if rule.id in instead:
                    pass  # with the one that it may be kept instead of
                case Instant():
                    found.append(self._either(rule))
                case Settle():
                    found += self._settle(rule)
                case Shape():
                    found += self._shape(rule)
                case Condition() if rule.of == "recording":
                    found += self._of_recording(rule, apart)
                case Condition() | BetweenRuns():
                    apart.append(f"{rule.id} {rule.quantity}")
                case _:
                    pass
        return ByRules(tuple(found), tuple(apart), tuple(self.filters))

    def _levels(self) -> dict[tuple[Role, Signal], float]:
        """How hard a lead is to brake by plan."""
        lead = self.cast.lead()
        if lead is None:
            return {}
        level = hardest_braking_mps2(self.run.stage.actors[lead[0]], lead[2])
        roles = {name: role for role, name in self.cast.movers.items()}
        # Reached within what accelerations are measured to.
        return {} if level is None else {(roles[lead[0]], "acceleration"): level + LEVEL_MPS2}

    def _band(self, band: Band) -> Judged:
        window = self.cast.family.windows[band.window]
        record, why = self._for(band.role, band.signal, band.filter, band.lower, band.upper)
        if why:
            if (band.role, band.signal) not in self.record.signals:
                why += f"; or leave the rule out: `--without {band.id}`"
            return self._told(evaluating.unknown(band.id, band.source, why), band)
        if band.reference.name == "lead path":
            record = self._from_lead(record)
        found = self._guarded(lambda u: evaluating.judge_band(band, window, record, u), band)
        reacted_s = self.moments.reacted_s
        if found.ruling != "invalid" or band.role != "subject" or reacted_s is None:
            return found
        # Its onset is where a level is passed, and it brakes before that: told, but the definition stands.
        early = {name: at - ONSET_S for name, at in record.events.items() if at == reacted_s}
        before = replace(record, events={**record.events, **early})
        if evaluating.judge_band(band, window, before, 0.0).outcome != "kept":
            return found
        why = (
            f"kept until {ONSET_S:g} s before {next(iter(early))}: what its system does before the onset that the "
            "rules define counts, too"
        )
        return replace(found, why=why)

    def _instant(self, rule: Instant) -> Judged:
        key = rule.role, rule.signal
        if rule.signal == "duration" and key not in self.record.signals:
            pair = next(
                (two for two in DURATIONS if two[0] == rule.event.event), (rule.event.event,)
            )
            lacking = [name for name in pair if name not in self.record.events]
            why = f"no event `{lacking[0].replace(' ', '_')}` in the recording" if lacking else ""
            return self._told(evaluating.unknown(rule.id, rule.source, why), rule)
        return self._guarded(lambda u: evaluating.judge_instant(rule, self.record, u), rule)

    def _either(self, rule: Instant) -> Judged:
        """An instant, or the one that may be kept instead of it, whichever is better."""
        first = self._instant(rule)
        instants = self.cast.family.of(Instant)
        other = next((one for one in instants if one.id == rule.or_else), None)
        if other is None:
            return first
        second = self._instant(other)
        order = ("valid", "not decidable", "invalid")
        best = min(first, second, key=lambda one: order.index(one.ruling))
        if best.ruling == "valid":
            return best
        return replace(best, why=f"{best.why}; nor is {rule.or_else} kept".removeprefix("; "))

    def _settle(self, rule: Settle) -> Iterator[Judged]:
        bands = self.cast.family.bands
        for one in evaluating.judge_settle(rule, bands, self.record):
            name = one.rule.partition("/")[2]
            if name in self.asked.without:
                continue
            yield self._told(one, bands.get(name, rule))
        if not rule.bands:
            yield from self._steady(rule)

    def _steady(self, rule: Settle) -> Iterator[Judged]:
        """How long everybody had the speed of the test before a moment."""
        at = evaluating.moment(rule.event, self.record)
        for role, name in self.cast.movers.items():
            if not self.run.stage.actors[name].moves:
                continue
            known = Condition(
                f"{rule.id} {name}",
                "recording",
                "time since the last run",
                rule.lasting_s,
                None,
                rule.source,
            )
            sure, most, gap_s = (
                (math.nan, math.nan, None) if at is None else self._held_before(role, name, at)
            )
            one = evaluating.judge_value(known, sure, 0.0)
            if at is None:
                missing = evaluating.named_moment(rule.event, self.record)
                one = replace(one, why=f"{missing} isn't known")
            if one.outcome == "broken" and most >= rule.lasting_s:
                why = (
                    f"steady for {sure:.2f} s, and before that samples are missing at {gap_s:.2f} s"
                )
                one = replace(one, outcome="not decidable", why=why)
            words = "steady for" if one.value is not None else "isn't known how long it was steady"
            yield replace(
                self._told(one, rule, "s", rule.lasting_s, None),
                rule=f"{rule.id}: {name} {words}",
                at_s=at,
            )

    def _held_before(self, role: Role, name: str, at: float) -> tuple[float, float, float | None]:
        """How long before a moment a mover was inside its band of speed, or in no ramp where it has none.

        By what was recorded; at most, were it steady where samples are missing; and when the last of those is.
        """
        bands = [
            one for one in self.cast.family.of(Band) if (one.role, one.signal) == (role, "speed")
        ]
        ends = [fit.ends_s for fit in self.run.ramps[name].values() if fit.starts_s < at]
        since = max(ends, default=float(self.run.time_s[0]))
        speed, planned = (
            self.signals.known.get((role, "speed")),
            self.signals.references.get((role, "speed")),
        )
        if bands and speed is not None and planned is not None:
            off = speed.less(planned)
            lower, upper = bands[0].lower, bands[0].upper
            beyond = (off.values < (-math.inf if lower is None else lower)) | (
                off.values > (math.inf if upper is None else upper)
            )
            before = off.times_s <= at
            out, lost = (off.times_s[one & before] for one in (beyond, np.isnan(off.values)))
            since = max(since, float(out[-1])) if len(out) else since
            if len(lost) and lost[-1] > since:
                return at - float(lost[-1]), at - since, float(lost[-1])
        return at - since, at - since, None

    def _shape(self, rule: Shape) -> Iterator[Judged]:
        record, why = self._for(rule.role, rule.signal, None, -1.0, 1.0)
        if why:
            yield self._told(evaluating.unknown(rule.id, rule.source, why), rule)
            return
        # What a lead does after the test is over is nobody's concern.
        until = self.record.events.get(rule.until.event)
        ends = self.record.ends_s
        if until is not None and ends is not None:
            record = replace(record, events={**record.events, rule.until.event: min(until, ends)})
        for one in shapes.judge_shape(rule, record):
            match one.rule.rpartition("/")[2]:
                case "reached":
                    yield self._told(one, rule, "s", None, rule.within_s)
                case "mean":
                    levels = rule.level_lower, rule.level_upper
                    yield self._told(one, rule, SIGNALS[rule.signal].unit, *levels)
                case _:
                    held = replace(rule, signal=rule.held)
                    yield self._told(one, held, SIGNALS[rule.held].unit, rule.lower, rule.upper)

    def _of_recording(self, rule: Condition, apart: list[str]) -> Iterator[Judged]:
        sure = self.run.recording.uncertainty
        value = math.nan
        if rule.quantity == "sample rate":
            value = round(self.run.recording.rate_hz, 3)
        elif sure.given:
            known = {
                "speed accuracy": sure.speed_mps,
                "position accuracy": sure.position_m,
                "heading accuracy": sure.heading_rad,
            }
            value = known.get(rule.quantity, math.nan)
        if math.isnan(value):
            apart.append(f"{rule.id} {rule.quantity}")
            return
        yield self._told(evaluating.judge_value(rule, value), rule)

    def _for(
        self,
        role: Role,
        signal: Signal,
        rule: Filter | None,
        lower: float | None,
        upper: float | None,
    ) -> tuple[Run, str]:
        """The record with a signal filtered as a rule asks, and why that can't be judged; empty: it can."""
        key = role, signal
        one = self.record.signals.get(key)
        if one is None:
            name = self.cast.movers.get(role, role)
            if name in self.run.missing or name in self.run.standing:
                return self.record, f"{name} was not recorded"
            return self.record, f"no channel has its {signal}: add it to `signals:` of {name}"
        if rule is not None:
            one = filtered(one, rule, self.asked.reading, self.filters, signal)
        source = self.signals.derived.get(key)
        bound = min((abs(end) for end in (lower, upper) if end), default=math.inf)
        if source is not None and scatter_of(one) * CLEAR > bound:
            why = (
                f"worked out of the {source}, it scatters too much for this: record it as a signal"
            )
            return self.record, why
        return replace(self.record, signals={**self.record.signals, key: one}), ""

    def _from_lead(self, record: Run) -> Run:
        """Deviations counted from where the lead is beside the subject's path."""
        name = self.cast.movers.get("target")
        key: tuple[Role, Signal] = ("subject", "lateral deviation")
        if name is None or name not in self.run.movers:
            return record
        beside = Sampled(self.run.time_s, self.run.beside_of(self.cast.movers["subject"], name))
        return replace(record, references={**record.references, key: beside})

    def _guarded(self, judge: Callable[[float], evaluating.Judged], rule: Band | Instant) -> Judged:
        """Judge once for when it is worst, then with how sure the signal is then."""
        first = judge(0.0)
        u = self._u(rule.role, rule.signal, first.time_s)
        return self._told(judge(u) if u > 0.0 else first, rule, guard=GUARD * u)

    def _u(self, role: Role, signal: Signal, at: float | None) -> float:
        values = self.signals.u.get((role, signal))
        if values is None or at is None:
            return 0.0
        return float(np.interp(at, self.run.time_s, values))

    def _told(
        self,
        one: evaluating.Judged,
        rule: Band | Instant | Settle | Shape | Condition,
        unit: SignalUnit | None = None,
        lower: float | None = None,
        upper: float | None = None,
        guard: float = 0.0,
    ) -> Judged:
        """What the judge found, as it is told."""
        signal, told_unit, who = "", unit, ""
        role = getattr(rule, "role", None)
        if isinstance(rule, Band | Instant):
            signal, told_unit = rule.signal, SIGNALS[rule.signal].unit
            lower, upper = rule.lower, rule.upper
            who = f" of {self.cast.movers.get(rule.role, rule.role)}"
        elif isinstance(rule, Condition):
            signal, lower, upper = rule.quantity, rule.lower, rule.upper
            told_unit = QUANTITIES[rule.quantity]
        elif isinstance(rule, Shape):
            signal = rule.signal
            who = f" of {self.cast.movers.get(rule.role, rule.role)}"
        return Judged(
            f"{one.rule}: {signal}{who}".removesuffix(": "),
            RULINGS[one.outcome],
            UNIT_OF.get(told_unit),
            _finite(one.value),
            one.time_s,
            lower,
            upper,
            _finite(one.margin),
            guard,
            _source(rule.source),
            one.why,
            signal,
            told_unit,
            "" if role is None else self.cast.movers.get(role, role),
            one.from_s,
            one.until_s,
        )


def _last_before(run: RecordedRun, time_s: float) -> float:
    """The last sample up to a moment: between that and the next one is what the moment itself does to a signal."""
    before = run.time_s[run.time_s <= time_s]
    return float(before[-1]) if len(before) else time_s


def _finite(value: float | None) -> float | None:
    return None if value is None or not math.isfinite(value) else value


def _source(source: Source) -> str:
    marks = "" if source.status == "seen" else f" ({source.status})"
    return f"{source.words}{marks}"
