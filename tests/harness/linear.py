"""Largest m such that A x + b >= m for all rows and E x + e = 0: a small dense simplex, numpy only."""

from __future__ import annotations

import numpy as np

RANK = 1e-9
PIVOT = 1e-9
MOST_PIVOTS = 2000


def most_slack(
    rows: np.ndarray, equal: np.ndarray, cap: float = 1.0, wish: np.ndarray | None = None
) -> tuple[float, np.ndarray]:
    """Give the largest least slack (at most cap) and a point that has it.

    rows, equal: coefficients and, last, the constant. wish: coefficients of what to make large besides.
    Where the equations contradict each other the slack is minus their distance.
    """
    count = rows.shape[1] - 1
    point, basis = np.zeros(count), np.eye(count)
    if len(equal):
        left, size, right = np.linalg.svd(equal[:, :-1])
        rank = int((size > RANK * size[0]).sum())
        shares = (left.T @ -equal[:, -1])[:rank] / size[:rank]
        point, basis = right[:rank].T @ shares, right[rank:].T
        apart = np.abs(equal[:, :-1] @ point + equal[:, -1]).max()
        if apart > 1e-7:
            return -float(apart), point
    slopes = rows[:, :-1] @ basis
    slack, found = _simplex(slopes, rows[:, :-1] @ point + rows[:, -1], cap, wish, basis)
    return slack, point + basis @ found


def _simplex(
    slopes: np.ndarray, at: np.ndarray, cap: float, wish: np.ndarray | None, basis: np.ndarray
) -> tuple[float, np.ndarray]:
    """Maximise m (and the wish) subject to m - slopes w <= at, m <= cap; w free as a difference."""
    free = slopes.shape[1]
    count = len(at) + 1
    # Columns: w+, w-, m+, m-, slacks, right side.
    table = np.zeros((count + 1, 2 * free + 2 + count + 1))
    table[:-2, :free], table[:-2, free : 2 * free] = -slopes, slopes
    table[:-1, 2 * free], table[:-1, 2 * free + 1] = 1.0, -1.0
    table[:-1, 2 * free + 2 : -1] = np.eye(count)
    table[:-2, -1], table[-2, -1] = at, cap
    table[-1, 2 * free], table[-1, 2 * free + 1] = -1.0, 1.0
    if wish is not None:
        table[-1] *= 1000.0
        table[-1, :free], table[-1, free : 2 * free] = -(wish @ basis), wish @ basis
    basic = [2 * free + 2 + i for i in range(count)]
    worst = int(table[:-1, -1].argmin())
    # m at its largest for w = 0 makes every row feasible.
    column = 2 * free + (0 if table[worst, -1] >= 0 else 1)
    _pivot(table, basic, worst, column)
    for step in range(MOST_PIVOTS):
        costs = table[-1, :-1]
        # Steepest first; by lowest index when it drags on, which can't cycle.
        entering = int(costs.argmin()) if step < 200 else int((costs < -PIVOT).argmax())
        if costs[entering] >= -PIVOT:
            break
        way = table[:-1, entering]
        open_rows = np.flatnonzero(way > PIVOT)
        if not len(open_rows):
            break
        ratios = table[open_rows, -1] / way[open_rows]
        least = ratios.min()
        ties = open_rows[ratios <= least + 1e-12]
        _pivot(table, basic, min(ties, key=lambda row: basic[row]), entering)
    else:
        raise ArithmeticError("the simplex did not end")
    values = np.zeros(table.shape[1])
    values[basic] = table[:-1, -1]
    return (
        float(values[2 * free] - values[2 * free + 1]),
        values[:free] - values[free : 2 * free],
    )


def _pivot(table: np.ndarray, basic: list[int], row: int, column: int) -> None:
    table[row] /= table[row, column]
    others = table[:, column].copy()
    others[row] = 0.0
    table -= np.outer(others, table[row])
    basic[row] = column
