"""When a share is first seen: similar triangles, a child behind a parked van, glimpses. All figures invented."""

import math
from collections.abc import Callable

import numpy as np
import pytest
from scipy.optimize import brentq

from choreo.sight.times import View, first_seen
from choreo.sight.visibility import edges_of

BOX = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])
INSTANT_S = 2e-6
ALMOST_NONE = 1e-7


def scene(
    eye: Callable[[np.ndarray], tuple[object, object]],
    target: Callable[[np.ndarray], tuple[object, object]],
    half_m: tuple[float, float],
    standing: list[np.ndarray],
) -> Callable[[np.ndarray], View]:
    """A view of a moving box from a moving eye past things that stand; motions give x and y in m."""
    edges = np.concatenate([edges_of(one) for one in standing] or [np.zeros((0, 2, 2))])

    def view(times_s: np.ndarray) -> View:
        count = len(times_s)
        eyes = np.stack([np.broadcast_to(one, count) for one in eye(times_s)], axis=1)
        middles = np.stack([np.broadcast_to(one, count) for one in target(times_s)], axis=1)
        targets = middles[:, None] + BOX * half_m
        return View(eyes.astype(float), targets, np.broadcast_to(edges, (count, *edges.shape)))

    return view


# The eye drives along y = 0 at 10 m/s past a wall from (40, 2) to (40, 30); the box stands at (60, 6).
def past_a_wall() -> Callable[[np.ndarray], View]:
    wall = np.array([[40.0, 2.0], [40.0, 30.0], [39.9, 30.0]])
    return scene(lambda t: (10 * t, 0.0), lambda t: (60.0, 6.0), (0.5, 0.3), [wall])


def passes_the_edge_s(x_m: float, y_m: float) -> float:
    """When eye, wall's edge and a corner lie on one line: similar triangles with the heights y and 2."""
    return (40 - 2 * (x_m - 40) / (y_m - 2)) / 10


def test_first_corner_past_a_walls_edge_is_seen_by_similar_triangles() -> None:
    # The lower right corner is the first.
    seen = first_seen(past_a_wall(), ALMOST_NONE, 3.9)
    assert seen.first_s == pytest.approx(passes_the_edge_s(60.5, 5.7), abs=1e-5)


def test_all_is_seen_when_the_last_corner_has_passed_the_edge() -> None:
    seen = first_seen(past_a_wall(), 1.0, 3.9)
    assert seen.first_s == pytest.approx(passes_the_edge_s(59.5, 6.3), abs=INSTANT_S)
    assert seen.stays
    assert seen.episodes == ((seen.first_s, 3.9),)


def test_more_of_a_body_is_seen_later() -> None:
    firsts = [first_seen(past_a_wall(), share, 3.9).first_s for share in (0.01, 0.25, 0.5, 0.75, 1)]
    assert None not in firsts
    assert firsts == sorted(firsts)


# A child of 0.5 m by 0.4 m runs at 2 m/s along x = 30 m from y = -4; the eye comes at 8 m/s along y = 0. The van's
# front corner stands at (29, -1.9), 1 m before the child's plane.
V_MPS, W_MPS, CHILD_X_M, CHILD_Y_M = 8.0, 2.0, 30.0, -4.0
CORNER = (29.0, -1.9)
HALF = (0.2, 0.25)
VAN = np.array([[23.4, -3.95], [29.0, -3.95], [29.0, -1.9], [23.4, -1.9]])
END_S = 2.0


def child_behind_a_van() -> Callable[[np.ndarray], View]:
    return scene(
        lambda t: (V_MPS * t, 0.0), lambda t: (CHILD_X_M, CHILD_Y_M + W_MPS * t), HALF, [VAN]
    )


def clears_the_van_s(ahead_m: float, left_m: float) -> float:
    """When eye, van's corner and a point of the child lie on one line.

    (cx - v t)(py + w t) - cy (px - v t) = 0, a quadratic in t; its first root after go.
    """
    px, py = CHILD_X_M + ahead_m, CHILD_Y_M + left_m
    cx, cy = CORNER
    roots = np.roots([-V_MPS * W_MPS, cx * W_MPS - V_MPS * py + cy * V_MPS, cx * py - cy * px])
    return float(min(root.real for root in roots if root.real > 0))


def test_first_of_a_child_behind_a_van_is_its_front_left_corner() -> None:
    seen = first_seen(child_behind_a_van(), ALMOST_NONE, END_S)
    first_s = min(clears_the_van_s(a, b) for a in (-0.2, 0.2) for b in (-0.25, 0.25))
    assert first_s == clears_the_van_s(0.2, 0.25) or first_s == clears_the_van_s(-0.2, 0.25)
    assert seen.first_s == pytest.approx(first_s, abs=1e-5)


def test_all_of_a_child_behind_a_van_is_seen_when_its_last_corner_clears_it() -> None:
    seen = first_seen(child_behind_a_van(), 1.0, END_S)
    last_s = max(clears_the_van_s(a, b) for a in (-0.2, 0.2) for b in (-0.25, 0.25))
    assert seen.first_s == pytest.approx(last_s, abs=INSTANT_S)
    assert seen.stays


@pytest.mark.parametrize("share", [0.1, 0.5, 0.9])
def test_a_share_of_a_child_behind_a_van_is_that_of_its_angle(share: float) -> None:
    def left_over(t_s: float) -> float:
        eye_x = V_MPS * t_s
        angles = [
            math.atan2(CHILD_Y_M + W_MPS * t_s + b, CHILD_X_M + a - eye_x)
            for a in (-0.2, 0.2)
            for b in (-0.25, 0.25)
        ]
        edge = math.atan2(CORNER[1], CORNER[0] - eye_x)
        return (max(angles) - edge) / (max(angles) - min(angles)) - share

    begin_s = min(clears_the_van_s(a, b) for a in (-0.2, 0.2) for b in (-0.25, 0.25))
    end_s = max(clears_the_van_s(a, b) for a in (-0.2, 0.2) for b in (-0.25, 0.25))
    seen = first_seen(child_behind_a_van(), share, END_S)
    assert seen.first_s == pytest.approx(brentq(left_over, begin_s, end_s), abs=INSTANT_S)


def test_what_is_always_hidden_is_never_seen() -> None:
    view = scene(lambda t: (t, 0.0), lambda t: (60.0, 0.0), (1, 1), [BOX * [0.1, 30] + [30.0, 0.0]])
    seen = first_seen(view, 0.5, 5.0)
    assert (seen.first_s, seen.stays, seen.episodes) == (None, False, ())


def test_what_nothing_hides_is_seen_from_go_on() -> None:
    view = scene(lambda t: (t, 0.0), lambda t: (60.0, 0.0), (1, 1), [])
    seen = first_seen(view, 1.0, 5.0)
    assert (seen.first_s, seen.stays, seen.episodes) == (0.0, True, ((0.0, 5.0),))


def test_a_glimpse_between_two_walls_is_told_as_such() -> None:
    # The eye stands; the box walks at 2 m/s along x = 20 m behind walls at x = 10 m with a gap from y = -0.5 to 0.5:
    # at x = 20 m (near side 19.5 m) the gap is 1.95 m wide, the box 0.6 m. It is all seen from 0.675 m below the
    # middle to 0.675 m above it.
    walls = [BOX * [0.0001, 2] + [10.0, y] for y in (-2.5, 2.5)]
    view = scene(lambda t: (0.0, 0.0), lambda t: (20.0, -3.0 + 2 * t), (0.5, 0.3), walls)
    seen = first_seen(view, 1.0, 3.0)
    assert not seen.stays
    assert len(seen.episodes) == 1
    begin, end = seen.episodes[0]
    assert (begin + end) / 2 == pytest.approx(1.5, abs=INSTANT_S)
    assert end - begin == pytest.approx(1.35 / 2, abs=1e-3)
    assert seen.first_s == begin


def test_seen_hidden_and_seen_again_are_episodes_of_their_own() -> None:
    pillar = [BOX * [0.2, 0.6] + [10.0, 0.0]]
    view = scene(lambda t: (0.0, 0.0), lambda t: (20.0, -3.0 + 2 * t), (0.3, 0.3), pillar)
    seen = first_seen(view, 0.5, 3.0)
    assert seen.first_s == 0.0
    assert not seen.stays
    (first, hidden), (again, last) = seen.episodes
    assert (first, last) == (0.0, 3.0)
    assert hidden + again == pytest.approx(3.0, abs=2 * INSTANT_S)
    assert hidden < 1.5 < again


def test_a_moving_body_hides_too() -> None:
    def view(times_s: np.ndarray) -> View:
        count = len(times_s)
        passing = (
            edges_of(BOX * [2, 0.5] + [5.0, 0.0])[None]
            + np.stack((10 * times_s - 20, np.full(count, 3.0)), axis=1)[:, None, None]
        )
        eyes = np.zeros((count, 2))
        return View(eyes, np.broadcast_to(BOX + np.array([0.0, 20.0]), (count, 4, 2)), passing)

    seen = first_seen(view, 0.99, 3.0)
    assert len(seen.episodes) == 2
    # It is before the target's middle after 1.5 s: both episodes mirror each other there.
    assert sum(seen.episodes[0]) + sum(seen.episodes[1]) == pytest.approx(6.0, abs=1e-2)


def test_a_run_that_ends_at_go_has_one_instant() -> None:
    view = scene(lambda t: (t, 0.0), lambda t: (60.0, 0.0), (1, 1), [])
    assert first_seen(view, 0.5, 0.0).first_s == 0.0
