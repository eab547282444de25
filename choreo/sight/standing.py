"""Where an obstacle must stand so that a body is first seen at a wanted instant."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from choreo.geometry.poses import Array
from choreo.sight.times import CLOCK_S, INSTANT_S, Mask, Seen, View, ViewAt, first_seen
from choreo.words.records import dataclass

# Places are tried at this distance (m) before they are bracketed; a gap that is narrower hides nothing.
TRIED_M = 0.05
# ... and where no place gives the wanted instant, at this one: the best that is near enough is looked for.
NEAR_ENOUGH_M = 0.25
# Places are bracketed to this (m), far below what can be set up.
PLACE_M = 1e-9
# A place gives the wanted instant when the first sight is this near to it (s).
SAME_INSTANT_S = 1e-4


@dataclass(frozen=True, slots=True)
class Sought:
    """What is asked for: a share first seen wanted_s before contact_s (s after go), the thing moved up to within_m."""

    share: float
    contact_s: float
    wanted_s: float
    tolerance_s: float
    within_m: float


@dataclass(frozen=True, slots=True, eq=False)
class Slide:
    """What is moved: its edges as it stands (m, 2, 2), the unit vector along its heading (2,), which moves are free."""

    edges_m: Array
    along: Array
    free: Callable[[float], bool] = lambda _: True


def place_for(others_at: ViewAt, slide: Slide, sought: Sought) -> float | None:
    """Give how far to move a thing along its heading, in m: the least move that gives the wanted instant.

    others_at: the view without the thing. Where the instant of first sight jumps over the wanted one at every
    place, the place within the tolerance that comes nearest is given; None when there is none of that either.
    Only free places count.
    """
    instant_s = sought.contact_s - sought.wanted_s
    for move_m in _candidates(others_at, slide, sought, instant_s):
        first_s = seen_from(others_at, slide, move_m, sought).first_s
        if first_s is None or abs(first_s - instant_s) > SAME_INSTANT_S:
            continue
        if slide.free(move_m):
            return move_m
    return _nearest(others_at, slide, sought, instant_s)


def seen_from(others_at: ViewAt, slide: Slide, move_m: float, sought: Sought) -> Seen:
    """Find when the share is seen with the thing moved by move_m."""
    return first_seen(_with(others_at, slide, move_m), sought.share, sought.contact_s)


def _candidates(others_at: ViewAt, slide: Slide, sought: Sought, instant_s: float) -> list[float]:
    """Moves at which the share is just seen at the instant, least move first.

    First seen then implies just seen then, so no other move comes into question.
    """
    if not 0.0 < instant_s < sought.contact_s:
        return []
    steps = math.ceil(sought.within_m / TRIED_M)
    moves = np.linspace(-sought.within_m, sought.within_m, 2 * steps + 1)
    seen = _seen_at(others_at, slide, moves, instant_s, sought.share)
    turns = np.flatnonzero(seen[1:] != seen[:-1])
    hidden_m = np.where(seen[turns], moves[turns + 1], moves[turns])
    seen_m = np.where(seen[turns], moves[turns], moves[turns + 1])
    for _ in range(math.ceil(math.log2(TRIED_M / PLACE_M)) if len(turns) else 0):
        middle = (hidden_m + seen_m) / 2
        now = _seen_at(others_at, slide, middle, instant_s, sought.share)
        hidden_m, seen_m = np.where(now, hidden_m, middle), np.where(now, middle, seen_m)
    return sorted(seen_m.tolist(), key=abs)


def _nearest(others_at: ViewAt, slide: Slide, sought: Sought, instant_s: float) -> float | None:
    """The tried place whose first sight is nearest to the instant and within the tolerance of it."""
    steps = math.ceil(sought.within_m / NEAR_ENOUGH_M)
    best: tuple[float, float, float] | None = None
    moves = np.linspace(-sought.within_m, sought.within_m, 2 * steps + 1)
    for move_m in moves[_plausible(others_at, slide, moves, sought, instant_s)].tolist():
        first_s = seen_from(others_at, slide, move_m, sought).first_s
        if first_s is None or abs(first_s - instant_s) > sought.tolerance_s:
            continue
        found = (round(abs(first_s - instant_s), 6), abs(move_m), move_m)
        if (best is None or found < best) and slide.free(move_m):
            best = found
    return None if best is None else best[2]


def _plausible(
    others_at: ViewAt, slide: Slide, moves_m: Array, sought: Sought, instant_s: float
) -> Mask:
    """Which moves leave the share hidden before the tolerance begins, and show it within: the others can't do."""
    begin_s = max(instant_s - sought.tolerance_s - INSTANT_S, 0.0)
    end_s = min(instant_s + sought.tolerance_s, sought.contact_s)
    if end_s < 0.0:
        return np.zeros(len(moves_m), dtype=bool)
    count = math.ceil((end_s - begin_s) / CLOCK_S) + 1
    times = np.linspace(begin_s, end_s, max(count, 2)).tolist()
    seen = np.stack([_seen_at(others_at, slide, moves_m, t, sought.share) for t in times])
    plausible: Mask = np.asarray(seen.any(axis=0))
    return plausible if begin_s == 0.0 else plausible & ~seen[0]


def _with(others_at: ViewAt, slide: Slide, move_m: float) -> ViewAt:
    edges = slide.edges_m + move_m * slide.along

    def view(times_s: Array) -> View:
        others = others_at(times_s)
        own = np.broadcast_to(edges, (len(times_s), *edges.shape))
        return View(others.eyes_m, others.targets_m, np.concatenate((others.edges_m, own), axis=1))

    return view


def _seen_at(
    others_at: ViewAt, slide: Slide, moves_m: Array, instant_s: float, share: float
) -> Mask:
    """Whether the share is seen at one instant for many moves, shape (n,)."""
    one, count = others_at(np.array([instant_s])), len(moves_m)
    own = slide.edges_m + moves_m[:, None, None, None] * slide.along
    others = np.broadcast_to(one.edges_m, (count, *one.edges_m.shape[1:]))
    view = View(
        np.broadcast_to(one.eyes_m, (count, 2)),
        np.broadcast_to(one.targets_m, (count, *one.targets_m.shape[1:])),
        np.concatenate((others, own), axis=1),
    )
    return view.reaches(share)
