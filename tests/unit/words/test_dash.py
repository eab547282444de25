"""A range with a dash, where the kind of quantity follows from what is written."""

import pytest

from choreo.words.quantities import QuantityError, kind_of


def test_a_dash_is_answered_with_the_range_to_write() -> None:
    with pytest.raises(QuantityError) as caught:
        kind_of("10 - 60 km/h")
    assert "`10..60 km/h`" in caught.value.instead
    assert "`10..60 km/h by ...`" in caught.value.instead
