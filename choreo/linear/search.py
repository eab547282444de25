"""Branch and bound over what is not linear: into which phase a time falls, and where on a curve.

A look in a hold or at rest is linear. In a ramp, way and speed are curves over the time since the ramp began, and two
lanes' stations may be a curve of each other: they are held between straight lines that contain the curve over an
interval, the interval is narrowed to what the other rows leave of it, and cut until the curve itself is met. Every node
is a linear problem that contains all plans below it, so what is cut off has none, and the least objective found is the
least there is.
Sources: Land and Doig 1960 (branch and bound); Falk and Soland 1969 (enveloping curves over cut intervals); the
narrowing is known as optimality-based bound tightening. From memory.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from itertools import count

from choreo.linear.affine import Affine, unknown
from choreo.linear.curves import Curved, Interval
from choreo.linear.model import Model
from choreo.linear.nodes import OPEN, Node, with_interval
from choreo.linear.records import Look
from choreo.linear.rows import Block, Row, at_least, block_of
from choreo.linear.spots import BEFORE, PAST, Values, falls, in_ramp, interval_of, placed
from choreo.problem.linear import LinearProblem, Vector
from choreo.problem.patience import TimeUp
from choreo.words.records import dataclass

LinearSolver = Callable[[LinearProblem], Vector | None]

# A plan's station and speed may be this far (m, m/s) from a curve.
MEETS = 1e-9
# The objective is known to this (m or s).
GAP = 1e-7
# No more linear problems than this are solved for one question.
MOST_SOLVED = 1500
# ... and geometry isn't asked for more values of curved relations than this.
MOST_ASKED = 3000
# A curve's interval is narrowed again while that takes more than this share of it.
NARROWER = 0.3
# An interval that is shorter than this (s or m) is not cut.
LEAST_CUT = 1e-9
NEWTON = 12
# What a step along a curve costs beside the objective where the nearest place on it is looked for.
NEAR = 10.0
# So many ways to do it are compared for the one that misses by least.
MOST_COMPARED = 60
# What has to be on one side and is missed by no more (m or s) lies on the border itself: nobody can set it so.
SIDE = 1e-4

# A node in line: bound in steps of the gap, how much is decided (negative), a number; bound, node, solution.
Waiting = tuple[int, int, int, float, Node, Values]


@dataclass(frozen=True)
class Excluded:
    """Sets of rows of which none can hold whole, and one of which must: together they leave no plan."""

    search: Search
    nodes: tuple[Node, ...]

    def nearest(
        self, miss: Callable[[Sequence[Row]], float], most: int = MOST_COMPARED
    ) -> tuple[Row, ...]:
        """Give the rows that miss by the least: with what they lack, a plan would come together.

        most: ways to do it that are compared.
        """
        deepest = sorted(self.nodes, key=lambda one: -one.depth)
        every = [(self.search.rows(node), node) for node in deepest[:most]]

        def missed(one: tuple[Sequence[Row], Node]) -> float:
            by = miss(one[0])
            return math.inf if 0.0 < by <= SIDE and self.search.on_a_side(one[1]) else by

        return every[0][0] if len(every) == 1 else min(every, key=missed)[0]


@dataclass(frozen=True)
class Found:
    """The least plan's unknowns, or None; complete: nothing was left undecided. excluded: why there is none.

    passed_over: what might happen inside of ramps whose shape is open was not looked at.
    """

    values: Values | None
    objective: float
    node: Node
    complete: bool = True
    excluded: Excluded | None = None
    solved: int = 0
    passed_over: bool = False


class Search:
    """One model's search.

    cost: what is minimised, to `gap`; solve: gives x of a linear problem, or None; most: linear problems until it gives
    up. nearest: a cost that leaves times open does not lead onto the curves; then the nearest place on them is looked
    for as well. dropped: somewhere no place on the curves was found, though nothing says that there is none.
    """

    def __init__(
        self,
        model: Model,
        cost: Affine,
        solve: LinearSolver,
        gap: float = GAP,
        most: int = MOST_SOLVED,
        *,
        nearest: bool = False,
    ) -> None:
        self.model = model
        self.nearest = nearest
        self.dropped = False
        self.cost = cost
        self.solve = solve
        self.gap = gap
        self.most = most
        self.solved = 0
        self.passed_over = False
        self.best: Found | None = None
        self._blocks: dict[tuple[tuple[int, ...], tuple[int, ...]], Block] = {}
        self._bent: dict[tuple[int, ...], Sequence[Curved]] = {}
        self._ramps: dict[tuple[int, int], Curved | None] = {}

    def run(self, earlier: Found | None = None) -> Found:
        """Find the least cost, or that there is no plan. earlier: a plan of fewer rows, to look beside it first.

        Raises TimeUp, as `solve` does, where no plan has been found yet.
        """
        try:
            return self._run(earlier)
        except TimeUp:
            if self.best is None:
                raise
            return replace(self.best, solved=self.solved, complete=False)

    def _run(self, earlier: Found | None) -> Found:
        order, root = count(), self._root()
        first = self._minimum(root)
        if first is None:
            return self._none(root)
        heap = [self._waiting(first, next(order), root)]
        self.best = best = None if earlier is None else self._beside(earlier)
        failed: list[Node] = []
        while heap and not self._enough():
            _, _, _, bound, node, values = heapq.heappop(heap)
            if best is not None and bound >= best.objective - self.gap:
                continue
            broken = self._broken(node, values)
            if broken is None and self._spotted(node) and not self._holds(node, best):
                met = self._met(node, values)
                broken = None if met is None else self._broken(node, met.values or {})
                better = met is not None and (best is None or met.objective < best.objective)
                if met is not None and broken is None and better:
                    whole = replace(met.node, chosen=self._ways(node, met.values or {}))
                    self.best = best = replace(met, node=whole)
                if best is not None and bound >= best.objective - self.gap:
                    continue
            for child in self._children(node, values, broken):
                found = self._minimum(child)
                if found is None:
                    failed.append(child)
                elif best is None or found[0] < best.objective - self.gap:
                    heapq.heappush(heap, self._waiting(found, next(order), child))
        if best is not None:
            return replace(best, solved=self.solved, complete=not self._enough())
        if heap or self.dropped:
            return Found(None, math.inf, root, complete=False, solved=self.solved)
        return self._none(*(failed or [root]))

    def _root(self) -> Node:
        """Nothing is decided yet."""
        intervals = tuple(one.bounds for one in self.model.relations)
        return Node(chosen=(OPEN,) * len(self.model.choices), intervals=intervals)

    def _waiting(self, found: tuple[float, Values], order: int, node: Node) -> Waiting:
        """A node in line: the least bound first; among those that are as good the one of which most is decided."""
        return math.floor(found[0] / self.gap), -node.depth, order, found[0], node, found[1]

    def _enough(self) -> bool:
        asked = sum(one.asked for one in self.model.relations)
        return self.solved >= self.most or asked >= MOST_ASKED

    def _none(self, *nodes: Node) -> Found:
        excluded = Excluded(self, nodes)
        return Found(None, math.inf, nodes[0], True, excluded, self.solved, self.passed_over)

    def rows(self, node: Node) -> tuple[Row, ...]:
        """Give all rows of a node."""
        return tuple(self._rows(node))

    # ---- linear problems

    def _minimum(self, node: Node, cost: Affine | None = None) -> tuple[float, Values] | None:
        return self._least(node, list(self._around(node)), self.cost if cost is None else cost)

    def _least(self, node: Node, bent: Sequence[Row], cost: Affine) -> tuple[float, Values] | None:
        """The least cost under a node's straight rows and rows that stand for its curves."""
        self.solved += 1
        where = node.chosen, node.spots
        if where not in self._blocks:
            self._blocks[where] = block_of(list(self._straight(node)))
        problem, names = self._blocks[where].problem(bent, cost)
        x = self.solve(problem)
        if x is None:
            return None
        values = dict(zip(names, x.tolist(), strict=True))
        return cost.at(values), values

    def _rows(self, node: Node) -> Iterator[Row]:
        yield from self._straight(node)
        yield from self._around(node)

    def _around(self, node: Node) -> Iterator[Row]:
        for curve, interval in zip(self._curves(node), node.intervals, strict=True):
            yield from curve.within(interval)

    def _straight(self, node: Node) -> Iterator[Row]:
        yield from self.model.rows
        for choice, index in zip(self.model.choices, node.chosen, strict=False):
            if index != OPEN:
                yield from choice.ways[index]
        for look, spot in zip(self.model.looks, node.spots, strict=False):
            yield from placed(self.model.courses[look.mover], look, spot)

    def _curves(self, node: Node) -> Sequence[Curved]:
        """The curves of a node, in the order of its intervals: relations first, then looks in ramps."""
        known = self._bent.get(node.spots)
        if known is None:
            ramps = (self._ramp(*one) for one in enumerate(node.spots))
            known = (*self.model.relations, *(one for one in ramps if one is not None))
            self._bent[node.spots] = known
        return known

    def _ramp(self, number: int, spot: int) -> Curved | None:
        """The curve that a look is on at a spot, the very same in all nodes; None where it is on none."""
        if (number, spot) not in self._ramps:
            look = self.model.looks[number]
            self._ramps[number, spot] = in_ramp(self.model.courses[look.mover], look, spot)
        return self._ramps[number, spot]

    # ---- a node of which all is decided but where on curves

    def _spotted(self, node: Node) -> bool:
        return len(node.spots) == len(self.model.looks)

    def _broken(self, node: Node, values: Values) -> int | None:
        """The first open choice of which values hold no way; only such a one has to be made."""
        ways = self._ways(node, values)
        return ways.index(OPEN) if OPEN in ways else None

    def _ways(self, node: Node, values: Values) -> tuple[int, ...]:
        """The ways taken, and of open choices those that values hold and that agree (OPEN where there is none)."""
        ways = list(node.chosen)
        for number, choice in enumerate(self.model.choices):
            if ways[number] == OPEN:
                held = (way for way in choice.held(values) if self._agrees(ways, number, way))
                ways[number] = next(held, OPEN)
        return tuple(ways)

    def _holds(self, node: Node, best: Found | None) -> bool:
        """Whether the best plan is one of a node's: Newton's way would lead there once more."""
        if best is None or best.node.spots != node.spots:
            return False
        if any(
            mine not in (OPEN, its) for mine, its in zip(node.chosen, best.node.chosen, strict=True)
        ):
            return False
        places = (curve.unknown.at(best.values or {}) for curve in self._curves(node))
        return all(
            low - LEAST_CUT <= at <= high + LEAST_CUT
            for at, (low, high) in zip(places, node.intervals, strict=True)
        )

    def _beside(self, earlier: Found) -> Found | None:
        """A plan that does as an earlier one in all that was decided there; what is new falls where it fell there."""
        values, model = earlier.values, self.model
        if values is None or len(earlier.node.chosen) < len(model.choices):
            return None
        spots = list(earlier.node.spots)
        for look in model.looks[len(spots) :]:
            if any(name not in values for name in look.time.terms):
                return None
            spots.append(falls(model.courses[look.mover], look.time.at(values), values))
        node = self._node(earlier.node.chosen, tuple(spots))
        if node is None:
            return None
        if any(name not in values for one in self._curves(node) for name in one.unknown.terms):
            return None
        return self._met(node, values, known=False)

    def _node(self, chosen: tuple[int, ...], spots: tuple[int, ...]) -> Node | None:
        """The node of ways and spots whose curves are whole; None where a spot is not looked at."""
        model = self.model
        intervals = [one.bounds for one in model.relations]
        for look, spot in zip(model.looks, spots, strict=True):
            step = model.courses[look.mover].steps[spot] if spot >= 0 else None
            if step is None or step.profile is None:
                continue
            if step.lasts is not None and not step.anyhow:
                return None  # where in a ramp whose rate is open is not looked at
            intervals.append(interval_of(step, step.profile))
        return Node(chosen, spots, tuple(intervals))

    def _met(self, node: Node, values: Values, known: bool = True) -> Found | None:
        """Newton's way onto a node's curves from values, which are a solution of the node if they are `known` to be."""
        found = self._onto(node, values, known=known)
        if found is None and self.nearest:
            found = self._onto(node, values, known=known, near=True)
        return found

    def _onto(self, node: Node, values: Values, *, known: bool, near: bool = False) -> Found | None:
        """Newton's way by least cost, or (near) going as little as it can along each curve."""
        curves = self._curves(node)
        for number in range(NEWTON):
            if (known or number) and all(curve.error(values) <= MEETS for curve in curves):
                return Found(values, self.cost.at(values), node)
            rows: list[Row] = []
            cost = self.cost
            for index, curve in enumerate(curves if near else ()):
                away = unknown(f"how far along curve {index}")
                gone = curve.unknown.minus(curve.unknown.at(values))
                rows += [at_least(away, gone), at_least(away, gone.times(-1.0))]
                cost = cost.plus(away, NEAR)
            for curve, (low, high) in zip(curves, node.intervals, strict=True):
                rows += curve.touching(min(max(curve.unknown.at(values), low), high))
                rows.append(Row(curve.unknown, low, high))
            found = self._least(node, rows, cost)
            if found is None:
                return None
            values = found[1]
        return None

    # ---- children

    def _children(self, node: Node, values: Values, broken: int | None) -> Iterator[Node]:
        if broken is not None or not self._spotted(node):
            yield from self._decided(node, broken)
        else:
            yield from self._cut(node, values)

    def _decided(self, node: Node, broken: int | None) -> Iterator[Node]:
        """One more thing decided, in all ways: an open choice, or else into which phase the next look falls."""
        if broken is None:
            yield from self._spots(node, self.model.looks[len(node.spots)])
            return
        before, after = node.chosen[:broken], node.chosen[broken + 1 :]
        for index in range(len(self.model.choices[broken].ways)):
            if self._agrees(node.chosen, broken, index):
                yield replace(node, chosen=(*before, index, *after))

    def _agrees(self, chosen: Sequence[int], number: int, way: int) -> bool:
        """Whether a way of a choice has nothing on another side than the ways that are chosen."""
        choice = self.model.choices[number]
        taken = zip(self.model.choices, chosen, strict=True)
        others = (one.side(way) for one, way in taken if way != OPEN and one.about == choice.about)
        return (side := choice.side(way)) == 0 or all(other in (0, side) for other in others)

    def on_a_side(self, node: Node) -> bool:
        """Whether a node has something on one side, which it may miss by as little as there is."""
        chosen = zip(self.model.choices, node.chosen, strict=True)
        return any(way != OPEN and one.side(way) != 0 for one, way in chosen)

    def _spots(self, node: Node, look: Look) -> Iterator[Node]:
        course = self.model.courses[look.mover]
        chosen, intervals = node.chosen, node.intervals
        yield Node(chosen, (*node.spots, BEFORE), intervals)
        last = len(course.steps) if look.latest is None else look.latest + 1
        for step in course.steps[:last]:
            if step.lasts is not None and not step.anyhow:
                self.passed_over = True  # where in a ramp whose rate is open: not looked at
            elif step.profile is not None:
                more = interval_of(step, step.profile)
                yield Node(chosen, (*node.spots, step.index), (*intervals, more))
            elif not (step.stands and step.index == 0):
                yield Node(chosen, (*node.spots, step.index), intervals)
        if look.latest is None:
            yield Node(chosen, (*node.spots, PAST), intervals)

    def _cut(self, node: Node, values: Values) -> Iterator[Node]:
        """Narrow the curve that is farthest from being met; cut it where narrowing takes little."""
        curves = self._curves(node)
        errors = [curve.error(values) for curve in curves]
        if not errors or max(errors) <= MEETS:
            return
        number = errors.index(max(errors))
        low, high = node.intervals[number]
        left = self._narrowed(node, curves[number].unknown, (low, high))
        if left is None:
            return
        if left[1] - left[0] < (1.0 - NARROWER) * (high - low):
            yield with_interval(node, number, left)
            return
        low, high = left
        if high - low < LEAST_CUT:
            self.dropped = True
            return
        middle = curves[number].unknown.at(values)
        if not 0.1 < (middle - low) / (high - low) < 0.9:
            middle = (low + high) / 2.0
        yield with_interval(node, number, (low, middle))
        yield with_interval(node, number, (middle, high))

    def _narrowed(self, node: Node, unknown: Affine, interval: Interval) -> Interval | None:
        rows = list(self._around(node))
        least = self._least(node, rows, unknown)
        most = self._least(node, rows, unknown.times(-1.0))
        if least is None or most is None:
            self.dropped = True
            return None
        low = max(interval[0], least[0] - LEAST_CUT)
        high = min(interval[1], -most[0] + LEAST_CUT)
        self.dropped |= low > high
        return (low, high) if low <= high else None
