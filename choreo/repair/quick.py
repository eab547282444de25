"""What helps, and how much room is left, where rates and speeds are given: by rows, or by simulating their plan."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import field, replace
from functools import partial

from choreo.case import Case, Glance, Quantity, glance
from choreo.problem.patience import Patience, TimeUp
from choreo.repair.changes import (
    FINE,
    STEPS,
    Margin,
    Moves,
    feasible_plan,
    margin_at,
    room_of,
)
from choreo.repair.edges import BY_ROWS, Look, Ray, begins, ends
from choreo.words.records import dataclass

# Of two that must change together, the first is one of so many that take most of the miss away.
FIRST_OF_PAIRS = 3
# Where each look is a plan, an edge is known to this share of a quantity's size.
PLANNED = 1 / 1000
# A miss that differs by less than this share is the same.
SAME = 1e-6


@dataclass()
class Looks:
    """The looks at one case and its neighbours.

    at_first: what `look` says of the case itself.
    """

    case: Case
    at_first: Glance
    patience: Patience
    look: Look = BY_ROWS
    rays: list[Ray] = field(default_factory=list)

    def moves(self, quantities: Sequence[Quantity]) -> Iterator[tuple[Quantity, Moves | None]]:
        """Give for each quantity the least move of it alone that works, or None; as long as there is time."""
        for quantity in quantities:
            self.patience.step(f"looking for what would help: {quantity.name}")
            try:
                yield quantity, self._least(quantity)
            except TimeUp:
                return

    def _least(self, quantity: Quantity) -> Moves | None:
        best: float | None = None
        for sign in quantity.helps:
            room = abs(room_of(quantity, sign))
            if not _has_room(quantity, sign, room):
                continue
            ray = self._ray(quantity, sign)
            far = begins(ray, room, self._fine(quantity))
            if far is not None and (best is None or far < abs(best - quantity.value)):
                best = ray.value(far)
        return None if best is None else ((quantity, best),)

    def beyond(self, moves: Moves) -> Moves | None:
        """Give the least move of one quantity beyond one that rows allow and a simulation does not, or None.

        Rows leave out some of what a ramp must keep on its way, in bends say: from there on each look is a plan.
        """
        ((quantity, value),) = moves
        sign = 1 if value > quantity.value else -1
        look = replace(BY_ROWS, ask=partial(_planned, self.patience.quiet()), share=PLANNED)
        ray = Ray(self.case, quantity, sign, self.patience, {0.0: self.at_first}, look)
        room, fine = (
            abs(room_of(quantity, sign)),
            max(self._fine(quantity), PLANNED * quantity.size),
        )
        try:
            far = begins(ray, room, fine, abs(value - quantity.value))
        except TimeUp:
            return None
        return None if far is None else ((quantity, ray.value(far)),)

    def _fine(self, quantity: Quantity) -> float:
        return max(FINE * STEPS[quantity.unit], self.look.share * quantity.size)

    def _ray(self, quantity: Quantity, sign: int) -> Ray:
        ray = Ray(self.case, quantity, sign, self.patience, {0.0: self.at_first}, self.look)
        self.rays.append(ray)
        return ray

    def pairs(self, quantities: Sequence[Quantity]) -> list[Moves]:
        """Give two moves together where no single one works, least first.

        One goes as far as takes most of the miss away, the other does the rest; then the first goes back as far as
        it may.
        """
        found: list[tuple[float, Moves]] = []
        try:
            for first, far in self._most_helpful():
                self.patience.step(f"looking for two that help: {first.quantity.name} and another")
                found += self._with_another(first, far, quantities)
        except TimeUp:
            pass
        return [moves for _, moves in sorted(found, key=lambda one: one[0])]

    def _most_helpful(self) -> list[tuple[Ray, float]]:
        """The rays that take most of the miss away, and the least distance at which they do."""
        ways = []
        for ray in self.rays:
            known = [(one.miss, far) for far, one in ray.known.items() if one.works is False]
            least = min(miss for miss, _ in known)
            if least < self.at_first.miss * (1.0 - SAME):
                far = min(far for miss, far in known if miss <= least * (1.0 + SAME))
                ways.append((least, far, ray))
        ways.sort(key=lambda one: one[0])
        return [(ray, far) for _, far, ray in ways[:FIRST_OF_PAIRS]]

    def _with_another(
        self, first: Ray, far: float, quantities: Sequence[Quantity]
    ) -> Iterator[tuple[float, Moves]]:
        moved = self.case.with_(first.quantity, first.value(far))
        looks = Looks(moved, first.at(far), self.patience, self.look)
        for other in quantities:
            second = None if other.name == first.quantity.name else looks._least(other)
            if second is None:
                continue
            ((_, value),) = second
            beside = self.case.with_(other, value)
            back = Ray(beside, first.quantity, first.sign, self.patience, look=self.look)
            least = begins(back, far, self._fine(first.quantity))
            if least is not None:
                relative = least / first.quantity.size + abs(value - other.value) / other.size
                yield relative, ((first.quantity, first.value(least)), (other, value))

    def margins(self, quantity: Quantity) -> list[Margin]:
        """Give how far a quantity can go in each direction that hurts. Raises TimeUp."""
        self.patience.step(f"looking for the room that is left: {quantity.name}")
        found = []
        for sign in sorted({-one for one in quantity.helps}):
            room = abs(room_of(quantity, sign))
            if not _has_room(quantity, sign, room):
                continue
            ray = self._ray(quantity, sign)
            far, open_beyond = ends(ray, room, self._fine(quantity))
            edge = None if far is None else ray.value(far)
            found.append(replace(margin_at(quantity, sign, edge), open_beyond=open_beyond))
        return found


def _planned(patience: Patience, case: Case, most: int) -> Glance:
    """What rows say, and where they hold whether the simulation of their plan agrees."""
    rows = glance(case, most)
    if rows.works is not True:
        return rows
    return rows if feasible_plan(case, linear=True, patience=patience) else Glance(None)


def _has_room(quantity: Quantity, sign: int, room: float) -> bool:
    return room_of(quantity, sign) * sign > 0 and room > 0
