"""Ways that have one thing on two sides can't both be chosen, however near the border they may be."""

from choreo.linear.affine import unknown
from choreo.linear.model import Model
from choreo.linear.records import Choice
from choreo.linear.rows import Row
from choreo.linear.search import SIDE, Search
from choreo.problem.records import Problem
from choreo.solve import solve_linear

X, Y = unknown("x"), unknown("y")
EMPTY = Problem("shortest runway", (), (), (), ())


def model(apart: float = 0.0) -> Model:
    """Numbers from -1 to 1, each on a side of 0, `apart` from it; both on the same side."""
    found = Model(EMPTY)
    for one in (X, Y):
        found.rows.append(Row(one, -1.0, 1.0))
        ways = ((Row(one, apart, 1.0, "up"),), (Row(one, -1.0, -apart, "down"),))
        found.choices.append(Choice("side", ways, "side", (1, 2)))
    return found


def test_both_are_on_the_same_side() -> None:
    found = Search(model(), Y.minus(X), solve_linear).run()
    assert found.values is not None
    assert found.node.chosen in ((0, 0), (1, 1))
    assert found.objective == -1.0


def test_what_lies_on_the_border_alone_is_not_what_comes_nearest() -> None:
    lines = model(apart=SIDE / 10.0)
    lines.rows.append(Row(X.plus(Y), 0.0, 0.0, "on the border"))
    found = Search(lines, X, solve_linear).run()
    assert found.values is None
    assert found.excluded is not None
    nodes = found.excluded.nodes
    assert nodes
    assert all(one.chosen in ((0, 0), (1, 1)) for one in nodes)
