"""Lateral shifts: they hold their numbers exactly, or are refused in clear words."""

import numpy as np
import pytest

from choreo.words import ChoreoError
from tests.unit.geometry.made import built, chain, piece


def _shift(**numbers: float):  # type: ignore[no-untyped-def]
    return built(chain(piece("shift", **numbers)))


@pytest.mark.parametrize(
    "numbers",
    [
        {"offset_m": 3.5, "length_m": 44.0},
        {"offset_m": -3.5, "length_m": 60.0, "radius_m": 250.0},
        {"offset_m": 3.5, "length_m": 44.0, "transition_m": 0.0},
        {"offset_m": -2.5, "length_m": 14.5, "transition_m": 3.0},
        {"offset_m": 3.5, "path_length_m": 60.0, "radius_m": 249.0},
        {"offset_m": 3.5, "path_length_m": 14.5},
        {"offset_m": 5.0, "path_length_m": 30.0, "transition_m": 7.5},
        {"offset_m": 12.0, "length_m": 20.0},
        {"offset_m": 0.02, "length_m": 100.0},
    ],
)
def test_shift_ends_at_its_offset_and_length_with_its_first_heading(
    numbers: dict[str, float],
) -> None:
    path = _shift(**numbers)
    end = path.pose(np.array([path.length_m]))
    assert end.y_m[0] == pytest.approx(numbers["offset_m"], abs=1e-11)
    assert end.heading_rad[0] == pytest.approx(0.0, abs=1e-13)
    if "length_m" in numbers:
        assert end.x_m[0] == pytest.approx(numbers["length_m"], abs=1e-10)
    else:
        assert path.length_m == pytest.approx(numbers["path_length_m"], abs=1e-10)
    if "radius_m" in numbers:
        tightest = max(abs(k) for part in path.stretches() for k in part[2:])
        assert tightest == pytest.approx(1 / numbers["radius_m"], rel=1e-12)


def test_shift_is_the_same_seen_from_both_ends() -> None:
    path = _shift(offset_m=3.5, length_m=40.0)
    s = np.linspace(0.0, path.length_m, 101)
    there, back = path.pose(s), path.pose(s[::-1])
    assert there.x_m == pytest.approx(40.0 - back.x_m, abs=1e-10)
    assert there.y_m == pytest.approx(3.5 - back.y_m, abs=1e-10)


def test_transitions_are_a_tenth_of_the_length_unless_told() -> None:
    parts = _shift(offset_m=3.5, length_m=40.0).stretches()
    assert parts[0][1] - parts[0][0] == pytest.approx(4.0, abs=1e-12)
    assert parts[3][1] - parts[2][0] == pytest.approx(8.0, abs=1e-12)


def test_shift_without_transitions_is_two_plain_arcs() -> None:
    path = _shift(offset_m=3.5, length_m=40.0, transition_m=0.0)
    radius = (40.0**2 + 3.5**2) / (4 * 3.5)  # from length = sqrt(4 R o - o^2)
    assert [part[2] for part in path.stretches()] == pytest.approx(
        [1 / radius, -1 / radius], rel=1e-12
    )


@pytest.mark.parametrize(
    ("numbers", "code"),
    [
        ({"offset_m": 3.5, "length_m": 3.0}, "geometry.shift-too-steep"),
        ({"offset_m": 3.5, "path_length_m": 4.0}, "geometry.shift-too-steep"),
        (
            {"offset_m": 3.5, "length_m": 40.0, "transition_m": 11.0},
            "geometry.shift-transition-too-long",
        ),
        ({"offset_m": 3.5, "length_m": 40.0, "radius_m": 130.0}, "geometry.shift-radius-too-large"),
        ({"offset_m": 3.5, "length_m": 40.0, "radius_m": 20.0}, "geometry.shift-radius-too-small"),
        (
            {"offset_m": 3.5, "path_length_m": 40.0, "radius_m": 20.0},
            "geometry.shift-radius-too-small",
        ),
        ({"offset_m": 0.0, "length_m": 40.0}, "geometry.piece-empty"),
    ],
)
def test_shift_that_cannot_be_is_refused(numbers: dict[str, float], code: str) -> None:
    with pytest.raises(ChoreoError) as caught:
        _shift(**numbers)
    assert [finding.code for finding in caught.value.findings] == [code]
    assert caught.value.findings[0].text


@pytest.mark.parametrize("kind", ["length_m", "path_length_m"])
def test_limits_told_for_a_given_radius_are_the_true_ones(kind: str) -> None:
    def told(length: float, key: str) -> float:
        with pytest.raises(ChoreoError) as caught:
            _shift(offset_m=3.5, radius_m=100.0, **{kind: length})
        return float(str(caught.value.findings[0].values[key]).split()[0])

    least, most = told(20.0, "least"), told(90.0, "most")
    for length in (least + 0.002, most - 0.002):
        assert _shift(offset_m=3.5, radius_m=100.0, **{kind: length}).length_m > 30.0
    assert least < 37.5 < most  # sqrt(4 R o) = 37.42 for a small offset
