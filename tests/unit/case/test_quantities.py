"""What a planner may change is counted in the unit of what it is."""

from pathlib import Path

import pytest

from choreo.case import case_of
from choreo.case.quantities import quantities_of
from choreo.repair.changes import Change, Repair
from choreo.repair.rewrite import apply
from choreo.scenario import load, loads
from choreo.words import ChoreoError
from tests.unit.page.shown import FOLDER
from tests.unit.scenario.example import WALKER

CURVE = """choreo: 1
title: Bend
paths: {bend: {start: [0 m, 0 m], pieces: [{line: 90 m}, {arc: {radius: 9 m, angle: 90 deg}}, {line: 50 m}]}}
movers:
  car:
    path: bend
    body: {length: 4 m, width: 1.8 m}
    limits: {speed: 90 km/h, accelerate: 2 m/s2, brake: 6 m/s2, lateral: 4 m/s2}
    programme: [{ramp: {to: 30 km/h}}, {hold: {for: 2 s}}, {stop: {}}]
"""
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


DRIVE = """\
choreo: 1
title: later words
paths:
  lane: {start: [0 m, 0 m], heading: 0 deg, pieces: [{line: 400 m}]}
movers:
  subject:
    path: lane
    body: {length: 4 m, width: 2 m}
    limits: {speed: 100 km/h, accelerate: 3 m/s2, brake: 5 m/s2}
    launch: {latency: 80 ms}
    brake latency: 0.2 s
    programme:
      - wait: {until: 2 s after go}
      - ramp: {to: 36 km/h, accelerate: 1..2 m/s2}
      - stop: {}
      - wait: {lasting: 3 s}
      - ramp: {to: 18 km/h}
      - stop: {}
"""


def test_waits_latencies_and_ends_of_rates_are_quantities_that_can_be_written_into_the_file(
    tmp_path: Path,
) -> None:
    file = tmp_path / "later.yaml"
    file.write_text(DRIVE, encoding="utf-8")
    scenario = load(file)
    found = {one.name: one for one in quantities_of(scenario)}
    new = {
        "subject wait until": (2.0, 4.0, "until: 4 s after go"),
        "subject wait 2 lasting": (3.0, 5.0, "lasting: 5 s"),
        "subject ramp accelerate, least": (1.0, 0.5, "accelerate: 0.5..2 m/s2"),
        "subject ramp accelerate, most": (2.0, 2.5, "accelerate: 1..2.5 m/s2"),
        "subject launch latency": (0.08, 0.05, "latency: 50 ms"),
        "subject brake latency": (0.2, 0.1, "brake latency: 0.1 s"),
    }
    for name, (value, other, text) in new.items():
        one = found[name]
        assert one.value == pytest.approx(value)
        changed = one.put(scenario, other)
        (again,) = (two for two in quantities_of(changed) if two.name == name)
        assert again.value == pytest.approx(other)
        assert changed.meaning() != scenario.meaning()
        repair = Repair((Change(one, other),), (other,))
        written = apply(file, scenario, (repair,), 1, file)
        assert text in written
        assert loads(written, str(file), tmp_path).meaning() == changed.meaning()


def test_latency_that_is_changed_in_the_file_keeps_its_spread(tmp_path: Path) -> None:
    file = tmp_path / "spread.yaml"
    file.write_text(WALKER.replace("latency: 60 ms", "latency: 60 ms +/- 10 ms"), encoding="utf-8")
    scenario = load(file)
    (latency,) = (one for one in quantities_of(scenario) if one.name == "step_out latency")
    repair = Repair((Change(latency, 0.045),), (0.045,))
    written = apply(file, scenario, (repair,), 1, file)
    assert "latency: 45 ms +/- 10 ms}" in written
    (source,) = loads(written, str(file), tmp_path).errors
    assert (source.spread.size, source.spread.least) == pytest.approx((0.01, -0.045))
    file.write_text(WALKER.replace("latency: 60 ms", "latency: 50..70 ms"), encoding="utf-8")
    with pytest.raises(ChoreoError, match=r"plan\.not-applicable"):
        apply(file, load(file), (repair,), 1, file)


def test_nothing_that_a_drive_was_fitted_to_is_negotiated() -> None:
    """With another start, way or limit the drive would be another one, not the one that is here."""
    case = case_of(load(Path("scenarios/drive-over-cobbles.yaml")))
    assert any(phase.driven for phase in case.scenario.movers["subject"].programme)
    assert quantities_of(case.scenario) == []


@pytest.mark.parametrize(
    ("name", "key", "old"),
    [
        ("lateral acceleration", "lateral", "4 m/s2"),
        ("braking", "brake", "6 m/s2"),
        ("acceleration", "accelerate", "2 m/s2"),
    ],
)
@pytest.mark.parametrize(("written", "most"), [("7 m/s2", 9.81), ("25 m/s2", 25.0)])
def test_no_more_grip_than_a_tyre_has_is_proposed(
    name: str, key: str, old: str, written: str, most: float
) -> None:
    assert f"{key}: {old}" in CURVE
    text = CURVE.replace(f"{key}: {old}", f"{key}: {written}")
    scenario = loads(text, "bend.yaml", Path())
    (found,) = [one for one in quantities_of(scenario) if one.name == f"car {name}"]
    assert found.high == pytest.approx(most)


def test_a_phase_that_is_called_what_is_counted_of_it_is_named_once() -> None:
    slower = "{to: 18 km/h}\n      - {ramp: {to: 9 km/h, brake: 3 m/s2}, name: brake}"
    text = DRIVE.replace("{to: 18 km/h}", slower)
    names = [one.name for one in quantities_of(loads(text, "later.yaml", Path()))]
    assert "subject brake" in names
    assert not [name for name in names if "brake brake" in name]
