"""Along branches of touches: where the misfit of the impact vanishes, or comes nearest to it."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from choreo.geometry.meeting_sweep import FINE_ROW_M, Branch, Range, Sweep
from choreo.geometry.poses import Array
from choreo.geometry.tolerances import (
    DERIVATIVE_M,
    EXACT_M,
    MEETS_M,
    NOTHING,
    ROOT_M,
    TOUCH_M,
)
from choreo.words.records import dataclass

# Quadratic: five are usual. What has not closed then goes by halving.
NEWTON_STEPS = 12
# A stretch is narrowed down to the two of its 32 parts beside the best sample, five times: to a millionth of it.
SECTIONS = 33
LEVELS = 5
# Ends of tracks are found from inside, to a thousandth of a row's step.
END_LEVELS = 2
# From a row's step to below ROOT_M takes 40 at most.
BISECTIONS = 60
# Bodies on a shared curve keep the overlap nearly over more than a car's length; a shorter stretch is a branch that
# passes through it.
LEAST_NEARLY_M = 5.0


@dataclass(frozen=True)
class Found:
    """A meeting by stations of row and root, shape (n,), n = 1 for a point; misfit_m: its largest."""

    row_m: Array
    root_m: Array
    misfit_m: float


def met_of(sweep: Sweep, tolerance_m: float) -> list[Found]:
    """Find all points and stretches of a sweep at which the impact is as wanted."""
    found: list[Found] = []
    for branch in sweep.branches():
        if len(branch.row_m) == 1:
            found += _standing(sweep, branch, tolerance_m)
            continue
        tracks = _tracks(sweep, branch, tolerance_m)
        found += tracks
        points = _points(sweep, branch) + _grazing(sweep, branch, tolerance_m)
        found += [one for one in points if not _within(one, tracks)]
    return found


def best_of(sweep: Sweep) -> Found | None:
    """Find the touch of a sweep whose misfit is least."""
    best: Found | None = None
    for branch in sweep.branches():
        one = _least(sweep, branch)
        if one is not None and (best is None or abs(one.misfit_m) < abs(best.misfit_m)):
            best = one
    return best


def _inside(values: Array, range_m: Range) -> NDArray[np.bool_]:
    return (values >= range_m[0] - NOTHING) & (values <= range_m[1] + NOTHING)


def _standing(sweep: Sweep, branch: Branch, tolerance_m: float) -> list[Found]:
    """A standing mover gives one touch; accept it if the misfit is within tolerance."""
    misfit = float(branch.misfit_m[0])
    fits = abs(misfit) <= tolerance_m and branch.overlap_m[0] >= 0.0
    if not fits or not _inside(branch.root_m, sweep.root_range_m)[0]:
        return []
    return [Found(branch.row_m, branch.root_m, abs(misfit))]


def _within(point: Found, tracks: list[Found]) -> bool:
    row = point.row_m[0]
    return any(track.row_m[0] <= row <= track.row_m[-1] for track in tracks)


def _runs(mask: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """First and last index of every run of true values."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], mask, [False])).astype(int)))
    return [(int(a), int(b) - 1) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _tracks(sweep: Sweep, branch: Branch, tolerance_m: float) -> list[Found]:
    """Stretches of exact overlap; and long ones of nearly exact overlap between them."""
    touching = branch.overlap_m > NOTHING
    size = np.abs(branch.misfit_m)
    exact = touching & (size <= EXACT_M)
    found = []
    for first, last in _runs(exact):
        if last > first:
            found.append(_track(sweep, branch, (first, last), EXACT_M))
    nearly = touching & (size <= tolerance_m) & ~exact
    for first, last in _runs(nearly):
        if branch.row_m[last] - branch.row_m[first] >= LEAST_NEARLY_M:
            found.append(_track(sweep, branch, (first, last), tolerance_m))
    return [one for one in found if one is not None]


def _track(sweep: Sweep, branch: Branch, run: tuple[int, int], tolerance_m: float) -> Found | None:
    """Extend a run to where it truly ends, and cut it to the root's range."""
    first, last = run
    row, root = branch.row_m[first : last + 1], branch.root_m[first : last + 1]
    misfit = float(np.abs(branch.misfit_m[first : last + 1]).max())
    for end, beyond in ((0, first - 1), (-1, last + 1)):
        if 0 <= beyond < len(branch.row_m) and np.isfinite(branch.misfit_m[beyond]):
            at = (float(row[end]), float(branch.row_m[beyond]))
            guess = (float(root[end]), float(branch.root_m[beyond]))
            more = _last_good(sweep, at, guess, tolerance_m)
            if more is not None:
                where = 0 if end == 0 else len(row)
                row, root = np.insert(row, where, more[0]), np.insert(root, where, more[1])
    return _cut(sweep, row, root, misfit)


def _last_good(
    sweep: Sweep, rows: Range, roots: Range, tolerance_m: float
) -> tuple[float, float] | None:
    """Narrow down, from a good row towards a bad one, where the overlap stops to hold."""
    good: tuple[float, float] | None = None
    (a, b), (c, d) = rows, roots
    for _ in range(END_LEVELS):
        shares = np.linspace(0.0, 1.0, SECTIONS)
        at = a + (b - a) * shares
        root, measure = sweep.touches(at, c + (d - c) * shares)
        holds = (
            (np.abs(measure.misfit_m) <= tolerance_m)
            & (measure.overlap_m > NOTHING)
            & (np.abs(measure.room_m) <= TOUCH_M)
        )
        bad = np.flatnonzero(~holds)
        to = int(bad[0]) if len(bad) else SECTIONS
        if to == 0:
            break
        good = (float(at[to - 1]), float(root[to - 1]))
        if to == SECTIONS or abs(at[to] - at[to - 1]) <= ROOT_M:
            break
        a, b, c, d = float(at[to - 1]), float(at[to]), float(root[to - 1]), float(root[to])
    return None if good is None or good[0] == rows[0] else good


def _cut(sweep: Sweep, row: Array, root: Array, misfit: float) -> Found | None:
    """Keep the part whose root lies in its range, with ends exactly on the range's bounds."""
    low, high = sweep.root_range_m
    inside = np.flatnonzero(_inside(root, (low, high)))
    if not len(inside):
        return None
    first, last = int(inside[0]), int(inside[-1])
    kept_row, kept_root = row[first : last + 1], root[first : last + 1]
    for where, at, beyond in ((0, first, first - 1), (len(kept_row), last, last + 1)):
        if not 0 <= beyond < len(row):
            continue
        bound = low if root[beyond] < low else high
        share = (bound - root[at]) / (root[beyond] - root[at])
        edge = np.array([row[at] + share * (row[beyond] - row[at])])
        solved = sweep.touches(edge, np.array([bound]))[0]
        if abs(edge[0] - row[at]) > ROOT_M:
            position = 0 if where == 0 else len(kept_row)
            kept_row = np.insert(kept_row, position, edge[0])
            kept_root = np.insert(kept_root, position, np.clip(solved[0], low, high))
    return Found(kept_row, kept_root, misfit)


def _points(sweep: Sweep, branch: Branch) -> list[Found]:
    """Isolated zeros at which the misfit changes its sign."""
    misfit = np.where(np.abs(branch.misfit_m) <= EXACT_M, 0.0, branch.misfit_m)
    starts: list[tuple[float, float, int, int]] = []
    for i in np.flatnonzero(misfit[:-1] * misfit[1:] < 0.0):
        share = float(misfit[i] / (misfit[i] - misfit[i + 1]))
        row = float(branch.row_m[i] + share * (branch.row_m[i + 1] - branch.row_m[i]))
        root = float(branch.root_m[i] + share * (branch.root_m[i + 1] - branch.root_m[i]))
        starts.append((row, root, int(i), int(i) + 1))
    zero = misfit == 0.0
    for first, last in _runs(zero):
        before, after = max(first - 1, 0), min(first + 1, len(zero) - 1)
        if first == last and misfit[before] * misfit[after] < 0.0:
            at = (float(branch.row_m[first]), float(branch.root_m[first]))
            starts.append((*at, before, after))
    return [
        one
        for row, root, i, j in starts
        if (one := _refined(sweep, branch, (row, root), (i, j))) is not None
    ]


def _grazing(sweep: Sweep, branch: Branch, tolerance_m: float) -> list[Found]:
    """Where the misfit comes down to zero and goes back to the side that it came from, as where paths merge.

    It need not be zero there, only within tolerance; where it is beyond zero, it is zero before and after.
    """
    misfit = branch.misfit_m
    size = np.abs(misfit)
    padded = np.concatenate(([np.inf], np.where(np.isfinite(size), size, np.inf), [np.inf]))
    least = (size <= padded[:-2]) & (size <= padded[2:]) & (size <= FINE_ROW_M)
    # The ends of a branch are where its stations end: it is not known to turn back there.
    least[[0, -1]] &= size[[0, -1]] <= EXACT_M
    found = []
    for at in np.flatnonzero(least):
        i, j = max(int(at) - 1, 0), min(int(at) + 1, len(size) - 1)
        side = float(np.sign(misfit[i] + misfit[j]))
        if misfit[i] * misfit[j] >= 0.0 and max(size[i], size[j]) > EXACT_M:
            found += _turning_back(sweep, branch, (i, j), side, tolerance_m)
    return found


def _turning_back(
    sweep: Sweep, branch: Branch, between: tuple[int, int], side: float, tolerance_m: float
) -> list[Found]:
    """The least misfit towards zero between two samples that lie on one side of it, or the zeros around it."""
    ends = np.array(between)
    row, root = branch.row_m[ends[0] : ends[1] + 1], branch.root_m[ends[0] : ends[1] + 1]
    at, least = 0, math.inf
    for _ in range(LEVELS):
        share = np.linspace(0.0, 1.0, SECTIONS)
        knots = np.linspace(0.0, 1.0, len(row))
        row, root = np.interp(share, knots, row), np.interp(share, knots, root)
        root, measure = sweep.touches(row, root)
        good = (np.abs(measure.room_m) <= TOUCH_M) & (measure.overlap_m > -NOTHING)
        towards = np.where(good, side * measure.misfit_m, np.inf)
        at = int(towards.argmin())
        least = float(towards[at])
        here = float(row[at]), float(root[at])
        i, j = max(at - 1, 0), min(at + 1, len(row) - 1)
        row, root = row[i : j + 1], root[i : j + 1]
    if not math.isfinite(least):
        return []
    if least >= -EXACT_M:
        fits = least <= tolerance_m and _inside(np.array(here[1:]), sweep.root_range_m)[0]
        return [Found(np.array(here[:1]), np.array(here[1:]), abs(least))] if fits else []
    rows = np.array([branch.row_m[ends[0]], here[0], branch.row_m[ends[1]]])
    roots = np.array([branch.root_m[ends[0]], here[1], branch.root_m[ends[1]]])
    parted, misfits = sweep.touches(rows, roots)
    three = Branch(rows, parted, misfits.overlap_m, misfits.misfit_m)
    return _points(sweep, three)


def _refined(
    sweep: Sweep, branch: Branch, start: tuple[float, float], between: tuple[int, int]
) -> Found | None:
    i, j = between
    low, high = float(branch.row_m[i]), float(branch.row_m[j])
    solved = _newton(sweep, *start)
    if solved is None or not low - NOTHING <= solved[0] <= high + NOTHING:
        solved = _bisected(sweep, branch, between)
    if solved is None:
        return None
    row, root = np.array([solved[0]]), np.array([solved[1]])
    measure = sweep.measure(row, root)
    fits = (
        abs(float(measure.misfit_m[0])) <= TOUCH_M
        and abs(float(measure.room_m[0])) <= TOUCH_M
        and float(measure.overlap_m[0]) > -NOTHING
        and bool(_inside(row, sweep.row_range_m)[0] and _inside(root, sweep.root_range_m)[0])
    )
    if not fits:
        return None
    row, root = np.clip(row, *sweep.row_range_m), np.clip(root, *sweep.root_range_m)
    return Found(row, root, abs(float(measure.misfit_m[0])))


def _newton(sweep: Sweep, row: float, root: float) -> tuple[float, float] | None:
    """Newton's way on room and misfit, with two-sided numeric slopes, all five places in one call."""
    h = DERIVATIVE_M
    for _ in range(NEWTON_STEPS):
        at = sweep.measure(
            row + h * np.array([0.0, -1.0, 1.0, 0.0, 0.0]),
            root + h * np.array([0.0, 0.0, 0.0, -1.0, 1.0]),
        )
        g, e = at.room_m, at.misfit_m
        if max(abs(g[0]), abs(e[0])) <= MEETS_M / 10.0:
            return row, root
        g_row, g_root = (g[2] - g[1]) / (2.0 * h), (g[4] - g[3]) / (2.0 * h)
        e_row, e_root = (e[2] - e[1]) / (2.0 * h), (e[4] - e[3]) / (2.0 * h)
        determinant = g_row * e_root - g_root * e_row
        if abs(determinant) <= NOTHING:
            return None
        row -= float((g[0] * e_root - e[0] * g_root) / determinant)
        root -= float((e[0] * g_row - g[0] * e_row) / determinant)
    return None


def _bisected(sweep: Sweep, branch: Branch, between: tuple[int, int]) -> tuple[float, float] | None:
    """Halve the rows between a change of sign; slow, but it minds no corner."""
    i, j = between
    low, high = float(branch.row_m[i]), float(branch.row_m[j])
    root, sign = float(branch.root_m[i]), np.sign(branch.misfit_m[i])
    if sign == np.sign(branch.misfit_m[j]):
        return None
    rate = (float(branch.root_m[j]) - root) / (high - low)
    middle = low
    for _ in range(BISECTIONS):
        before, middle = middle, (low + high) / 2.0
        guess = root + rate * (middle - before)
        at, measure = sweep.touches(np.array([middle]), np.array([guess]))
        root = float(at[0])
        if abs(float(measure.room_m[0])) > TOUCH_M:
            return None
        if np.sign(measure.misfit_m[0]) == sign:
            low = middle
        else:
            high = middle
        if high - low <= ROOT_M:
            break
    return middle, root


def _least(sweep: Sweep, branch: Branch) -> Found | None:
    """The least misfit of a branch, narrowed down round its best sample."""
    row, root = branch.row_m, branch.root_m
    best: Found | None = None
    for _ in range(LEVELS):
        root, measure = sweep.touches(row, root)
        good = (
            (np.abs(measure.room_m) <= TOUCH_M)
            & (measure.overlap_m >= -NOTHING)
            & _inside(root, sweep.root_range_m)
        )
        if not good.any():
            return best
        at = int(np.where(good, np.abs(measure.misfit_m), np.inf).argmin())
        misfit = float(measure.misfit_m[at])
        if best is None or abs(misfit) < abs(best.misfit_m):
            best = Found(row[at : at + 1], root[at : at + 1], misfit)
        if len(row) == 1:
            break
        i, j = max(at - 1, 0), min(at + 1, len(row) - 1)
        share = np.linspace(0.0, 1.0, SECTIONS)
        row, root = row[i] + (row[j] - row[i]) * share, root[i] + (root[j] - root[i]) * share
    return best
