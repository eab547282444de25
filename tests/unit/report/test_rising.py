"""Steps of lateral acceleration on a circle whose speed rises, by hand."""

from pathlib import Path

import pytest

from choreo.case import answer, case_of
from choreo.report.rising import rising_sections
from choreo.report.sections import Table
from choreo.scenario import load, loads

SCENARIO = Path(__file__).parents[3] / "scenarios" / "rising-speed-circle.yaml"


def test_each_step_has_its_time_place_and_laps() -> None:
    scenario = load(SCENARIO)
    plan = answer(case_of(scenario)).plan
    assert plan.verdict == "feasible"
    (table,) = rising_sections(scenario, plan)
    assert isinstance(table, Table)
    rise = next(event for event in plan.movers["subject"].events if event.name == "end of steady")
    # v^2 = 100 m a: from 10 m/s at 0.1 m/s2 a step of 0.5 m/s2 takes 50 / 0.2 = 250 m.
    steps = [row for row in table.rows if float(row[0]) > 1.0]
    assert len(steps) == 10
    for number, (lateral, speed, time, station, laps) in enumerate(steps, 1):
        wanted = 1.0 + 0.5 * number
        assert float(lateral) == pytest.approx(wanted)
        assert float(speed) / 3.6 == pytest.approx((100 * wanted) ** 0.5, abs=0.003)
        assert float(station) == pytest.approx(rise.station_m + 250.0 * number, abs=0.01)
        assert float(time) == pytest.approx(
            rise.time_s + ((100 * wanted) ** 0.5 - 10) / 0.1, abs=2e-3
        )
        assert float(laps) == pytest.approx(250.0 * number / 628.3185, abs=0.006)


def test_a_held_speed_has_no_steps() -> None:
    text = SCENARIO.read_text(encoding="utf-8")
    begin, stop = text.index("      - {hold:"), text.index("      - stop")
    hold = "{settle: 1 s, settled by: start of subject.lap, until: end of subject.lap}"
    held = text[:begin] + f"      - hold: {hold}\n" + text[stop:]
    scenario = loads(held, str(SCENARIO), SCENARIO.parent)
    plan = answer(case_of(scenario)).plan
    assert plan.verdict == "feasible"
    assert rising_sections(scenario, plan) == []
