"""The visible share of a body: by hand, and against thousands of rays on random scenes."""

import math

import numpy as np
import pytest
import shapely

from choreo.sight.visibility import edges_of, visible_share, visible_shares

SQUARE = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])
EYE = (0.0, 0.0)
RAYS = 2000


def box(x_m: float, y_m: float, half_x_m: float = 1.0, half_y_m: float = 1.0) -> np.ndarray:
    return SQUARE * [half_x_m, half_y_m] + [x_m, y_m]


def test_nothing_between_shows_all() -> None:
    assert visible_share(EYE, box(10, 0)) == 1.0
    assert visible_share(EYE, box(10, 0), [box(10, 5), box(-5, 0), box(5, -9)]) == 1.0


def test_a_wall_between_shows_nothing() -> None:
    assert visible_share(EYE, box(10, 0), [box(5, 0, 0.1, 3)]) == pytest.approx(0.0, abs=1e-12)


def test_what_stands_behind_hides_nothing() -> None:
    assert visible_share(EYE, box(10, 0), [box(15, 0, 1, 9)]) == 1.0
    # Flush against its far side.
    assert visible_share(EYE, box(10, 0), [box(12, 0, 1, 9)]) == 1.0


def test_what_touches_its_near_side_hides_it() -> None:
    assert visible_share(EYE, box(10, 0), [box(8, 0)]) == pytest.approx(0.0, abs=1e-12)


def test_half_of_the_angle_is_half_of_the_share() -> None:
    assert visible_share(EYE, box(10, 0), [box(5, 2, 0.5, 2)]) == pytest.approx(0.5, abs=1e-12)


def test_share_is_one_of_the_angle() -> None:
    # The near side spans from -atan(1/9) to atan(1/9); the wall's lower edge stands at atan(0.25/5).
    span = math.atan(1 / 9)
    expected = (math.atan(0.25 / 5) + span) / (2 * span)
    wall = np.array([[5.0, 0.25], [5.1, 0.25 * 5.1 / 5 + 0.1], [5.0, 9.0]])
    assert visible_share(EYE, box(10, 0), [wall]) == pytest.approx(expected, abs=1e-12)


def test_what_hides_the_same_is_counted_once() -> None:
    once = visible_share(EYE, box(10, 0), [box(5, 0.5, 0.5, 0.2)])
    twice = visible_share(EYE, box(10, 0), [box(5, 0.5, 0.5, 0.2), box(3, 0.3, 0.2, 0.1)])
    assert 0 < once < 1
    assert twice == pytest.approx(once, abs=1e-12)


def test_a_gap_between_two_walls_shows_what_is_in_it() -> None:
    span = math.atan(1 / 9)
    walls = [box(5, 2.2, 0.001, 2), box(5, -2.2, 0.001, 2)]
    expected = math.atan(0.2 / 5.001) / span
    assert visible_share(EYE, box(10, 0), walls) == pytest.approx(expected, abs=1e-12)


def test_eye_inside_the_target_sees_all_of_it() -> None:
    assert visible_share(EYE, box(0.5, 0), [box(0, 0, 0.1, 0.1)]) == 1.0


def test_eye_that_touches_the_target_sees_half_a_turn_of_it() -> None:
    assert visible_share((9.0, 0.0), box(10, 0)) == 1.0


def test_order_of_corners_does_not_matter() -> None:
    wall = box(5, 2, 0.5, 2)
    forward = visible_share(EYE, box(10, 0), [wall])
    assert visible_share(EYE, box(10, 0)[::-1], [wall[::-1]]) == pytest.approx(forward, abs=1e-15)


def test_obstacle_with_dents_hides_by_its_own_shape() -> None:
    # A U open towards the eye, with the target behind its bottom; then with the target inside the U.
    u = np.array([[4, -3], [8, -3], [8, 3], [4, 3], [4, 2.9], [7.9, 2.9], [7.9, -2.9], [4, -2.9]])
    assert visible_share(EYE, box(10, 0), [u]) == pytest.approx(0.0, abs=1e-12)
    assert visible_share(EYE, box(6, 0), [u]) == 1.0


def test_many_instants_at_once_are_each_as_alone() -> None:
    eyes = np.array([[0.0, 0.0], [0.0, 1.0], [20.0, 0.0]])
    targets = np.stack([box(10, 0), box(10, 1), box(10, 3)])
    walls = np.stack([edges_of(box(5, y, 0.5, 2)) for y in (2.0, 2.5, -3.0)])
    alone = [
        visible_share(eye, target, [wall[:, 0]])
        for eye, target, wall in zip(eyes, targets, walls, strict=True)
    ]
    assert visible_shares(eyes, targets, walls).tolist() == pytest.approx(alone, abs=1e-15)


def convex(rng: np.random.Generator, reach_m: float, radius_m: float) -> np.ndarray:
    """A convex polygon with its corners on a circle."""
    angles = np.sort(rng.uniform(0.0, 2 * np.pi, rng.integers(3, 8)))
    middle = rng.uniform(-reach_m, reach_m, 2)
    return middle + radius_m * np.stack((np.cos(angles), np.sin(angles)), axis=1)


def share_by_rays(eye: np.ndarray, target: np.ndarray, others: list[np.ndarray]) -> float:
    """Cast rays over the target's angle; each sees it when nothing is hit before it."""
    ahead = target.mean(axis=0) - eye
    middle = math.atan2(ahead[1], ahead[0])
    turned = np.arctan2(target[:, 1] - eye[1], target[:, 0] - eye[0]) - middle
    turned = (turned + np.pi) % (2 * np.pi) - np.pi
    shares = (np.arange(RAYS) + 0.5) / RAYS
    angles = middle + turned.min() + shares * (turned.max() - turned.min())
    ends = eye + 100 * np.stack((np.cos(angles), np.sin(angles)), axis=1)
    rays = shapely.linestrings(np.stack((np.broadcast_to(eye, ends.shape), ends), axis=1))
    point = shapely.Point(eye)

    def hit_m(corners: np.ndarray) -> np.ndarray:
        met = shapely.intersection(rays, shapely.linearrings(corners))
        return np.nan_to_num(shapely.distance(point, met), nan=np.inf)

    own = hit_m(target)
    return float(np.all([own < hit_m(other) for other in others], axis=0).mean())


@pytest.mark.parametrize("seed", range(60))
def test_share_is_that_of_rays_cast(seed: int) -> None:
    rng = np.random.default_rng(seed)
    eye = rng.uniform(-20, 20, 2)
    target = convex(rng, 10, rng.uniform(0.3, 3))
    while shapely.Polygon(target).distance(shapely.Point(eye)) < 0.5:
        eye = rng.uniform(-20, 20, 2)
    between = (eye + target.mean(axis=0)) / 2
    others = [between / 2 + convex(rng, 8, rng.uniform(0.3, 3)) for _ in range(rng.integers(1, 5))]
    others = [one for one in others if not shapely.Polygon(one).contains(shapely.Point(eye))]
    others = others or [box(99, 99)]
    # Each end of what is hidden falls between two rays.
    resolution = (2 * sum(len(one) for one in others) + 2) / RAYS
    assert visible_share(eye, target, others) == pytest.approx(
        share_by_rays(eye, target, others), abs=resolution
    )


def test_random_scenes_are_neither_all_hidden_nor_all_plain() -> None:
    shares = []
    for seed in range(60):
        rng = np.random.default_rng(seed)
        target = convex(rng, 3, 2.0) + np.array([15.0, 0.0])
        shares.append(visible_share(EYE, target, [convex(rng, 3, 1.5) + np.array([8.0, 0.0])]))
    partly = [share for share in shares if 0.01 < share < 0.99]
    assert len(partly) >= 15
