"""What a planner may change is counted in the unit of what it is."""

import pytest

from choreo.case.quantities import quantities_of
from choreo.scenario import loads
from tests.unit.page.shown import FOLDER

FREE = "{time to collision: free}, to: contact"


@pytest.mark.parametrize(
    ("when", "unit", "value"),
    [
        ("{station: 400 m}", "m", 400.0),
        ("{distance: 40 m}, to: contact", "m", 40.0),
        ("{time to collision: 4 s}, to: contact", "s", 4.0),
        ("{gap: 20 m, to: walker}", "m", 20.0),
        ("{speed: 36 km/h}", "m/s", 10.0),
        ("{time: 6 s}", "s", 6.0),
    ],
)
def test_setting_of_a_trigger_is_counted_in_the_unit_of_its_condition(
    when: str, unit: str, value: float
) -> None:
    text = (FOLDER / "walker-nearside.yaml").read_text(encoding="utf-8")
    assert FREE in text
    scenario = loads(text.replace(FREE, when), "trigger.yaml", FOLDER)
    condition = scenario.triggers["step_out"].condition
    (found,) = [one for one in quantities_of(scenario) if one.name == f"step_out {condition}"]
    assert found.unit == unit
    assert found.value == pytest.approx(value)
