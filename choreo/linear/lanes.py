"""Movers of one path don't pass through one another: looked for on a found plan, then asked of all plans.

Who is ahead is one choice a pair, unless an encounter says it. Where a found plan comes too near, the room between the
two is asked for at that time, told from the phase in which it is, or that they have met as intended before: rows that
every plan must meet, so that a search with them still proves what it cuts off.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import combinations

from choreo.geometry import Path, cusps_of, lap_of
from choreo.linear.affine import Affine, given, unknown
from choreo.linear.curves import Relation
from choreo.linear.looking import EARLIER_S, least_of, looks_at, since_phase
from choreo.linear.model import Model, Since
from choreo.linear.pace import keep_pace_with_others
from choreo.linear.records import Choice, before_launch
from choreo.linear.rows import Row, at_least
from choreo.linear.spots import Values
from choreo.problem.records import ContactPoint, ContactTrack, GapAt
from choreo.solve.reading import MoverReading
from choreo.words.records import dataclass

Curve = Callable[[float], tuple[float, float]]

# Bodies that come nearer than this (m) below touching are in one another.
TOUCHING_M = 1e-6
# Room (m) that is asked for where a plan comes too near: what rounding and the simulation's own steps need.
ROOM_M = 2e-3
# Moments that differ by less than this (s) are the same.
SAME_S = 1e-6


@dataclass(frozen=True, slots=True)
class Ends:
    """How far a body reaches before and behind its reference point, m."""

    front_m: float
    rear_m: float


@dataclass(frozen=True)
class Pair:
    """Two movers of one lane; behind, ahead: by name.

    room_m: between reference points where the bodies touch, on one path. Elsewhere along: where the one ahead is
    along the path of the one behind, by its own station, and between which of those it is known.
    """

    behind: str
    ahead: str
    room_m: float
    along: Curve | None = None
    bounds: tuple[float, float] = (0.0, 0.0)

    def apart_m(self, behind_m: float, ahead_m: float) -> float:
        """Give the room between the two at their stations; negative where they are in one another."""
        ahead = ahead_m if self.along is None else self.along(ahead_m)[0]
        return ahead - behind_m - self.room_m


@dataclass(frozen=True, slots=True)
class Apart:
    """Two of a lane that came too near: so long after the mover `since` began its phase of an index, else after go."""

    behind: str
    ahead: str
    since: Since
    after_s: float


def _round(pair: Pair, ends: Mapping[str, Ends], lap_m: float) -> Pair:
    """The same two round a closed path: the one ahead comes from behind, a lap less, to the other one."""
    met_m = ends[pair.behind].front_m + ends[pair.ahead].rear_m
    room_m = ends[pair.ahead].front_m + ends[pair.behind].rear_m
    return Pair(pair.ahead, pair.behind, room_m + met_m - pair.room_m - lap_m)


class Lanes:
    """The pairs of one problem that share a lane, and what has been asked of them.

    apart_m: room that is kept throughout; on bends corners come nearer than the lane's middle tells. least_m: room that
    is asked for where a plan comes too near; none for a proof.
    """

    def __init__(
        self,
        model: Model,
        paths: Mapping[str, Path],
        ends: Mapping[str, Ends],
        apart_m: float = 0.0,
        least_m: float = ROOM_M,
    ) -> None:
        self.model = model
        self.least_m = least_m
        self.apart_m = apart_m
        self.asked: list[Apart] = []
        self.ahead = self._all_ahead(paths)
        self.pairs: list[Pair] = []
        for a, b in combinations(model.courses, 2):
            if cusps_of(paths[a]) or cusps_of(paths[b]):
                continue  # who is ahead changes there: left to the simulation
            if model.courses[a].steps or model.courses[b].steps:
                lap = lap_of(paths[a])
                on_one = paths[a] is paths[b]
                pair = self._one_path(a, b, ends, lap) if on_one else self._one_lane(a, b)
                if pair is not None:
                    self.pairs.append(pair)
                    if on_one and lap is not None and self._counted(a, b):
                        self.pairs.append(_round(pair, ends, lap))

    def _one_path(
        self, a: str, b: str, ends: Mapping[str, Ends], lap_m: float | None
    ) -> Pair | None:
        behind, ahead = (a, b) if b in self.ahead[a] else (b, a)
        if ahead not in self.ahead[behind]:
            return None
        laid_m = self.ahead[behind][ahead]
        if behind not in ends or ahead not in ends:
            return None
        room_m = ends[behind].front_m + ends[ahead].rear_m
        # Round a closed path who is ahead may be so many laps short in its station.
        laps = 0 if lap_m is None else round(laid_m / lap_m)
        return Pair(behind, ahead, room_m - laps * (lap_m or 0.0))

    def _counted(self, a: str, b: str) -> bool:
        """Whether a gap between the two says in which lap they are: then the one ahead is less than a lap ahead."""
        gaps = [one for one in self.model.problem.encounters if isinstance(one, GapAt)]
        return any({one.a, one.b} == {a, b} for one in gaps)

    def _all_ahead(self, paths: Mapping[str, Path]) -> dict[str, dict[str, float]]:
        """Who is ahead of whom on one path, also by way of others in between, and how far ahead it is laid."""
        ahead: dict[str, dict[str, float]] = {name: {} for name in self.model.courses}
        for a, b in combinations(self.model.courses, 2):
            known = self._order(a, b) if paths[a] is paths[b] else None
            if known is not None:
                ahead[known[0]][known[1]] = known[2]
        for between in ahead:
            for further in ahead.values():
                for name, laid_m in ahead[between].items() if between in further else ():
                    further.setdefault(name, further[between] + laid_m)
        return ahead

    def _order(self, a: str, b: str) -> tuple[str, str, float] | None:
        """Who is behind whom: as an encounter or a trigger by gap says, or as they can only start.

        With how far ahead of its own station the one ahead is laid on the path, in m: its body's end, and laps.
        """
        for encounter in self.model.problem.encounters:
            if isinstance(encounter, (ContactTrack, GapAt)) and {encounter.a, encounter.b} == {
                a,
                b,
            }:
                laid = encounter.facing0_m if isinstance(encounter, GapAt) else encounter.b0_m
                return encounter.a, encounter.b, laid - encounter.b0_m
        for trigger in self.model.problem.triggers:
            # Who comes from behind to a gap was there all along: nobody passes through.
            if trigger.gap is not None and set(trigger.watched) == {a, b}:
                return trigger.watch, trigger.gap.b, trigger.gap.facing0_m - trigger.gap.b0_m
        if not self._at_once(a, b):
            return None
        start_a, start_b = (self.model.courses[name].mover.start for name in (a, b))
        if start_a.hi <= start_b.lo:
            return a, b, 0.0
        if start_b.hi <= start_a.lo:
            return b, a, 0.0
        return None

    def _at_once(self, a: str, b: str) -> bool:
        """Whether both starts are places of one moment: those of rolling starts are of the launches."""
        courses = self.model.courses[a], self.model.courses[b]
        return not any(one.mover.rolls for one in courses)

    def _one_lane(self, a: str, b: str) -> Pair | None:
        """Two that are in one lane from the start on, by a contact of which geometry gives the whole stretch."""
        for contact in self.model.problem.encounters:
            if not isinstance(contact, ContactTrack) or {contact.a, contact.b} != {a, b}:
                continue
            start = self.model.courses[contact.b].mover.start
            if start.lo < contact.span_b.lo or contact.slope < 0.0:
                return None
            bounds = (contact.span_b.lo, contact.span_b.hi)
            along = _line(contact) if contact.exact else self.model.tracks[contact.name].at
            return Pair(contact.a, contact.b, 0.0, along, bounds)
        return None

    def in_order(self, room_m: float) -> None:
        """Ask that nobody is at go nearer than room_m to who is ahead, or beyond."""
        for pair in self.pairs:
            behind, ahead = (
                before_launch(self.model.courses[name], given(0.0)).station
                for name in (pair.behind, pair.ahead)
            )
            what = f"{pair.behind} starts behind {pair.ahead}"
            self.model.rows.append(self._row(pair, behind, ahead, what, room_m))

    def _row(
        self, pair: Pair, behind: Affine, ahead: Affine, what: str, room_m: float = 0.0
    ) -> Row:
        along = ahead if pair.along is None else self._along(pair, ahead)
        origin = self.model.courses[pair.behind].mover.start_origin
        room_m = pair.room_m + max(room_m, self._kept_m(pair), self.least_m)
        return at_least(along.minus(behind), room_m, what, "m", origin)

    def _along(self, pair: Pair, ahead: Affine) -> Affine:
        if pair.along is None:
            return ahead
        if not ahead.terms:
            return Affine(pair.along(ahead.constant)[0])
        label = f"{pair.ahead} on the path of {pair.behind}, {len(self.model.relations)}"
        value, rate = unknown(label), unknown(f"{label}: speed")
        self.model.relations.append(
            Relation(label, ahead, value, Affine(), rate, pair.along, pair.bounds)
        )
        return value

    def ask(self, motions: Mapping[str, MoverReading], values: Values) -> bool:
        """Ask for room where a plan comes too near; says whether it does anywhere. motions: by mover, of the plan."""
        found = False
        for pair in self.pairs:
            time = self._nearest(pair, motions, values)
            if time is not None:
                courses = self.model.courses[pair.behind], self.model.courses[pair.ahead]
                since, after = since_phase(courses, time, values)
                found |= self._ask(pair, Apart(pair.behind, pair.ahead, since, after))
        return found

    def moments(self) -> Iterator[Apart]:
        """Give the moments at which one of a pair changes phase."""
        for pair in self.pairs:
            for name in (pair.behind, pair.ahead):
                for step in self.model.courses[name].steps:
                    yield Apart(pair.behind, pair.ahead, (name, step.index), 0.0)

    def _ask(self, pair: Pair, moment: Apart) -> bool:
        """Ask for room at a moment, if that has not been asked for; says whether it has not.

        Of ramps of any shape a plan has one: it may be too near where others are not.
        """
        if any(
            (one.behind, one.ahead, one.since) == (moment.behind, moment.ahead, moment.since)
            and abs(one.after_s - moment.after_s) < SAME_S
            for one in self.asked
        ):
            return False
        self.asked.append(moment)
        self._keep_apart(pair, moment)
        return True

    def ask_again(self, asked: Sequence[Apart]) -> None:
        """Ask for what has been asked of another model of the same movers."""
        for one in asked:
            for pair in self.pairs:
                if (pair.behind, pair.ahead) == (one.behind, one.ahead):
                    self._keep_apart(pair, one)

    def _nearest(
        self, pair: Pair, motions: Mapping[str, MoverReading], values: Values
    ) -> float | None:
        """When the room is least before they meet as intended, if it is less than none."""
        met = self._meets_s(pair, values)
        looks = looks_at(motions, (pair.behind, pair.ahead))
        times = [time for time in looks if time < met - EARLIER_S]
        if not times:
            return None
        behind, ahead = motions[pair.behind], motions[pair.ahead]
        seen = None
        if pair.along is None:
            seen = ahead.stations_m(times) - behind.stations_m(times) - pair.room_m
        room, time = least_of(
            times, lambda one: pair.apart_m(behind.at(one)[0], ahead.at(one)[0]), seen
        )
        return None if room > self._kept_m(pair) - TOUCHING_M else time

    def _kept_m(self, pair: Pair) -> float:
        """The room that is kept throughout: none between two that are to touch."""
        return 0.0 if any(True for _ in self._contacts(pair)) else self.apart_m

    def _meets_s(self, pair: Pair, values: Values) -> float:
        return min((one.at(values) for one in self._contacts(pair)), default=math.inf)

    def _contacts(self, pair: Pair) -> Iterator[Affine]:
        both = {pair.behind, pair.ahead}
        for encounter in self.model.problem.encounters:
            # One that stands is met at a point.
            touches = isinstance(encounter, (ContactPoint, ContactTrack))
            if touches and set(encounter.pair) == both:
                yield self.model.met[encounter.name].time

    def _keep_apart(self, pair: Pair, asked: Apart) -> None:
        time = self.model.time_since(asked.since).plus(asked.after_s)
        label = f"moment {len(self.model.looks)} of {pair.behind} behind {pair.ahead}"
        behind, ahead = (self.model.look(name, time, label) for name in (pair.behind, pair.ahead))
        for look in (behind, ahead) if self.model.anyhow else ():
            keep_pace_with_others(self.model, look)
        what = f"{pair.behind} stays behind {pair.ahead}"
        apart = self._row(pair, behind.station, ahead.station, what)
        met = [(at_least(time, contact, "", "s"),) for contact in self._contacts(pair)]
        if met:
            self.model.choices.append(Choice(label, ((apart,), *met)))
        else:
            self.model.rows.append(apart)


def _line(contact: ContactTrack) -> Curve:
    def along(station_m: float) -> tuple[float, float]:
        return contact.a0_m + contact.slope * (station_m - contact.b0_m), contact.slope

    return along
