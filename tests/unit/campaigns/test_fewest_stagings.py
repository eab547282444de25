"""The fewest sets, and the fewest points in boxes, against looking at every choice."""

import random
from itertools import combinations, product

from choreo.campaigns.staging.boxes import Box, Interval, at_least, common
from choreo.campaigns.staging.cover import least_cover

INSTANCES = 200


def _fewest(sets: list[frozenset[int]]) -> int:
    everything = frozenset().union(*sets)
    return next(
        count
        for count in range(len(sets) + 1)
        for some in combinations(sets, count)
        if frozenset().union(*some) == everything
    )


def test_fewest_sets_are_those_of_an_exhaustive_search() -> None:
    draw = random.Random(1)
    for _ in range(INSTANCES):
        items = draw.randint(1, 8)
        sets = [
            frozenset(i for i in range(items) if draw.random() < 0.35)
            for _ in range(draw.randint(1, 8))
        ]
        cover = least_cover(sets)
        held = frozenset().union(*(sets[index] for index in cover.chosen))
        assert held == frozenset().union(*sets)
        assert cover.at_least == len(cover.chosen) == _fewest(sets)


def test_more_sets_than_the_relaxation_says_can_be_needed() -> None:
    # Of three things any two are in one set: the relaxation takes half of each, 1.5 sets, whole ones are two.
    sets = [frozenset(pair) for pair in ((0, 1), (1, 2), (0, 2))]
    assert least_cover(sets).at_least == 2
    # All lines of the plane of order two: seven points, three on a line, any two lines meet. Least is three.
    lines = [(0, 1, 2), (0, 3, 4), (0, 5, 6), (1, 3, 5), (1, 4, 6), (2, 3, 6), (2, 4, 5)]
    assert len(least_cover([frozenset(line) for line in lines]).chosen) == 3


def test_points_that_boxes_need_are_those_of_an_exhaustive_search() -> None:
    draw = random.Random(2)
    for _ in range(INSTANCES):
        boxes: list[Box] = []
        for _ in range(draw.randint(1, 6)):
            sides = [(low := draw.randint(0, 9), low + draw.randint(0, 4)) for _ in range(2)]
            boxes.append({name: Interval(*side) for name, side in zip("ab", sides, strict=True)})
        points = product(*({box[name].lo for box in boxes} for name in "ab"))
        hit = [
            frozenset(
                index
                for index, box in enumerate(boxes)
                if all(box[n].lo <= at <= box[n].hi for n, at in zip("ab", point, strict=True))
            )
            for point in points
        ]
        assert at_least(boxes) == _fewest(hit)


def test_what_boxes_have_in_common() -> None:
    one: Box = {"a": Interval(0.0, 5.0), "b": Interval(1.0, 2.0)}
    other: Box = {"a": Interval(3.0, 9.0), "b": Interval(0.0, 1.5)}
    assert common([one, other]) == {"a": Interval(3.0, 5.0), "b": Interval(1.0, 1.5)}
    assert common([one, {"a": Interval(6.0, 9.0), "b": Interval(0.0, 1.5)}]) is None
