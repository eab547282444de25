"""Which kind of lap comes when: excursions fall due by laps, time, way or temperature."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import field

from choreo.circuits.heat import Heat
from choreo.circuits.lap import Lap
from choreo.circuits.records import Circuit, Driven, Excursion, LapKey
from choreo.words.records import dataclass

LapOf = Callable[[LapKey], Lap]
HeatOf = Callable[[LapKey], Heat]


@dataclass()
class _Since:
    """How often an excursion was taken, what was driven since, and which of its `after` are done."""

    times: int = 0
    time_s: float = 0.0
    way_m: float = 0.0
    done: set[int] = field(default_factory=set)


@dataclass(frozen=True, slots=True)
class Sequence:
    """Laps in runs of one kind; temperatures in degC where there is a model, the lap that is too hot, if one is.

    passed: the first lap in which it became hotter than an excursion waits for, by excursion. crowded: laps in which an
    excursion that is due has to wait.
    """

    driven: tuple[Driven, ...]
    highest_degc: float | None
    last_degc: float | None
    too_hot: int | None
    passed: Mapping[str, int]
    crowded: tuple[int, ...]


def sequence_of(circuit: Circuit, lap_of: LapOf, heat_of: HeatOf | None) -> Sequence:
    """Go through all laps. An excursion that is due after so many laps is taken in the lap that follows.

    Two that are due at once share a lap where their stretches of the main path don't overlap; else the later one waits
    for the next lap (`crowded`: numbers of such laps).
    """
    return _Going(circuit, lap_of, heat_of).all()


class _Going:
    def __init__(self, circuit: Circuit, lap_of: LapOf, heat_of: HeatOf | None) -> None:
        self.circuit = circuit
        self.lap_of = lap_of
        self.heat_of = heat_of
        self.since = {name: _Since() for name in circuit.excursions}
        self.time_s, self.way_m = 0.0, 0.0
        model = circuit.temperature
        self.degc = None if model is None else model.starts
        self.highest = self.degc
        self.too_hot: int | None = None
        self.passed: dict[str, int] = {}
        self.crowded: list[int] = []

    def all(self) -> Sequence:
        laps = self.circuit.written.laps
        driven: list[Driven] = []
        for number in range(1, laps + 1):
            key = self._key(number, first=number == 1, last=number == laps)
            lap = self.lap_of(key)
            if driven and driven[-1].lap == key:
                last = driven[-1]
                driven[-1] = Driven(
                    key, last.first, last.count + 1, last.starts_s, last.lasts_s + lap.lasts_s
                )
            else:
                driven.append(Driven(key, number, 1, self.time_s, lap.lasts_s))
            self._drive(number, key, lap)
        return Sequence(
            tuple(driven), self.highest, self.degc, self.too_hot, self.passed, tuple(self.crowded)
        )

    def _drive(self, number: int, key: LapKey, lap: Lap) -> None:
        self.time_s += lap.lasts_s
        self.way_m += lap.length_m
        for name, since in self.since.items():
            since.time_s += lap.lasts_s
            since.way_m += lap.length_m
            if name in key.excursions:
                # Time and way are counted from this lap's end on.
                since.time_s, since.way_m = 0.0, 0.0
                since.times += 1
        model = self.circuit.temperature
        if self.degc is not None and self.heat_of is not None and model is not None:
            heat = self.heat_of(key)
            highest = heat.highest(self.degc)
            self.highest = max(self.highest or highest, highest)
            if highest > model.most and self.too_hot is None:
                self.too_hot = number
            for name in self._waiting():
                if highest > (self.circuit.written.excursions[name].before or highest):
                    self.passed.setdefault(name, number)
            self.degc = heat.after(self.degc)

    def _key(self, number: int, *, first: bool, last: bool) -> LapKey:
        due = {name for name in self.circuit.excursions if self._due(name, number)}
        taken, _ = self._fitting(due)
        without = LapKey(taken, first, last)
        due |= {name for name in self._waiting() if self._too_hot_soon(name, without)}
        taken, waits = self._fitting(due)
        self.crowded += [number] * waits
        for name in taken:
            self.since[name].done |= set(self._afters(name, number))
        return LapKey(taken, first, last)

    def _fitting(self, due: set[str]) -> tuple[tuple[str, ...], int]:
        """Those that share a lap, in their order along it, and how many wait for another one."""
        taken: list[Excursion] = []
        waits = 0
        for name, one in self.circuit.excursions.items():
            if name not in due:
                continue
            if any(o.leaves_m < one.joins_m and one.leaves_m < o.joins_m for o in taken):
                waits += 1
            else:
                taken.append(one)
        return tuple(one.name for one in sorted(taken, key=lambda one: one.leaves_m)), waits

    def _waiting(self) -> Iterator[str]:
        """Excursions that wait for a temperature."""
        for name in self.circuit.excursions:
            if self.circuit.written.excursions[name].before is not None:
                yield name

    def _due(self, name: str, number: int) -> bool:
        """Whether it is due by laps, time or way."""
        rule, since = self.circuit.written.excursions[name], self.since[name]
        if rule.every is not None:
            if rule.every.laps is not None:
                return (number - 1) // rule.every.laps > since.times
            if rule.every.time_s is not None:
                return since.time_s >= rule.every.time_s
            return since.way_m >= (rule.every.way_m or 0.0)
        return bool(self._afters(name, number))

    def _afters(self, name: str, number: int) -> list[int]:
        """Which of the excursion's single dues have come and are not done."""
        found = []
        for index, due in enumerate(self.circuit.written.excursions[name].after or ()):
            reached = (
                number - 1 >= due.laps
                if due.laps is not None
                else self.time_s >= due.time_s
                if due.time_s is not None
                else self.way_m >= (due.way_m or 0.0)
            )
            if reached and index not in self.since[name].done:
                found.append(index)
        return found

    def _too_hot_soon(self, name: str, without: LapKey) -> bool:
        """Whether the lap to come without it, or the next one up to its end with it, would be too hot."""
        before_degc = self.circuit.written.excursions[name].before
        if self.degc is None or self.heat_of is None or before_degc is None:
            return False
        heat = self.heat_of(without)
        if heat.highest(self.degc) > before_degc:
            return True
        if without.last:
            return False
        return self.heat_of(LapKey((name,))).highest(heat.after(self.degc)) > before_degc
