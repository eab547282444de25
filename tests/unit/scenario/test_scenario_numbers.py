"""Numbers of a scenario are floats: an int would be taken for structure by whoever reuses a problem."""

from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from choreo.scenario import Scenario, Span, load
from choreo.words.origin import Origin
from choreo.words.quantities import parse, parse_range
from choreo.words.units import UNITS
from tests.unit.scenario.example import GOOD_FILES, write_everything


def numbers_of(value: Any, where: str = "") -> Iterator[tuple[str, Any]]:
    """Every number of a record, with its place; truth values and places in files are none."""
    if isinstance(value, Origin):
        return
    if is_dataclass(value):
        for field in fields(value):
            if field.name not in ("places", "notes"):
                yield from numbers_of(getattr(value, field.name), f"{where}.{field.name}")
    elif isinstance(value, dict):
        for key, one in value.items():
            yield from numbers_of(one, f"{where}.{key}")
    elif isinstance(value, (tuple, list)):
        for index, one in enumerate(value):
            yield from numbers_of(one, f"{where}.{index}")
    elif isinstance(value, (int, float)) and not isinstance(value, bool):
        yield where, value


def not_floats(scenario: Scenario) -> list[str]:
    numbers = list(numbers_of(scenario))
    assert len(numbers) > 20
    return [where for where, value in numbers if not isinstance(value, float)]


@pytest.mark.parametrize("path", GOOD_FILES, ids=lambda path: path.stem)
def test_bundled_scenario_has_no_number_that_is_no_float(path: Path) -> None:
    assert not_floats(load(path)) == []


def test_example_of_everything_has_no_number_that_is_no_float(tmp_path: Path) -> None:
    assert not_floats(load(write_everything(tmp_path))) == []


@pytest.mark.parametrize("ends", [(0, 1), (0.0, 1), (0, 1.0), (True, 1.0), (np.int64(0), 1.0)])
def test_span_of_whole_numbers_is_refused(ends: tuple[Any, Any]) -> None:
    with pytest.raises(TypeError, match="floats"):
        Span(*ends)


def test_span_takes_floats_of_any_make() -> None:
    assert Span(np.float64(1.0), 2.0) == Span(1.0, 2.0)
    assert Span.at(2.0).fixed


@pytest.mark.parametrize("unit", sorted(UNITS))
def test_whole_number_is_read_to_a_float(unit: str) -> None:
    kind = UNITS[unit].kind
    assert type(parse(f"1 {unit}", kind)) is float
    assert [type(end) for end in parse_range(f"0..1 {unit}", kind)] == [float, float]
    assert [type(end) for end in parse_range("free", kind)] == [float, float]


def test_ends_of_a_span_are_set_one_by_one_or_both() -> None:
    span = Span(1.0, 3.0)
    assert span.with_end("lo", 2.0) == Span(2.0, 3.0)
    assert span.with_end("hi", 2.0) == Span(1.0, 2.0)
    assert span.with_end("", 2.0) == Span(2.0, 2.0)
