"""Solving for an obstacle's place: what comes out gives what was wanted; what can't be is told."""

import numpy as np
import pytest

from choreo.sight.standing import Slide, Sought, place_for, seen_from
from choreo.sight.times import View
from choreo.sight.visibility import edges_of
from tests.unit.sight.sight_runs import BOX, child_view

END_S = 3.0
ALONG = np.array([1.0, 0.0])
# A row of vans, 20 m long, whose front stands 1 m before the child's plane at x = 30 m.
VAN = BOX * [10.0, 1.0] + [19.0, -3.0]


def sought(wanted_s: float, share: float = 0.5, within_m: float = 20.0, **more: float) -> Sought:
    return Sought(share, END_S, wanted_s, more.get("tolerance_s", 0.1), within_m)


@pytest.mark.parametrize("share", [0.25, 0.5, 1.0])
@pytest.mark.parametrize("wanted_s", [1.2, 1.35, 1.5])
def test_place_that_is_solved_gives_the_wanted_instant(share: float, wanted_s: float) -> None:
    slide, asked = Slide(edges_of(VAN), ALONG), sought(wanted_s, share)
    move_m = place_for(child_view, slide, asked)
    assert move_m is not None
    first_s = seen_from(child_view, slide, move_m, asked).first_s
    assert END_S - first_s == pytest.approx(wanted_s, abs=1e-4)


def test_first_seen_later_means_a_van_further_forward() -> None:
    moves = [
        place_for(child_view, Slide(edges_of(VAN), ALONG), sought(w)) for w in (1.5, 1.35, 1.2)
    ]
    assert None not in moves
    assert moves == sorted(moves)


def test_place_agrees_with_similar_triangles() -> None:
    # All of the child is seen once its lower left corner (29.8, y - 0.25) stands on the line from the eye past
    # the van's front left corner (x, -2).
    wanted_s = 1.2
    t = END_S - wanted_s
    eye_x, low_y = 29.8 - 8 * wanted_s, -2 * wanted_s - 0.25
    share = -2.0 / low_y
    corners = [eye_x + share * (x - eye_x) for x in (29.8, 30.2)]
    move_m = place_for(child_view, Slide(edges_of(VAN), ALONG), sought(wanted_s, 1.0))
    assert t == pytest.approx(1.8)
    assert move_m == pytest.approx(min(corners) - 29.0, abs=1e-6)


def from_behind_a_wall(times_s: np.ndarray) -> View:
    """A box walks at 2 m/s along x = 20 m from behind a wall that ends at y = 0; half of it is out after 3 s."""
    count = len(times_s)
    wall = edges_of(BOX * [0.01, 10] + [10.0, -10.0])
    middles = np.stack((np.full(count, 20.0), 2 * times_s - 6), axis=1)
    targets = middles[:, None] + BOX * [0.3, 0.3]
    return View(np.zeros((count, 2)), targets, np.broadcast_to(wall, (count, *wall.shape)))


def test_of_two_places_the_nearer_is_taken() -> None:
    # A pillar beside the wall's end delays the sight; the nearer its middle is to that end, the more.
    wanted_s = 4.0 - 3.05

    def place_m(y_m: float) -> float:
        slide = Slide(edges_of(BOX * [0.01, 0.06] + [9.5, y_m]), np.array([0.0, 1.0]))
        asked = Sought(0.5, 4.0, wanted_s, 0.001, 2.0)
        move_m = place_for(from_behind_a_wall, slide, asked)
        assert move_m is not None
        first_s = seen_from(from_behind_a_wall, slide, move_m, asked).first_s
        assert first_s == pytest.approx(3.05, abs=1e-4)
        return y_m + move_m

    right, left = place_m(-0.5), place_m(0.5)
    assert left - right > 0.05
    assert place_m(0.6 * right + 0.4 * left) == pytest.approx(right, abs=1e-6)
    assert place_m(0.4 * right + 0.6 * left) == pytest.approx(left, abs=1e-6)


def test_reach_that_is_too_short_gives_no_place() -> None:
    slide = Slide(edges_of(VAN), ALONG)
    far_m = place_for(child_view, slide, sought(1.5, tolerance_s=0.01))
    assert far_m is not None
    assert (
        place_for(child_view, slide, sought(1.5, 0.5, abs(far_m) - 0.3, tolerance_s=0.01)) is None
    )
    assert place_for(child_view, slide, sought(1.5, 0.5, abs(far_m) + 0.1)) == pytest.approx(far_m)


def test_places_that_are_not_free_are_left_out() -> None:
    slide = Slide(edges_of(VAN), ALONG)
    move_m = place_for(child_view, slide, sought(1.2))
    assert move_m is not None
    barred = Slide(edges_of(VAN), ALONG, lambda at_m: at_m > move_m + 0.1)
    other_m = place_for(child_view, barred, sought(1.2))
    assert other_m is not None
    assert other_m > move_m + 0.1
    first_s = seen_from(child_view, barred, other_m, sought(1.2)).first_s
    assert first_s == pytest.approx(END_S - 1.2, abs=0.1)
    nowhere = Slide(edges_of(VAN), ALONG, lambda _: False)
    assert place_for(child_view, nowhere, sought(1.2)) is None


def test_a_time_before_go_has_no_place() -> None:
    assert place_for(child_view, Slide(edges_of(VAN), ALONG), sought(END_S + 1)) is None


def past_a_slit(times_s: np.ndarray) -> View:
    """A box walks at 2 m/s behind a wall with a slit, whose right half a shutter may cover, into the open."""
    count = len(times_s)
    walls = np.concatenate([edges_of(BOX * [0.01, 2] + [10.0, y]) for y in (-3.0, 2.0)])
    middles = np.stack((np.full(count, 20.0), 2 * times_s - 6), axis=1)
    targets = middles[:, None] + BOX * [0.3, 0.3]
    return View(np.zeros((count, 2)), targets, np.broadcast_to(walls, (count, *walls.shape)))


def test_instant_between_two_glimpses_is_jumped_over() -> None:
    # Through the slit, from y = -1 m to 0 m at x = 10 m, the box is seen up to about 3 s; it is not seen behind
    # the left wall till 7 s and more. No place of the shutter shows it first at 5 s.
    shutter = Slide(edges_of(BOX * [0.01, 0.5] + [9.5, -3.0]), np.array([0.0, 1.0]))
    asked = Sought(1.0, 9.0, 4.0, 0.1, 6.0)
    assert place_for(past_a_slit, shutter, asked) is None
    firsts = {seen_from(past_a_slit, shutter, d, asked).first_s for d in (0.0, 2.0, 2.5, 3.0)}
    assert min(firsts) < 3.0
    assert max(firsts) > 7.0
    near_enough = Sought(1.0, 9.0, 4.0, 3.0, 6.0)
    move_m = place_for(past_a_slit, shutter, near_enough)
    assert move_m is not None
    first_s = seen_from(past_a_slit, shutter, move_m, near_enough).first_s
    assert abs(first_s - 5.0) <= 3.0
