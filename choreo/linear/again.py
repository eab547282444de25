"""A search done again beside a neighbour's: another problem of the same rows, with other numbers.

What the neighbour's search came to is a tree: what was decided, and for every leaf multipliers of its rows that prove
that nothing there is any better. A plan that does as the neighbour's plan did is found by Newton's way. Multipliers
for the new numbers follow from which rows count, by a few linear equations, and prove every leaf anew; what they don't
prove is searched from the start. So the least plan is the least there is, whoever was looked at before.
Source: any text on linear programming, under duality; from memory.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import field, replace
from itertools import pairwise
from typing import Any

import numpy as np

from choreo.linear.affine import Affine
from choreo.linear.curves import Interval, Relation
from choreo.linear.following import Following, following_of
from choreo.linear.model import Model
from choreo.linear.multipliers import (
    Place,
    Proof,
    bound_of,
    multipliers_of,
    proof_of,
)
from choreo.linear.nodes import OPEN, Node, with_interval
from choreo.linear.records import HOLDS
from choreo.linear.rows import Row, Written, block_of
from choreo.linear.search import LEAST_CUT, MEETS, NEWTON, Found, LinearSolver, Search
from choreo.linear.spots import Values, placed
from choreo.words.records import dataclass

# A row that misses by no more (m or s) is left to the linear solver.
MISSED = 1e-7
# A search of fewer linear problems is as quick from the start.
LEAST_SOLVED = 4
# A plan that is off its curves by no more (m, s or m/s) has arrived on them.
SETTLED = 1e-11
# Intervals begin and end at round numbers, so that neighbours ask for the same ones: parts of so much of their length.
ROUND = 1 / 8
# After so many searches more that could not be done again than could, none is kept any more.
MOST_FAILED = 8


@dataclass(frozen=True, slots=True)
class Branched:
    """What was decided next, all ways of it. broken: the choice, None for a look."""

    broken: int | None
    trees: tuple[Tree, ...]


@dataclass(frozen=True, slots=True)
class Narrowed:
    """A curve's interval narrowed by two bounds, and where it was cut then, as a share of it."""

    number: int
    low: Proof | None
    high: Proof | None
    share: float | None
    trees: tuple[Tree, ...]


Tree = Proof | Branched | Narrowed


@dataclass()
class Kept:
    """What a search came to.

    node: where its plan was found, choices open that needed no way. plan: how it follows there, None where it doesn't.
    """

    node: Node
    values: Values
    tree: Tree
    plan: Following | None = None


@dataclass()
class Memory:
    """What searches of neighbours came to, by the structure of their rows."""

    kept: dict[Any, Kept] = field(default_factory=dict)
    relations: dict[str, Relation] = field(default_factory=dict)
    failed: int = 0


class Again(Search):
    """A search that first does as a neighbour's did, and is kept for neighbours."""

    def __init__(
        self, model: Model, cost: Affine, solve: LinearSolver, most: int, memory: Memory
    ) -> None:
        super().__init__(model, cost, solve, most=most)
        self.memory = memory
        self._below: dict[Node, list[Node]] = {}
        self._origins: list[tuple[Node, Values]] = []
        self._round: dict[tuple[int, Interval], Written] = {}
        self._spotted_rows: dict[tuple[int, int], Written] = {}

    def run(self, earlier: Found | None = None) -> Found:
        """As Search.run."""
        model = self.model
        if self.memory.failed > MOST_FAILED or not (
            model.relations or model.looks or model.choices
        ):
            return super().run(earlier)
        self._take_over()
        structure = self._structure()
        kept = self.memory.kept.get(structure)
        if kept is not None:
            found = self._done_again(kept)
            self.memory.failed = max(self.memory.failed + (1 if found is None else -1), 0)
            if found is not None:
                return found
        found = super().run(earlier)
        if found.values is None or not found.complete or self.dropped or self.passed_over:
            return found
        if self.solved < LEAST_SOLVED:
            return found
        node = next((node for node, values in self._origins if values is found.values), None)
        if node is None:
            return found
        self.best = found
        tree = self._tree(self._root())
        if tree is not None:
            self.memory.kept[structure] = self._kept(node, found.values, tree)
        return self._settled(node, found) or found

    def _structure(self) -> Any:
        """All of the rows but their numbers."""
        model = self.model
        return (
            tuple(tuple(row.expression.terms) for row in model.rows),
            tuple((one.label, len(one.ways)) for one in model.choices),
            tuple(one.label for one in model.looks),
            tuple(one.label for one in model.relations),
            tuple(self.cost.terms),
        )

    def _take_over(self) -> None:
        """What is known of curves that are the very same as before."""
        relations = self.memory.relations
        for number, one in enumerate(self.model.relations):
            before = relations.get(one.label)
            if before is not None and before.same_curve(one):
                self.model.relations[number] = one.beside(before)
            relations[one.label] = self.model.relations[number]

    # ---- keeping

    def _children(self, node: Node, values: Values, broken: int | None) -> Iterator[Node]:
        self._below[node] = below = list(super()._children(node, values, broken))
        yield from below

    def _met(self, node: Node, values: Values, known: bool = True) -> Found | None:
        met = super()._met(node, values, known)
        if met is not None and met.values is not None:
            self._origins.append((node, met.values))
        return met

    def _tree(self, node: Node) -> Tree | None:
        """What the search came to from a node on; None where a leaf can't be proved by its multipliers."""
        below = self._below.get(node)
        if not below:
            return self._leaf(node)
        if len(below[0].spots) > len(node.spots):
            return self._branched(None, below)
        if below[0].chosen != node.chosen:
            pairs = zip(node.chosen, below[0].chosen, strict=True)
            return self._branched(next(i for i, (a, b) in enumerate(pairs) if a != b), below)
        number = next(i for i, one in enumerate(node.intervals) if one != below[0].intervals[i])
        low, high = below[0].intervals[number][0], below[-1].intervals[number][1]
        share = None
        if len(below) > 1:
            share = (below[0].intervals[number][1] - low) / (high - low)
        trees = [self._tree(one) for one in below]
        if any(one is None for one in trees):
            return None
        at = self._curves(node)[number].unknown
        ends = (self._proof(node, at), self._proof(node, at.times(-1.0)))
        return Narrowed(number, *ends, share, tuple(one for one in trees if one is not None))

    def _branched(self, broken: int | None, below: Sequence[Node]) -> Branched | None:
        trees = [self._tree(one) for one in below]
        kept = tuple(one for one in trees if one is not None)
        return Branched(broken, kept) if len(kept) == len(trees) else None

    def _leaf(self, node: Node) -> Proof | None:
        """Why nothing of a node is better than the best plan."""
        proof = self._proof(node, self.cost)
        if proof is None:
            proof = self._conflict(node)
        return proof if proof is not None and self._closes(node, proof) else None

    def _proof(self, node: Node, cost: Affine) -> Proof | None:
        """The rows whose multipliers give the largest bound of a cost."""
        places, rows = self._placed(node)
        block = block_of(rows)
        problem, names = block.problem([], cost)
        signed = multipliers_of(
            problem.matrix, problem.row_lo, problem.row_hi, problem.cost, self.solve
        )
        return None if signed is None else proof_of(places, rows, names, signed)

    def _conflict(self, node: Node) -> Proof | None:
        """Rows that can't all hold: all but one bound that one beyond its side."""
        places, rows = self._placed(node)
        block = block_of(rows)
        signed = multipliers_of(block.matrix, block.lo, block.hi, None, self.solve)
        if signed is None:
            return None
        worst = int(np.argmax(np.abs(signed)))
        beyond = 1.0 if signed[worst] < 0.0 else -1.0
        signed /= abs(signed[worst])
        signed[worst] = 0.0
        proof = proof_of(places, rows, block.names, signed)
        return None if proof is None else replace(proof, row=places[worst], beyond=beyond)

    def _placed(self, node: Node) -> tuple[list[Place], list[Row]]:
        placed = [
            ((number, index), row)
            for number in range(self._parts(node))
            for index, row in enumerate(self._part(node, number))
        ]
        return [place for place, _ in placed], [row for _, row in placed]

    def _parts(self, node: Node) -> int:
        return 1 + len(node.chosen) + len(node.spots) + len(node.intervals)

    def _part(self, node: Node, number: int) -> Sequence[Row] | Written:
        """The rows of the model, of a choice's way, of a look's spot, or round a curve, counted in this order."""
        if number == 0:
            return self.model.rows
        number -= 1
        if number < len(node.chosen):
            way = node.chosen[number]
            return () if way == OPEN else self.model.choices[number].ways[way]
        number -= len(node.chosen)
        if number < len(node.spots):
            return self._placed_in(number, node.spots[number])
        number -= len(node.spots)
        curve, interval = self._curves(node)[number], node.intervals[number]
        asked = id(curve), interval
        if asked not in self._round:
            self._round[asked] = Written(curve.within(interval))
        return self._round[asked]

    def _placed_in(self, number: int, spot: int) -> Written:
        """What a look's spot says, by their numbers."""
        if (number, spot) not in self._spotted_rows:
            look = self.model.looks[number]
            rows = placed(self.model.courses[look.mover], look, spot)
            self._spotted_rows[number, spot] = Written(rows)
        return self._spotted_rows[number, spot]

    # ---- doing again

    def _done_again(self, kept: Kept) -> Found | None:
        """The least plan, where the neighbour's way leads to it and its multipliers prove it."""
        node = self._node(kept.node.chosen, kept.node.spots)
        if node is None or any(
            name not in kept.values for one in self._curves(node) for name in one.unknown.terms
        ):
            return None
        found = self._arrived(node, kept)
        settled = found is not None
        found = found or self._met(node, kept.values, known=False)
        if found is None or found.values is None or self._broken(node, found.values) is not None:
            return None
        self.best = best = replace(found, node=replace(node, chosen=self._ways(node, found.values)))
        if not self._closed(self._root(), kept.tree):
            return None
        kept.values = found.values
        return replace(best, solved=self.solved) if settled else self._settled(node, best)

    def _arrived(self, node: Node, kept: Kept) -> Found | None:
        """The plan that keeps the sides of rows that the neighbour's kept, by Newton's way along the curves.

        That it is the least is proved by multipliers, as for any other; that it keeps all rows is looked at here.
        """
        plan, curves, values = kept.plan, self._curves(node), kept.values
        if plan is None:
            return None
        straight = list(self._straight(node))
        try:
            for _ in range(NEWTON):
                values = plan.values([*straight, *self._tangents(node, values)])
                if all(curve.error(values) <= SETTLED for curve in curves):
                    break
            within = zip(
                (curve.unknown.at(values) for curve in curves), node.intervals, strict=True
            )
            if (
                all(
                    row.lo - HOLDS <= row.expression.at(values) <= row.hi + HOLDS
                    for row in straight
                )
                and all(low <= at <= high for at, (low, high) in within)
                and all(curve.error(values) <= MEETS for curve in curves)
            ):
                return Found(values, self.cost.at(values), node)
        except (KeyError, IndexError, ZeroDivisionError):
            pass  # these rows have other unknowns, or numbers from which nothing follows
        return None

    def _tangents(self, node: Node, values: Values) -> list[Row]:
        return [
            row for curve in self._curves(node) for row in curve.touching(curve.unknown.at(values))
        ]

    def _kept(self, node: Node, values: Values, tree: Tree) -> Kept:
        """What neighbours need."""
        rows, tangents = list(self._straight(node)), self._tangents(node, values)
        return Kept(node, values, tree, following_of(rows, tangents, values))

    def _settled(self, node: Node, found: Found) -> Found | None:
        """A plan exactly on its curves, wherever the way there began."""
        settled = self._onto(node, found.values or {}, known=False)
        if settled is None:
            return None
        return replace(
            found, values=settled.values, objective=settled.objective, solved=self.solved
        )

    def _closed(self, node: Node, tree: Tree) -> bool:
        """Whether nothing of a node is better than the best plan, as a neighbour's tree has it."""
        match tree:
            case Proof():
                return self._closes(node, tree)
            case Branched():
                below = list(self._decided(node, tree.broken))
                return len(below) == len(tree.trees) and all(
                    self._closed(*one) for one in zip(below, tree.trees, strict=True)
                )
            case Narrowed():
                below = self._narrower(node, tree)
                return len(below) == len(tree.trees) and all(
                    self._closed(*one) for one in zip(below, tree.trees, strict=True)
                )

    def _narrower(self, node: Node, tree: Narrowed) -> list[Node]:
        at = self._curves(node)[tree.number].unknown
        low, high = node.intervals[tree.number]
        if tree.low is not None:
            low = max(low, self._bound(node, tree.low, at) - LEAST_CUT)
        if tree.high is not None:
            high = min(high, -self._bound(node, tree.high, at.times(-1.0)) + LEAST_CUT)
        if not low <= high:
            return []
        begin, end = node.intervals[tree.number]
        wide = _round(low, high)
        low, high = max(wide[0], begin), min(wide[1], end)
        ends = [low, high] if tree.share is None else [low, low + tree.share * (high - low), high]
        return [with_interval(node, tree.number, one) for one in pairwise(ends)]

    def _closes(self, node: Node, proof: Proof) -> bool:
        """Whether a proof holds for a node's own numbers."""
        if proof.row is None:
            best = math.inf if self.best is None else self.best.objective
            return self._bound(node, proof, self.cost) >= best - self.gap
        number, index = proof.row
        row = self._part(node, number)[index]
        if proof.beyond > 0.0:
            return self._bound(node, proof, row.expression) > row.hi + MISSED
        return -self._bound(node, proof, row.expression.times(-1.0)) < row.lo - MISSED

    def _bound(self, node: Node, proof: Proof, cost: Affine) -> float:
        """No plan of a node costs less, by the multipliers that combine a proof's rows to the cost; -inf for none."""
        parts: dict[int, Sequence[Row] | Written] = {}
        rows = []
        try:
            for number, index in proof.places:
                if number not in parts:
                    parts[number] = self._part(node, number)
                rows.append(parts[number][index])
        except IndexError:
            return -math.inf
        return bound_of(proof, rows, cost)


def _round(low: float, high: float) -> tuple[float, float]:
    """An interval a little longer, with ends that its neighbours have too."""
    if not high > low:
        return low, high
    part = 2.0 ** math.floor(math.log2((high - low) * ROUND))
    return math.floor(low / part) * part, math.ceil(high / part) * part
