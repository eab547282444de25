"""When things happened in a run, by the names that rules have for them; onsets by a rule set's own definitions."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from operator import itemgetter

import numpy as np

from choreo.rules.applied import Rules
from choreo.rules.cast import last_ramp
from choreo.rules.evaluating import Run, Sampled, crossing_s, moment
from choreo.rules.events import told_event
from choreo.rules.numbers import told
from choreo.rules.records import EVENTS, SIGNALS, EventName, EventRef, Filter, Onset, Role
from choreo.scoring.contacts import Touch
from choreo.scoring.onsets import LowPass, Reading, found_onset
from choreo.scoring.run import GO, RecordedRun
from choreo.scoring.signals import Signals
from choreo.words.records import dataclass

# Below these speeds (m/s) a lead is slow, as protocols have it, and one stands.
SLOW_MPS, STANDS_MPS = 2.0 / 3.6, 0.1
# What happens later than this (s) after the end of the test is not told; no time to collision is that is longer (s).
AFTER_S, FAR_S = 0.5, 30.0
# Moments that are told as something else, or by nobody asked for.
UNTOLD: frozenset[EventName] = frozenset(("run starts", "run ends", "contact", "subject steady"))
# Events that end what is asked of the subject: the system acts. A warning alone leaves it to go on.
REACTIONS: tuple[EventName, ...] = ("automatic braking", "intervention", "lane keeping")


@dataclass(frozen=True, slots=True)
class Moment:
    """When something happened, in s after go. left_s: the time to collision then, None where there is none.

    by: how it was found, in words. note: what is ambiguous about it.
    """

    event: str
    time_s: float
    left_s: float | None
    by: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class Moments:
    """What happened when. times_s: by event, what isn't known left out. told: worth telling, in the order of time.

    reacted_s: when the subject's system acted, None: it didn't. ends_s: when the test was over. unclear: what could
    not be found, and why. filters: what was filtered, and how. closing_mps: by plan, for a nominal headway.
    """

    times_s: dict[EventName, float]
    told: tuple[Moment, ...]
    reacted_s: float | None
    ends_s: float
    unclear: tuple[str, ...]
    filters: tuple[str, ...]
    closing_mps: float | None = None


def recorded_events(run: RecordedRun) -> dict[EventName, float]:
    """Give the moments that a recording has channels of, in s after go; names as rules have them, `_` for a blank."""
    go_s = float(run.recording.time_s[0] - run.time_s[0])
    found: dict[EventName, float] = {}
    for name, at in run.recording.events_s.items():
        event = next((one for one in EVENTS if one == name.replace("_", " ")), None)
        if event is not None:
            found[event] = at - go_s
    return found


def unknown_events(run: RecordedRun) -> tuple[str, ...]:
    """Give the events of a recording that are neither go, nor a trigger, nor a moment that rules know."""
    known = {GO, *run.stage.scenario.triggers}
    return tuple(
        name
        for name in run.recording.events_s
        if name not in known and name.replace("_", " ") not in EVENTS
    )


def moments_of(
    run: RecordedRun, rules: Rules, signals: Signals, touch: Touch | None, reading: Reading
) -> Moments:
    """Find what rules ask for. touch: of the subject with whom it meets."""
    finder = _Finder(run, rules, signals, touch, reading)
    finder.find()
    return finder.found()


def bare_moments(run: RecordedRun) -> Moments:
    """Give what channels alone say, where no rule set says what else to look for."""
    times = recorded_events(run)
    told_ones = tuple(
        Moment(event, at, None, "its channel")
        for event, at in sorted(times.items(), key=itemgetter(1))
    )
    reacted_s = min((times[one] for one in REACTIONS if one in times), default=None)
    return Moments(dict(times), told_ones, reacted_s, float(run.time_s[-1]), (), ())


class _Finder:
    def __init__(
        self,
        run: RecordedRun,
        rules: Rules,
        signals: Signals,
        touch: Touch | None,
        reading: Reading,
    ) -> None:
        self.run, self.rules, self.cast, self.signals = run, rules, rules.cast, signals
        self.reading: Reading = reading
        self.touch = touch
        self.times: dict[EventName, float] = {}
        self.by: dict[EventName, str] = {}
        self.notes: dict[EventName, str] = {}
        self.unclear: list[str] = []
        self.filters: dict[str, None] = {}

    ends_s: float = math.inf

    def find(self) -> None:
        """Go through all that can be found: channels first, then onsets, then the motions themselves."""
        for event, at in recorded_events(self.run).items():
            self._put(event, at, "its channel")
        self._put("run starts", max(float(self.run.time_s[0]), 0.0), "go")
        if self.touch is not None and self.touch.time_s is not None:
            self._put("contact", self.touch.time_s, "the bodies")
        for moved, when, by in (*self._of_movers(), *self._of_path()):
            self._put(moved, when, by)
        self.ends_s = self._over()
        for onset in self.cast.family.of(Onset):
            if onset.event not in self.times or self.by[onset.event].startswith("the ramp"):
                self._onset(onset)
        self._put("run ends", self.ends_s, "the test is over")

    def found(self) -> Moments:
        """Give it all."""
        t0 = self.cast.family.t0
        record = Run(self.signals.known, self.times, t0=t0, closing_mps=self.closing_mps())
        at = moment(EventRef("T0"), record)
        times = dict(self.times) if at is None else {**self.times, "T0": at}
        for event in ("warning", *REACTIONS):
            if at is not None and times.get(event, at) < at:
                early = "before the test starts: it ends no band"
                self.notes[event] = "; ".join((early, *filter(None, [self.notes.get(event)])))
        reacted = [times[one] for one in REACTIONS if one in times]
        told_ones = [
            Moment(event, one, self._left(one), self._by(event), self.notes.get(event, ""))
            for event, one in times.items()
            if event not in UNTOLD and one <= self.ends_s + AFTER_S
        ]
        return Moments(
            times,
            tuple(sorted(told_ones, key=lambda one: one.time_s)),
            min(reacted, default=None),
            self.ends_s,
            tuple(self.unclear),
            tuple(self.filters),
            self.closing_mps(),
        )

    def closing_mps(self) -> float | None:
        """The planned closing speed along the subject's path, for a nominal headway."""
        pair = next(iter(self.signals.pairs.values()), None)
        every = self.run.stage.plan.encounters.values()
        planned = next((one for one in every if one.touches), None)
        return None if pair is None or planned is None else planned.closing_mps

    def filtered(self, role: Role, onset: Onset) -> Sampled | None:
        """An onset's signal up to the end of the test, filtered as it asks."""
        signal = self.signals.known.get((role, onset.signal))
        if signal is None:
            return None
        kept = signal.times_s <= self.ends_s
        cut = Sampled(signal.times_s[kept], signal.values[kept])
        if len(cut.times_s) < 4:
            return None
        return filtered(cut, onset.filter, self.reading, self.filters, onset.signal)

    def _put(self, event: EventName, at: float | None, by: str) -> None:
        if at is not None and event not in self.times:
            self.times[event] = at
            self.by[event] = by

    def _by(self, event: EventName) -> str:
        if event != "T0" or event in self.by:
            return self.by[event]
        t0 = self.cast.family.t0
        return "" if t0 is None else f"{self.rules.set.named}: {told_event(t0)}"

    def _left(self, at: float) -> float | None:
        for pair in self.signals.pairs.values():
            left = Sampled(pair.time_s, pair.left_s).at(at)
            if 0.0 <= left <= FAR_S:
                return left
        return None

    def _onset(self, onset: Onset) -> None:
        """An onset by the set's definition; where its signal says nothing, why."""
        signal = self.filtered(onset.role, onset)
        if signal is None:
            return
        found = found_onset(onset, signal)
        if found.unclear:
            channel = self.signals.derived.get((onset.role, onset.signal))
            more = f", worked out of its {channel}: record it" if channel else ""
            self.unclear.append(f"{onset.event}: {found.unclear}{more}")
            return
        if found.time_s is None:
            return
        unit = SIGNALS[onset.signal].unit
        by = f"{onset.signal} of {self.cast.movers.get(onset.role, onset.role)} "
        level = told(onset.level, unit)
        if onset.back_to is None:
            by += f"gets to {level}"
        else:
            by += f"last beyond {level}, back to the nearest {told(onset.back_to, unit)}"
        self.times.pop(onset.event, None)
        self._put(onset.event, found.time_s, f"{by} ({onset.source.words})")
        if found.dips:
            dips = ", ".join(f"{one:.3f} s" for one in found.dips[:3])
            self.notes[onset.event] = (
                f"ambiguous: at {dips} it was beyond the level too, and recovered; read as the nearest crossing going "
                "back, that doesn't count"
            )

    def _of_movers(self) -> Iterator[tuple[EventName, float | None, str]]:
        """What speeds and ramps say."""
        lead = self.cast.lead()
        if lead is not None and lead[0] in self.run.movers:
            name, _, index = lead
            fit = self.run.ramps[name].get(index)
            if fit is not None:
                yield "lead brakes", fit.starts_s, f"the ramp of {name}"
                after = fit.starts_s
                yield "lead slow", self._below(name, SLOW_MPS, after), f"{name} down to 2 km/h"
                yield "lead stops", self._below(name, STANDS_MPS, after), f"{name} stands"
        subject = self.cast.movers.get("subject")
        if subject is not None and subject in self.run.movers:
            ramp = last_ramp(self.run.stage.scenario.movers[subject])
            fit = None if ramp is None else self.run.ramps[subject].get(ramp[0])
            if fit is not None:
                yield "subject steady", fit.ends_s, f"{subject} has its speed"
        for name in self.cast.others().values():
            ramp = last_ramp(self.run.stage.scenario.movers[name])
            fits = self.run.ramps.get(name, {})
            if fits:
                yield "target launched", next(iter(fits.values())).starts_s, f"{name} starts"
            if ramp is not None and ramp[0] in fits:
                yield "target steady", fits[ramp[0]].ends_s, f"{name} has its speed"

    def _of_path(self) -> Iterator[tuple[EventName, float | None, str]]:
        """Where the subject's path begins to bend, and where the first arc ends."""
        name = self.cast.movers.get("subject")
        if name is None or name not in self.run.movers:
            return
        station, bends = 0.0, False
        stretches = sorted(self.run.stage.actors[name].path.stretches())
        for begins, ends, *curvatures in stretches:
            bent = any(abs(one) > 1e-9 for one in curvatures)
            if bent and not bends:
                yield "steering begins", self._passes(name, begins), f"the path of {name} bends"
            if bends and not bent:
                yield (
                    "arc ends",
                    self._passes(name, station),
                    f"the path of {name} is straight again",
                )
                return
            bends, station = bends or bent, ends

    def _passes(self, name: str, station_m: float) -> float | None:
        """When a mover first passes a station."""
        stations = self.run.movers[name].station_m
        beyond = np.flatnonzero(stations >= station_m)
        if not len(beyond) or beyond[0] == 0:
            return None
        return crossing_s(self.run.time_s, stations, int(beyond[0]), station_m)

    def _below(self, name: str, level_mps: float, after_s: float) -> float | None:
        """When a mover is first no faster than that, from a moment on."""
        times, speed = self.run.time_s, self.run.movers[name].track.speed_mps
        slow = np.flatnonzero((speed <= level_mps) & (times > after_s))
        return None if not len(slow) else crossing_s(times, speed, int(slow[0]), level_mps)

    def _passed(self, last: float) -> Iterator[float]:
        """When gaps and passes were, or ended."""
        for key, one in self.run.stage.plan.encounters.items():
            met = float(self.run.performed.met[key].time_s[0])
            if met < last:
                yield met if one.until_s is None else max(met, one.until_s)

    def _over(self) -> float:
        """When the test was over: contact, the subject stands, or no faster than what it follows, or past."""
        last = float(self.run.time_s[-1])
        ends: list[float] = [last, self.times.get("contact", last)]
        planned = [one.time_s for one in self.run.stage.plan.encounters.values() if one.touches]
        if not planned:  # then the test is about the last gap or pass
            ends.append(max(self._passed(last), default=last))
        subject = self.cast.movers.get("subject")
        if subject in self.run.movers and planned and "contact" not in self.times:
            meets = min(planned)
            drives = np.flatnonzero(self.run.movers[subject].track.speed_mps > 1.0)
            since = float(self.run.time_s[drives[0]]) if len(drives) else 0.0
            ends.append(self._below(subject, STANDS_MPS, since) or last)
            for pair in self.signals.pairs.values():
                gone = (pair.gap_m < 0.0) & (self.run.time_s > since)
                slower = (pair.closing_mps <= 0.0) & (self.run.time_s > meets - 1.0)
                for flags in (gone, slower):
                    ends += self.run.time_s[flags][:1].tolist()
        return min(ends)


def filtered(
    signal: Sampled, rule: Filter | None, reading: Reading, told_ones: dict[str, None], name: str
) -> Sampled:
    """Give a signal as a rule's filter leaves it, and note in words what was filtered; rule: None for none."""
    if rule is None:
        told_ones[f"{name}: not filtered"] = None
        return signal
    low_pass = LowPass.of(rule, reading)
    rate = 1.0 / float(np.median(np.diff(signal.times_s)))
    if not low_pass.fits(rate):
        told_ones[f"{name}: not filtered, {rate:.4g} samples a second are too few for it"] = None
        return signal
    told_ones[f"{name}: {low_pass.words}"] = None
    return replace(signal, values=low_pass.filtered(signal.values, rate))
