"""A Problem taken apart: what counts as a number, and what is refused."""

from dataclasses import replace

import pytest

from choreo.problem.numbers import numbers_of, replace_numbers, structure_of
from choreo.problem.records import CurvePoint
from choreo.scenario import Span
from tests.hand_made import mover, ramp, walker_problem


def test_numbers_are_the_finite_floats_in_the_order_of_the_fields() -> None:
    assert numbers_of(Span(1.5, float("inf"))) == [1.5]
    assert numbers_of(CurvePoint(3, 20.0, 0.25)) == [20.0, 0.25]


@pytest.mark.parametrize("wrong", [1, True])
@pytest.mark.parametrize("take", [numbers_of, structure_of])
def test_integer_in_place_of_a_number_is_refused(take, wrong) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(TypeError, match=r"CurvePoint\.station_m"):
        take(CurvePoint(3, wrong, 0.25))


@pytest.mark.parametrize(
    ("record", "place"),
    [
        (ramp(10.0, 3.0, 4.0, within_m=20), r"Ramp\.within_m"),
        (ramp(10.0, 3.0, 4.0, table=((0, 3.0),)), r"Ramp\.table"),
        (mover("subject", (), marks=(("bend", 0.0, 5),)), r"MoverProblem\.marks"),
    ],
)
def test_integers_deep_inside_a_problem_are_refused_by_their_place(
    record: object, place: str
) -> None:
    with pytest.raises(TypeError, match=place):
        structure_of(replace(walker_problem(), movers=(record,)))


def test_counts_and_choices_stay_structure() -> None:
    one, other = ramp(10.0, 3.0, 4.0), ramp(10.0, 3.0, 4.0, direction=-1)
    assert numbers_of(one) == numbers_of(other)
    assert structure_of(one) != structure_of(other)


def test_replaced_numbers_stand_where_they_were() -> None:
    problem = walker_problem()
    numbers = iter(numbers_of(problem))
    assert replace_numbers(problem, lambda _path, _value: next(numbers)) == problem
    assert numbers_of(replace_numbers(problem, lambda _path, value: value + 1)) == [
        value + 1 for value in numbers_of(problem)
    ]
