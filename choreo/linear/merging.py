"""Movers whose ways join one lane: once both are in it, one stays behind the other.

That is asked for only where a found plan makes them touch, and from then on at the times at which plans bring them too
near. Who is ahead is as that plan has it, and the times may fall before the two are in one lane in another plan: these
rows find a plan, but prove nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from choreo.linear.affine import Affine, unknown
from choreo.linear.curves import Relation
from choreo.linear.looking import looks_at, since_phase
from choreo.linear.model import Model
from choreo.linear.rows import at_least
from choreo.linear.spots import Values
from choreo.solve.reading import MoverReading
from choreo.words.records import dataclass

# A plan keeps the room that is asked for to this (m).
SAME_M = 1e-6


@dataclass(frozen=True)
class Merging:
    """Two of which one comes into the lane of the other; behind, ahead: by name.

    along: where on the path of the one behind the facing end of the one ahead is, by its station in m, with its slope.
    front_m: of the one behind. in_lane: whether the one ahead is in its lane at a station in m.
    """

    behind: str
    ahead: str
    along: Callable[[float], tuple[float, float]]
    front_m: float
    in_lane: Callable[[float], bool]

    def room_m(self, behind_m: float, ahead_m: float) -> float:
        """Give the gap between the two at their stations; negative where one is in the other."""
        return self.along(ahead_m)[0] - self.front_m - behind_m


class Merges:
    """The pairs that are kept apart from when both are in one lane."""

    def __init__(self, model: Model, pairs: Sequence[Merging], room_m: float) -> None:
        self.model = model
        self.pairs = pairs
        self.room_m = room_m

    def ask(self, motions: Mapping[str, MoverReading], values: Values) -> bool:
        """Ask for room where a plan leaves too little of it; says whether it does anywhere."""
        found = False
        for pair in self.pairs:
            time_s = self._worst(pair, motions)
            if time_s is not None:
                self._ask_at(pair, time_s, values)
                found = True
        return found

    def _worst(self, pair: Merging, motions: Mapping[str, MoverReading]) -> float | None:
        """When the room between two in one lane is least, where it is less than what is asked for."""
        behind, ahead = motions[pair.behind], motions[pair.ahead]
        least, worst = self.room_m - SAME_M, None
        for time_s in looks_at(motions, (pair.behind, pair.ahead)):
            (at_behind, _), (at_ahead, _) = behind.at(time_s), ahead.at(time_s)
            if pair.in_lane(at_ahead):
                room_m = pair.room_m(at_behind, at_ahead)
                if room_m < least:
                    least, worst = room_m, time_s
        return worst

    def _ask_at(self, pair: Merging, time_s: float, values: Values) -> None:
        model = self.model
        courses = [model.courses[name] for name in (pair.behind, pair.ahead)]
        since, after_s = since_phase(courses, time_s, values)
        time = model.time_since(since).plus(after_s)
        label = f"{pair.behind} behind {pair.ahead}, {len(model.looks)}"
        behind, ahead = (model.look(course.mover.name, time, label) for course in courses)
        value, rate = unknown(f"{label}: along"), unknown(f"{label}: speed")
        mover = courses[1].mover
        bounds = (mover.start.lo, mover.room.hi)
        relation = Relation(label, ahead.station, value, Affine(), rate, pair.along, bounds)
        model.relations.append(relation)
        room = value.minus(behind.station)
        model.rows.append(at_least(room, pair.front_m + self.room_m, label, "m"))
