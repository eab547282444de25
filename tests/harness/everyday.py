"""Everyday scenarios round a motion that is known: whatever of it is written down or left free, it can be driven.

A convoy on a lane (two or three cars, at rest or rolling; the first may brake, change its speed, or pause), somebody
crossing it (a car may back up), or both; some convoys go round a closed path. The motion is drawn first; then the file
tells of it some things and leaves others free, at least one for each thing that an encounter asks. `possible`: as
drawn. `impossible`: everything is written and one wanted gap, or the path's length, is not what comes of it.
`shifted`: a given number is another one; nobody knows the verdict.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from tests.harness.draws import Rng, any_jerk, any_table, draw
from tests.harness.driven import Drive
from tests.harness.records import INF, number

VARIANTS = ("possible", "possible", "impossible", "shifted")
# Rates that nobody asks of a vehicle, and settings that no latency allows, are drawn anew.
MOST_DRAWS = 400
LANE_M = 4000.0
HALF_LANE_M = 2.0
# Bodies keep this far from each other where they should not touch, m.
APART_M = 0.5


class Redraw(Exception):
    """What was drawn doesn't come together."""


@dataclass
class Car:
    """A mover as driven, and the lines that tell it. given: each number that the file may tell or leave free."""

    name: str
    kind: str
    length_m: float
    width_m: float
    front_m: float
    drive: Drive
    path: str = "lane"
    lines: list[str] = field(default_factory=list)
    start: str = ""
    launch: str = ""
    at_go: bool = False
    backwards: bool = False

    @property
    def rear_m(self) -> float:
        return self.length_m - self.front_m

    @property
    def leads_m(self) -> float:
        """How far the body reaches in the direction in which it drives."""
        return self.rear_m if self.backwards else self.front_m


@dataclass
class Everyday:
    """A scenario, its text, and what is known of it."""

    variant: str
    seed: int
    family: str = "everyday"
    note: str = ""
    text: str = ""
    rigid: bool = False


def everyday(seed: int) -> Everyday:
    """The scenario of a seed."""
    rng = np.random.default_rng([seed, 77_001])
    for _ in range(MOST_DRAWS):
        try:
            return _Draft(rng, seed).made()
        except Redraw:
            continue
    raise AssertionError(f"seed {seed} never comes together")


class _Draft:
    """One drawing: cars, triggers and encounters under way."""

    def __init__(self, rng: Rng, seed: int) -> None:
        self.rng = rng
        self.case = Everyday(VARIANTS[seed % len(VARIANTS)], seed)
        # Whatever is written must decide everything: rates, marks, launches.
        self.exact = self.case.variant == "impossible"
        self.cars: list[Car] = []
        self.triggers: list[str] = []
        self.encounters: list[str] = []
        self.instants: list[str] = []
        self.paths: dict[str, tuple[float, float, float, float]] = {}
        self.rated = True
        self.wanted: list[Callable[[float], str]] = []
        self.length_m = LANE_M
        self.ring = False

    def chance(self, share: float) -> bool:
        return bool(self.rng.random() < share)

    def made(self) -> Everyday:
        shape = self.rng.choice(["convoy", "crossing", "both"])
        if self.exact:
            shape = "convoy"
        if shape != "crossing":
            contact = shape == "convoy" and self.chance(0.5)
            self.ring = shape == "convoy" and not contact and not self.exact and self.chance(0.25)
            self._convoy(contact=contact)
        if shape != "convoy":
            self._crossing()
        if self.case.variant == "impossible":
            self._break()
        self.case.note = f"{shape}, {len(self.cars)} movers" + self.case.note
        self.case.rigid = self.rated
        self.case.text = self._text()
        if self.case.variant == "shifted":
            self._shift()
        return self.case

    # Cars

    def _limits(self, *, table: bool, walker: bool = False) -> Drive:
        rng = self.rng
        if walker:
            return Drive(((0.0, draw(rng, 0.5, 3)),), draw(rng, 0.8, 4), any_jerk(rng, 5, 40))
        rates = any_table(rng) if table else ((0.0, draw(rng, 1.5, 5)),)
        return Drive(rates, draw(rng, 4, 9), any_jerk(rng, 3, 20))

    def _car(self, name: str) -> Car:
        rng, drive = self.rng, self._limits(table=not self.exact and self.chance(0.25))
        if len(drive.table) > 1:
            drive.jerk_mps3 = INF
        length = draw(rng, 3.6, 5.4, 2)
        front = round(length * float(rng.uniform(0.4, 1.0)), 2)
        kind = "subject" if name == "subject" else "vehicle"
        return Car(name, kind, length, draw(rng, 1.5, 2.0, 2), front, drive)

    def _rate(self, drive: Drive, to_mps: float) -> tuple[float | None, str]:
        """A rate to drive a ramp with, and how it is written."""
        up = to_mps > drive.speed_mps
        if up and len(drive.table) > 1:
            self.rated = False
            return None, ""
        most = drive.table[0][1] if up else drive.brake_mps2
        word = "accelerate" if up else "brake"
        if self.exact or self.chance(0.5):
            rate = round(most * float(self.rng.uniform(0.4, 0.99)), 2)
            return rate, f", {word}: {number(rate)} m/s2"
        self.rated = False
        return None, ""

    def _ramp(self, car: Car, name: str, to_mps: float) -> None:
        rate, text = self._rate(car.drive, to_mps)
        car.drive.ramp(name, to_mps, rate)
        car.lines.append(f"{{ramp: {{to: {number(to_mps)} m/s{text}}}, name: {name}}}")

    def _hold(self, car: Car, name: str, lasts_s: float, *, until: str = "", by: str = "") -> None:
        """A hold that ends by itself, by an event, or after its time or way."""
        drive, parts = car.drive, []
        drive.hold(name, lasts_s)
        settle = round(lasts_s * float(self.rng.uniform(0.1, 0.7)), 2)
        if self.chance(0.5) and not by:
            parts.append(f"settle: {number(settle)} s")
        if by:
            parts.append(f"settle: {number(min(settle, 1.0))} s, settled by: {by}")
        if until:
            parts.append(f"until: {until}")
        elif self.exact or self.chance(0.6):
            exact = f"{number(lasts_s)} s"
            if self.chance(0.4):
                exact = f"{number(lasts_s * drive.speed_mps)} m"
            parts.append(f"for: {exact}")
        car.lines.append(f"{{hold: {{{', '.join(parts)}}}, name: {name}}}")

    def _pause(self, car: Car) -> None:
        """Down to rest, and on again after a while."""
        self._ramp(car, "halt", 0.0)
        lasts = draw(self.rng, 0.5, 3, 2)
        car.drive.hold("pause", lasts)
        car.lines.append(f"{{wait: {{lasting: {number(lasts)} s}}, name: pause}}")

    def _stop(self, car: Car, name: str = "stop") -> None:
        rate, text = None, ""
        if self.chance(0.4):
            rate = round(car.drive.brake_mps2 * float(self.rng.uniform(0.5, 0.99)), 2)
            text = f"brake: {number(rate)} m/s2"
        car.drive.ramp(name, 0.0, rate)
        car.lines.append(f"{{stop: {{{text}}}, name: {name}}}")

    def _set_off(self, car: Car, *, own_mark: bool = False, own_launch: bool = False) -> None:
        """Write mark and launch. own_mark, own_launch: that one is what an encounter needs left free."""
        drive = car.drive
        mark = drive.start_m
        if own_mark or (not self.exact and self.chance(0.3)):
            car.start = "free"
            if self.chance(0.4):
                about = float(self.rng.uniform(0.5, 30))
                low = max(0.0, mark - about * float(self.rng.uniform(0, 1)))
                car.start = f"{number(low)}..{number(mark + about)} m"
        else:
            car.start = f"{number(mark)} m"
        if drive.launch_s == 0.0 and (self.exact or self.chance(0.7)) and not own_launch:
            car.at_go = True
            return
        if own_launch or drive.rolling_mps or (not self.exact and self.chance(0.4)):
            return
        car.launch = f"{number(drive.launch_s)} s"

    # Convoy

    def _convoy(self, *, contact: bool) -> None:
        """Cars on one lane, the subject the last."""
        count = 2 + int(self.chance(0.4))
        names = ["lead", "subject"] if count == 2 else ["first", "lead", "subject"]
        cars = [self._car(name) for name in names]
        speed = draw(self.rng, 8, 28, 2)
        brakes = self.chance(0.6)
        for car in cars[:-1]:
            self._leader(car, speed, brakes=brakes and car is cars[0])
        self._place(cars, speed, contact=contact)
        self.cars += cars

    def _leader(self, car: Car, speed: float, *, brakes: bool) -> None:
        rng, drive = self.rng, car.drive
        if self.chance(0.25):
            drive.rolls(draw(rng, 4, 28, 2))
        if self.chance(0.2) and not drive.rolling_mps and not self.exact:
            self._ramp(car, "crawl", draw(rng, 2, 6, 2))
            self._hold(car, "crawling", draw(rng, 1, 4, 2))
            if self.chance(0.5):
                self._pause(car)
        if abs(drive.speed_mps - speed) > 0.01:
            self._ramp(car, "go", speed)
        self._hold(car, "steady", draw(rng, 4, 15, 2))
        if brakes and self.chance(0.4):
            self._ramp(car, "brake", draw(rng, 1, speed - 3, 2))
            self._hold(car, "slow", draw(rng, 2, 8, 2))
            self._stop(car)
        elif brakes:
            self._ramp(car, "brake", 0.0)
        else:
            self._stop(car)

    def _place(self, cars: list[Car], speed: float, *, contact: bool) -> None:
        """Marks and launches, from the front backwards, and the gaps that come of them."""
        rng = self.rng
        first = cars[0].drive
        first.start_m, first.launch_s = draw(rng, 600, 1200, 2), draw(rng, 6, 12, 2)
        if (self.exact and first.rolling_mps) or self.chance(0.15):
            first.launch_s = 0.0
        self._set_off(cars[0])
        for ahead, car in itertools.pairwise(cars):
            subject = car.name == "subject"
            drive = car.drive
            event, at_s = self._event(ahead)
            if subject:
                faster = draw(rng, 1, 8, 2) if contact or self.chance(0.4) else 0.0
                self._approach(car, speed + faster)
            gap = draw(rng, 6, 60, 2)
            if self.chance(0.3):
                gap = draw(rng, 3, 8, 2)
            drive.launch_s = round(float(rng.uniform(0, first.launch_s)), 2)
            if self.chance(0.2) or (self.exact and drive.rolling_mps):
                drive.launch_s = 0.0
            drive.start_m = 0.0
            lasts = self._steady_at(car, at_s)
            if lasts is None:
                raise Redraw
            station, _ = ahead.drive.at(at_s)
            own, _ = drive.at(at_s)
            drive.start_m = station - ahead.rear_m - gap - car.front_m - own
            if drive.start_m < 0 or (self.exact is False and drive.start_m > 1500):
                raise Redraw
            if subject and contact:
                self._meet(car, ahead)
            elif subject:
                self._end_hold(car, at_s - drive.begins("steady") + draw(rng, 0.5, 8, 2), until="")
                self._stop(car)
            self._keeps_apart(car, ahead, touching=subject and contact)
            for further in cars[: cars.index(ahead)]:
                self._keeps_apart(car, further, touching=False)
            self._write_gap(car, ahead, gap, at_s, event)
            either = self.chance(0.5) or car.drive.rolling_mps > 0
            free = not self.exact
            self._set_off(car, own_mark=free and either, own_launch=free and not either)

    def _event(self, ahead: Car) -> tuple[str, float]:
        """An event of the car ahead at which a gap is wanted."""
        names = [s.name for s in ahead.drive.stretches]
        begins = "brake" if "brake" in names else "stop"
        at_s = ahead.drive.begins(begins)
        event = f"start of {ahead.name}.{begins}"
        if self.chance(0.25):
            by = draw(self.rng, 0.2, 1.5, 2)
            name = f"T_{ahead.name}"
            self.instants.append(f"{name}: {{before: {event}, by: {number(by)} s}}")
            return name, at_s - by
        if self.chance(0.15):
            return f"end of {ahead.name}.steady", at_s
        return event, at_s

    def _approach(self, car: Car, speed: float) -> None:
        if self.chance(0.2):
            car.drive.rolls(draw(self.rng, 4, 15, 2))
        self._ramp(car, "go", speed)
        car.lines.append("")  # its hold is written once it is known how long it lasts
        car.drive.hold("steady", 300.0)

    def _steady_at(self, car: Car, time_s: float) -> float | None:
        """How long the car has held its speed at a time, if it does."""
        since = time_s - car.drive.begins("steady")
        steady = next(one for one in car.drive.stretches if one.name == "steady")
        return since if 0.3 < since < steady.lasts_s else None

    def _meet(self, car: Car, ahead: Car) -> None:
        """The hold of the car behind lasts until it touches the one ahead."""
        drive = car.drive
        begins = drive.begins("steady")
        times = np.arange(begins + 0.3, begins + 60.0, 0.05)
        room = np.array([self._room(car, ahead, t) for t in times])
        if room[0] <= 0 or not (room <= 0).any():
            raise Redraw
        here = int(np.argmax(room <= 0))
        low, high = float(times[here - 1]), float(times[here])
        for _ in range(60):
            middle = (low + high) / 2
            low, high = (middle, high) if self._room(car, ahead, middle) > 0 else (low, middle)
        if drive.at(low)[1] - ahead.drive.at(low)[1] < 0.3:
            raise Redraw
        self._end_hold(car, low - begins, until="contact")
        self._stop(car)
        self.encounters.append(
            f"contact: {{kind: contact, of: {car.name}, with: {ahead.name}, overlap: 50 %}}"
        )

    def _end_hold(self, car: Car, lasts_s: float, *, until: str) -> None:
        """Put the hold that was left open as long as it is."""
        car.drive.stretches.pop()
        here = car.lines.index("")
        self._hold(car, "steady", lasts_s, until=until)
        car.lines[here] = car.lines.pop()

    def _room(self, car: Car, ahead: Car, time_s: float) -> float:
        behind, front = car.drive.at(time_s)[0] + car.front_m, ahead.drive.at(time_s)[0]
        return front - ahead.rear_m - behind

    def _keeps_apart(self, car: Car, ahead: Car, *, touching: bool) -> None:
        ends = max(car.drive.ends_s, ahead.drive.ends_s)
        if touching:
            ends = car.drive.begins("stop") - 0.3
        for time in np.arange(0.0, ends + 0.2, 0.1):
            if self._room(car, ahead, float(time)) < (0.02 if touching else APART_M):
                raise Redraw

    def _write_gap(self, car: Car, ahead: Car, gap: float, at_s: float, event: str) -> None:
        if "" in car.lines:
            raise AssertionError(car.name)
        speed, other = car.drive.at(at_s)[1], ahead.drive.at(at_s)[1]
        measure, wanted, unit = "distance", gap, "m"
        if self.chance(0.4):
            measure, wanted, unit = "time gap", gap / speed, "s"
        elif speed - other > 0.5 and self.chance(0.5):
            measure, wanted, unit = "time to collision", gap / (speed - other), "s"
        about = f"{measure}: {number(wanted)} {unit}"
        if not self.exact and self.chance(0.2):
            about = f"{measure}: {number(wanted * 0.98)}..{number(wanted * 1.03)} {unit}"
        name = f"gap_{car.name}"
        when = f"at: {event}"
        if (
            not self.exact
            and speed == other
            and measure != "time to collision"
            and self.chance(0.5)
        ):
            when = self._during(car, ahead, at_s) or when
        self.encounters.append(
            f"{name}: {{kind: gap, of: {car.name}, with: {ahead.name}, {about}, {when}}}"
        )
        if self.exact:
            self.wanted.append(
                lambda off: (
                    f"{name}: {{kind: gap, of: {car.name}, with: {ahead.name}, "
                    f"distance: {number(gap + off)} m, at: {event}}}"
                )
            )

    def _during(self, car: Car, ahead: Car, at_s: float) -> str:
        """The hold of the car ahead, where the other holds the same speed all the while."""
        begins, steady = ahead.drive.begins("steady"), car.drive.begins("steady")
        lasts = next(one.lasts_s for one in ahead.drive.stretches if one.name == "steady")
        own = next(one.lasts_s for one in car.drive.stretches if one.name == "steady")
        if not begins < at_s <= begins + lasts or begins < steady or begins + lasts > steady + own:
            return ""
        return f"during: {ahead.name}.steady"

    # Crossing

    def _crossing(self) -> None:
        """Somebody crosses the lane before the subject; if it follows others, behind them."""
        rng = self.rng
        subject = next((car for car in self.cars if car.name == "subject"), None)
        if subject is None:
            subject = self._car("subject")
            subject.backwards = self.chance(0.2)
            self.cars.append(subject)
            subject.drive.start_m = draw(rng, 20, 200, 2)
            subject.drive.launch_s = draw(rng, 0, 12, 2)
            self._approach(subject, draw(rng, 5, 30, 2))
            at_s = subject.drive.begins("steady") + draw(rng, 1.5, 8, 2)
            self._end_hold(subject, at_s - subject.drive.begins("steady"), until="crossed")
            self._stop(subject)
            self._set_off(subject)
        else:
            at_s = self._crossed_in_convoy(subject)
        walker = self._walker(subject, at_s)
        for car in self.cars[:-1]:
            self._passed(car, walker)
        self.cars.append(walker)

    def _crossed_in_convoy(self, subject: Car) -> float:
        """The subject's hold now lasts until somebody crosses; the cars before it have passed there by then."""
        line = next(i for i, one in enumerate(subject.lines) if "name: steady" in one)
        steady = next(one for one in subject.drive.stretches if one.name == "steady")
        subject.lines[line] = "{hold: {until: crossed}, name: steady}"
        return subject.drive.begins("steady") + steady.lasts_s

    def _passed(self, car: Car, walker: Car) -> None:
        """Whoever drives before the subject has passed the crossing before the walker is on the lane."""
        x, y, _, _ = self.paths["way"]
        reach = walker.length_m + HALF_LANE_M
        drive = walker.drive
        for time in np.arange(drive.launch_s, drive.ends_s + 0.1, 0.05):
            if abs(abs(y) - drive.at(float(time))[0]) < reach:
                station = car.drive.at(float(time))[0]
                if car.name != "subject" and station - car.rear_m < x + 1.0:
                    raise Redraw

    def _walker(self, subject: Car, at_s: float) -> Car:
        rng = self.rng
        drive = self._limits(table=False, walker=True)
        length = draw(rng, 0.4, 1.0, 2)
        walker = Car(
            "walker", "pedestrian", length, draw(rng, 0.3, 0.7, 2), length / 2, drive, "way"
        )
        aside, left = draw(rng, 3, 10, 2), self.chance(0.5)
        impact = draw(rng, -0.5, 0.5, 2)
        # Of a car that backs up its left is on the right of the way that it goes.
        offset = -impact if subject.backwards else impact
        cross = subject.drive.at(at_s)[0] + walker.width_m / 2 + subject.leads_m
        there = aside + (-impact if left else impact)
        self._ramp(walker, "step", draw(rng, 0.8, 3, 2))
        ramped = drive.ends_m
        walks = there - ramped - draw(rng, 0, 1, 2)
        drive.start_m = there - ramped - walks
        lasts = walks / drive.speed_mps
        if walks < 0.2:
            raise Redraw
        self._hold(walker, "walk", lasts, until="crossed")
        self._stop(walker)
        drive.launch_s = at_s - (drive.begins("stop") - drive.launch_s)
        if drive.launch_s < 0.2:
            raise Redraw
        x, heading = cross, -90.0 if left else 90.0
        y = aside if left else -aside
        self.paths["way"] = (x, y, heading, 40.0)
        self.encounters.append(
            f"crossed: {{kind: contact, of: subject, with: walker, offset: {number(offset)} m}}"
        )
        if self.chance(0.6):
            self._trigger(subject, walker, at_s)
        else:
            self._set_off(walker, own_mark=self.chance(0.5), own_launch=True)
        return walker

    def _trigger(self, subject: Car, walker: Car, at_s: float) -> None:
        """The walker waits for the subject; the setting is free, or the walker's mark is."""
        rng, drive = self.rng, subject.drive
        latency = draw(rng, 0, 0.15)
        fires = walker.drive.launch_s - latency - 0.005
        steady = drive.begins("steady")
        line = next(one for one in subject.lines if "name: steady" in one)
        settle = float(line.split("settle: ")[1].split(" s")[0]) if "settle: " in line else 0.0
        station, speed = drive.at(fires)
        kinds = ["time"]
        if fires > steady + settle + 0.01:
            kinds += ["station", "distance", "time to collision"] * 2
            if self._sooner(drive, fires, drive.at(at_s)[0]):
                kinds = [one for one in kinds if one != "time to collision"]
        elif drive.launch_s + 0.2 < fires < steady - 0.1 and speed > 1.0:
            kinds += ["speed"] * 3
        kind = str(rng.choice(kinds))
        left = drive.at(at_s)[0] - station
        value, unit = {
            "time": (fires, "s"),
            "station": (station, "m"),
            "distance": (left, "m"),
            "time to collision": (left / drive.at(at_s)[1], "s"),
            "speed": (speed, "m/s"),
        }[kind]
        free_mark = self.chance(0.5)
        to = ", to: crossed" if kind in ("distance", "time to collision") else ""
        setting = f"{number(value)} {unit}"
        if not free_mark:
            setting = (
                "free"
                if self.chance(0.6)
                else f"{number(value * 0.9)}..{number(value * 1.1)} {unit}"
            )
        self.triggers.append(
            f"step_out: {{watch: subject, when: {{{kind}: {setting}}}{to}, "
            f"latency: {number(latency)} s}}"
        )
        walker.start = "free" if free_mark else f"{number(walker.drive.start_m)} m"
        walker.launch = "step_out"

    def _sooner(self, drive: Drive, fires_s: float, meets_m: float) -> bool:
        """Whether a mover that was faster before had as little time left to a station then."""
        station, speed = drive.at(fires_s)
        left_s = (meets_m - station) / speed
        looks = [drive.at(float(time)) for time in np.linspace(0.0, fires_s, 200)[:-1]]
        return any(meets_m - there <= left_s * fast - 1e-6 for there, fast in looks)

    # What is known to be impossible, and what nobody knows

    def _break(self) -> None:
        """Everything is written: another gap at the same event can't be, nor can a path that ends too soon."""
        if self.chance(0.7) or not self.wanted:
            index = int(self.rng.integers(len(self.wanted)))
            off = float(self.rng.choice([-1, 1])) * draw(self.rng, 0.2, 2.0, 2)
            text = self.wanted[index](off)
            name = text.split(":")[0]
            here = next(i for i, one in enumerate(self.encounters) if one.startswith(f"{name}:"))
            self.encounters[here] = text
            self.case.note += f", {name} off by {off} m"
            return
        longest = max(car.drive.ends_m for car in self.cars)
        self.length_m = round(longest - draw(self.rng, 0.1, 20), 2)
        self.case.note += ", path too short"

    def _shift(self) -> None:
        """Another number somewhere in the file."""
        lines = self.case.text.split("\n")
        places = [
            i
            for i, one in enumerate(lines)
            if "ramp:" in one or "kind: gap" in one or "wait" in one
        ]
        here = int(self.rng.choice(places))
        words = lines[here].split(" ")
        numbers = [i for i, one in enumerate(words) if one.replace(".", "", 1).isdigit()]
        if not numbers:
            return
        at = int(self.rng.choice(numbers))
        words[at] = number(round(float(words[at]) * float(self.rng.uniform(0.6, 1.6)), 3))
        lines[here] = " ".join(words)
        self.case.text = "\n".join(lines)
        self.case.note += f", line {here + 1} shifted"

    # The file

    def _text(self) -> str:
        rng = self.rng
        prefer = rng.choice(["shortest runway"] * 3 + ["quickest run"])
        lines = ["choreo: 1", f"title: everyday {self.case.seed}", f"prefer: {prefer}", "paths:"]
        pieces = f"{{line: {number(self.length_m)} m}}"
        if self.ring:
            half = (
                f"{{line: 500 m}}, {{arc: {{radius: {number(500 / math.pi)} m, angle: 180 deg}}}}"
            )
            pieces = f"{half}, {half}"
        closed = ", closed: yes" if self.ring else ""
        lines.append(f"  lane: {{start: [0 m, 0 m], heading: 0 deg, pieces: [{pieces}]{closed}}}")
        for name, (x, y, heading, length) in self.paths.items():
            lines.append(
                f"  {name}: {{start: [{number(x)} m, {number(y)} m], heading: {number(heading)} deg, "
                f"pieces: [{{line: {number(length)} m}}]}}"
            )
        lines.append("movers:")
        for car in self.cars:
            lines += _car_lines(car)
        for title, entries in (
            ("triggers", self.triggers),
            ("encounters", self.encounters),
            ("instants", self.instants),
        ):
            if entries:
                lines += [f"{title}:", *(f"  {one}" for one in entries)]
        return "\n".join(lines) + "\n"


def _car_lines(car: Car) -> list[str]:
    drive = car.drive
    table = ", ".join(f"{number(v)} m/s: {number(a)} m/s2" for v, a in drive.table)
    accelerate = f"{number(drive.table[0][1])} m/s2" if len(drive.table) == 1 else f"{{{table}}}"
    jerk = f", jerk: {number(drive.jerk_mps3)} m/s3" if math.isfinite(drive.jerk_mps3) else ""
    rolling = f", speed: {number(car.drive.rolling_mps)} m/s" if car.drive.rolling_mps else ""
    rolling += ", at: go" if car.at_go else ""
    lines = [
        f"  {car.name}:",
        f"    kind: {car.kind}",
        f"    path: {car.path}",
        f"    body: {{length: {number(car.length_m)} m, width: {number(car.width_m)} m, "
        f"front overhang: {number(car.front_m)} m}}",
        f"    limits: {{speed: 60 m/s, accelerate: {accelerate}, brake: {number(drive.brake_mps2)} m/s2{jerk}}}",
        f"    start: {{station: {car.start}{rolling}}}",
        "    programme:",
    ]
    if car.backwards:
        lines.insert(-1, "    drive: backwards")
    if car.launch:
        lines.append(f"      - wait: {{for: {car.launch}}}")
    return lines + [f"      - {one}" for one in car.lines]
