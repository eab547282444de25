"""A programme's `drive` -> the ramps and holds that it is, once its path and its limits are known."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import field, replace
from itertools import takewhile
from typing import Any

from choreo.geometry import Path
from choreo.geometry.sections import Section, sections_of
from choreo.linear.profile import profile_of
from choreo.pace.behind import OVER_RATIO, allowed
from choreo.pace.caps import window_at, window_told, zones_of
from choreo.pace.quickest import drive, drive_lasting
from choreo.pace.records import Drive, Leg, TooSlow, WindowMissed, Zone, drive_of
from choreo.problem.phases import phases_of
from choreo.problem.records import Hold, Ramp
from choreo.scenario import Event, Gap, Mover, Phase, Scenario, Span
from choreo.scenario.records.edits import with_each_mover, with_mover
from choreo.words import ChoreoError, Finding
from choreo.words.origin import Origin
from choreo.words.records import dataclass

# Halvings until the speed at which a drive may end is exact, and shares of its limit at which a stop behind is tried.
HALVINGS = 20
STOP_SHARES = (1.0, 0.9, 0.8, 0.7, 0.6, 0.5, 0.4, 0.3, 0.2, 0.1)
# A drive of more ramps and holds than this is one of many laps, which a circuit is for.
MOST_LEGS = 400


def with_drives(scenario: Scenario, paths: Mapping[str, Path]) -> Scenario:
    """Give the scenario with ramps and holds in place of every `drive`.

    paths: by mover. limits are those on the ground. Raises ChoreoError: nobody knows where a drive begins, it ends
    before, or there is no drive within its limits.
    """
    names = [n for n, one in scenario.movers.items() if any(p.drive for p in one.programme)]
    faults: list[Finding] = []
    for name in names:
        try:
            scenario = _Lowering(scenario, name, paths[name]).done()
        except ChoreoError as error:
            faults += error.findings
    if faults:
        raise ChoreoError(tuple(faults))
    return scenario


@dataclass()
class _Lowering:
    scenario: Scenario
    name: str
    path: Path
    # The programme, with what a drive makes of the stop behind it.
    ahead: list[Phase] = field(default_factory=list)

    @property
    def mover(self) -> Mover:
        return self.scenario.movers[self.name]

    def done(self) -> Scenario:
        phases: list[Phase] = []
        old: list[int] = []
        lasts: dict[str, str] = {}
        self.ahead = list(self.mover.programme)
        for index, _ in enumerate(self.mover.programme):
            phase = self.ahead[index]
            made = [phase]
            if phase.drive is not None:
                before = replace(self.mover, programme=tuple(phases))
                made = self._driven(index, phase, before)
                lasts[phase.name] = made[-1].name
            phases += made
            old += [index] * len(made)
        mover = replace(self.mover, programme=tuple(phases))
        moved = with_mover(self.scenario, self.name, mover)
        return replace(_renamed(moved, self.name, lasts), places=self._places(old))

    def _driven(self, index: int, phase: Phase, before: Mover) -> list[Phase]:
        goal = phase.drive
        if goal is None:
            raise AssertionError("only a drive is driven")
        start, speed = self._reached(index, before)
        end = self.path.length_m
        if goal.until_m is not None:
            end = goal.until_m
        elif goal.piece is not None:
            end = self.path.marks[goal.piece][goal.at_end]
        if not start < end <= self.path.length_m:
            why = (
                f"it begins at station {start:.3f} m"
                if end <= start
                else f"the path is {self.path.length_m:.3f} m long"
            )
            raise self._wrong(
                index, "until", f"it ends at station {end:.3f} m, but {why}", "Write another place."
            )
        spec: Any = self.scenario.paths[self.mover.path or ""]
        limits = self.mover.limits
        sections = sections_of(spec, self.path)
        zones = zones_of(self.path, sections, start, end, limits.lateral_mps2)
        within = drive_of(limits)
        try:
            if goal.lasting_s is None:
                legs = drive(zones, speed, goal.to_mps, within)
                if goal.to_mps is None:
                    legs = self._ending(index, zones, legs, within)
            else:
                legs, _ = drive_lasting(zones, speed, goal.to_mps, within, goal.lasting_s)
        except WindowMissed as slow:
            raise self._missed(slow, sections) from None
        except TooSlow as slow:
            what = f"at station {slow.station_m:.1f} m: {slow.why}"
            raise self._wrong(
                index, "until", what, slow.instead, station_m=slow.station_m
            ) from None
        if len(legs) > MOST_LEGS:
            what = f"it takes {len(legs)} ramps and holds, more than {MOST_LEGS}"
            raise self._wrong(
                index, "until", what, "Write many laps as a circuit, for `choreo laps`."
            )
        return _phases(phase.name, legs)

    def _ending(
        self, index: int, zones: Sequence[Zone], legs: tuple[Leg, ...], within: Drive
    ) -> tuple[Leg, ...]:
        """The drive that ends so slow that the path behind allows what follows; as it is, where nothing helps.

        A stop right behind whose rate nobody states is as gentle as its curve asks for.
        """
        end, most = zones[-1].end_m, legs[-1].to_mps
        far = max(self.path.length_m, end + 1.0)
        behind = zones_of(self.path, (), end, far, within.lateral_mps2)
        tried: list[tuple[float, Phase | None]] = []
        for stop in self._stops(index + 1):
            low, high = 0.0, most
            if allowed(behind, self._following(index, stop, end, most), within):
                return self._with_stop(index, stop, legs)
            for _ in range(HALVINGS):
                middle = (low + high) / 2.0
                following = self._following(index, stop, end, middle)
                fits = allowed(behind, following, within, -OVER_RATIO)
                low, high = (middle, high) if fits else (low, middle)
            tried.append((low, stop))
        for speed, stop in sorted(tried, key=lambda one: -one[0]):
            try:
                return self._with_stop(index, stop, drive(zones, legs[0].from_mps, speed, within))
            except TooSlow:
                continue
        return legs

    def _stops(self, index: int) -> list[Phase | None]:
        """The stop right behind a drive at each rate that it may have; None: as it is written, or no stop."""
        phase = self.ahead[index] if index < len(self.ahead) else None
        usual = self.mover.usual
        stated = usual is not None and usual.brake_mps2 is not None
        if phase is None or phase.kind != "stop" or phase.brake_mps2 is not None or stated:
            return [None]
        limits = self.mover.limits
        if limits.combined != "ellipse":
            return [None]
        shares = [replace(phase, brake_mps2=one * limits.brake_mps2) for one in STOP_SHARES[1:]]
        return [None, *shares]

    def _with_stop(self, index: int, stop: Phase | None, legs: tuple[Leg, ...]) -> tuple[Leg, ...]:
        if stop is not None:
            self.ahead[index + 1] = stop
        return legs

    def _following(self, index: int, stop: Phase | None, end: float, speed: float) -> list[Leg]:
        """What is driven behind a drive that ends at a station with a speed, as far as it is known."""
        rest = self.mover.programme[index + 1 :]
        rest = rest if stop is None else (stop, *rest[1:])
        known = list(takewhile(lambda one: one.drive is None, rest))
        start = replace(self.mover.start, station=Span.at(end), speed_mps=speed)
        legs: list[Leg] = []
        at = end
        for phase in phases_of(
            replace(self.mover, start=start, programme=tuple(known)), lambda *_keys: None
        ):
            if isinstance(phase, Ramp):
                profile = profile_of(phase, speed)
                if profile is None:
                    break
                to = phase.to.lo
                there = at + profile.way_m
                legs.append(Leg(at, there, speed, to, profile.duration_s, profile))
                speed = to
            else:
                there = self._held(phase, at, speed) if isinstance(phase, Hold) else math.nan
                if not there > at or speed <= 0.0:
                    break
                legs.append(Leg(at, there, speed, speed, (there - at) / speed))
            at = there
        return legs

    def _reached(self, index: int, before: Mover) -> tuple[float, float]:
        """Station in m and speed in m/s at which a drive begins: all before it must be given."""
        station = self.mover.start.station
        at = station.lo if station.fixed else math.nan
        speed = self.mover.start.speed_mps
        for phase in phases_of(before, lambda *_keys: None):
            if isinstance(phase, Ramp):
                profile = profile_of(phase, speed)
                at += math.nan if profile is None else profile.way_m
                speed = phase.to.lo
            elif isinstance(phase, Hold):
                at = self._held(phase, at, speed)
        if math.isnan(at):
            why = "nobody knows where it begins: the start station, and all phases before it, must be given"
            instead = "Write `start: {station: 0 m}`, and holds with `for:` or `until:` a place before it."
            raise self._wrong(index, None, why, instead)
        return at, speed

    def _held(self, hold: Hold, at: float, speed: float) -> float:
        if hold.for_m is not None:
            return at + hold.for_m
        if hold.for_s is not None:
            return at + hold.for_s * speed
        until = hold.until
        if (
            until is not None
            and until.mover == self.name
            and until.kind in ("mark start", "mark end")
        ):
            marks = self.path.marks[until.name or ""]
            return marks[0] if until.kind == "mark start" else marks[1]
        return math.nan

    def _wrong(
        self, index: int, key: str | None, what: str, instead: str, **more: float
    ) -> ChoreoError:
        keys = ("drive",) if key is None else ("drive", key)
        origin = self.scenario.origin("movers", self.name, "programme", index, *keys)
        values: dict[str, str | float] = {
            "mover": self.name,
            "what": what,
            "instead": instead,
            **more,
        }
        return ChoreoError((Finding("problem.no-drive", "error", origin, values, ()),))

    def _missed(self, slow: WindowMissed, sections: Sequence[Section]) -> ChoreoError:
        """The window's own place: it is there that something has to be written."""
        path = self.mover.path or ""
        window = window_at(slow.middle_m, sections)
        name = self.scenario.paths[path].pieces[window.piece].name
        values: dict[str, str | float] = {
            "mover": self.name,
            "window": window_told(window, name),
            "what": f"at station {slow.station_m:.1f} m {slow.told}",
            **slow.values,
        }
        origin = self.scenario.origin("paths", path, "pieces", window.piece, "speed")
        return ChoreoError((Finding("problem.window-missed", "error", origin, values, ()),))

    def _places(self, old: list[int]) -> dict[tuple[str | int, ...], Origin]:
        """Every phase of a drive has the drive's place; those after it keep theirs."""
        head = ("movers", self.name, "programme")
        places = {k: v for k, v in self.scenario.places.items() if k[:3] != head or len(k) == 3}
        inside: dict[Any, list[tuple[tuple[str | int, ...], Origin]]] = {}
        for keys, place in self.scenario.places.items():
            if keys[:3] == head and len(keys) > 3:
                inside.setdefault(keys[3], []).append((keys[4:], place))
        for new, index in enumerate(old):
            for rest, place in inside.get(index, []):
                places[(*head, new, *rest)] = place
        return places


def _phases(name: str, legs: tuple[Leg, ...]) -> list[Phase]:
    """Ramps and holds of known length, named after the drive, its first one as itself."""
    phases = []
    for number, leg in enumerate(legs, 1):
        called = name if number == 1 else f"{name}, part {number}"
        if leg.is_hold:
            phases.append(Phase("hold", called, for_m=leg.end_m - leg.start_m, driven=True))
            continue
        if leg.to_mps == 0.0:
            phases.append(Phase("stop", called, brake_mps2=leg.rate_mps2, driven=True))
            continue
        up = leg.to_mps > leg.from_mps
        rate = leg.rate_mps2
        if rate is None:
            # Along its table: what nobody needs to state is the table itself, which no usual rate is below then.
            rate = math.inf if leg.profile is None else leg.profile.most_accel_mps2
        rates = (rate, None) if up else (None, rate)
        to = Span.at(leg.to_mps)
        phases.append(
            Phase("ramp", called, to=to, accelerate_mps2=rates[0], brake_mps2=rates[1], driven=True)
        )
    return phases


def _renamed(scenario: Scenario, mover: str, lasts: Mapping[str, str]) -> Scenario:
    """The end of a drive is the end of its last ramp or hold, for whatever refers to it."""

    def event(one: Event) -> Event:
        if one.mover != mover or one.kind != "phase end" or one.name is None:
            return one
        return replace(one, name=lasts.get(one.name, one.name))

    def maybe(one: Event | None) -> Event | None:
        return None if one is None else event(one)

    def phase(one: Phase) -> Phase:
        return replace(one, until=maybe(one.until), settled_by=maybe(one.settled_by))

    encounters = {
        name: replace(one, at=event(one.at), held_until=maybe(one.held_until))
        if isinstance(one, Gap)
        else one
        for name, one in scenario.encounters.items()
    }
    instants = {
        name: replace(one, before=event(one.before)) for name, one in scenario.instants.items()
    }
    changed = replace(scenario, encounters=encounters, instants=instants)
    return with_each_mover(
        changed, lambda _, one: replace(one, programme=tuple(map(phase, one.programme)))
    )
