"""A named value that drives several places is one quantity: shown, kept, changed and rewritten as one."""

from pathlib import Path

import pytest

from choreo.case import answer, case_at
from choreo.case.choices import open_quantity
from choreo.case.extreme import preferred_answer
from choreo.repair import apply, explain, negotiable
from choreo.scenario import Extreme, Scenario, load, loads
from choreo.words import ChoreoError

TEXT = """choreo: 1
title: two at one speed
KEEP
values: {test_speed: 100 km/h, steady: 2 s}
paths:
  lane: {start: [0 m, 0 m], pieces: [{line: 250 m}]}
movers:
  subject:
    path: lane
    body: {length: 4 m, width: 1.8 m}
    limits: {speed: 130 km/h, accelerate: 3 m/s2, brake: 6 m/s2}
    programme:
      - ramp: {to: $test_speed}
      - hold: {settle: $steady, until: gap}
      - stop: {brake: 5 m/s2}
  lead:
    path: lane
    body: {length: 4 m, width: 1.8 m}
    limits: {speed: 130 km/h, accelerate: 3 m/s2, brake: 6 m/s2}
    programme:
      - ramp: {to: $test_speed}
      - hold: {settle: 2 s}
      - {stop: {brake: 5 m/s2}, name: brake}
encounters:
  gap: {kind: gap, of: subject, with: lead, distance: 20 m, at: start of lead.brake}
"""


def loaded(keep: str = "") -> Scenario:
    """Two cars whose speed is one named value."""
    return loads(TEXT.replace("KEEP", keep), "values.yaml", Path())


def test_what_one_value_drives_is_one_quantity_by_its_name() -> None:
    case = case_at(loaded(), None)
    names = [one.name for one in case.quantities]
    assert "test_speed" in names
    assert not {"subject speed", "lead speed"} & set(names)
    # A value that drives one place only is called as that place is.
    assert "subject settle" in names
    assert "steady" not in names
    speed = next(one for one in case.quantities if one.name == "test_speed")
    slower = case.with_(speed, 20.0).scenario.movers
    assert [slower[name].programme[0].to.lo for name in ("subject", "lead")] == [20.0, 20.0]


@pytest.mark.parametrize("keep", ["test_speed", "subject speed"])
def test_it_is_kept_by_its_own_name_and_by_those_of_its_places(keep: str) -> None:
    case = case_at(loaded(f"keep: [{keep}]"), None)
    assert "test_speed" not in [one.name for one in negotiable(case)]


def test_an_unknown_name_to_keep_is_still_refused() -> None:
    with pytest.raises(ChoreoError):
        case_at(loaded("keep: [test_sped]"), None)


def test_a_repair_changes_all_its_places_and_is_written_once(tmp_path: Path) -> None:
    file = tmp_path / "values.yaml"
    file.write_text(TEXT.replace("KEEP\n", ""))
    scenario = load(file)
    found = explain(answer(case_at(scenario, None)))
    assert found.plan.verdict == "infeasible"
    number = next(
        index
        for index, repair in enumerate(found.repairs, 1)
        if [one.quantity.name for one in repair.changes] == ["test_speed"]
    )
    text = apply(file, scenario, found.repairs, number, file)
    changed = [
        (old, new)
        for old, new in zip(file.read_text().splitlines(), text.splitlines(), strict=True)
        if old != new
    ]
    assert len(changed) == 1
    assert changed[0][1].startswith("values: {test_speed: ")
    assert answer(case_at(loads(text, "values.yaml", tmp_path), None)).feasible


def test_as_one_range_it_is_made_highest_in_all_its_places() -> None:
    text = TEXT.replace("KEEP", "prefer: highest test_speed").replace("100 km/h", "20..100 km/h")
    scenario = loads(text, "values.yaml", Path())
    assert open_quantity(scenario, Extreme("highest", "subject speed")).name == "test_speed"
    found = preferred_answer(case_at(scenario, None))
    told = found.plan.preferred
    assert found.feasible
    assert told is not None
    assert told.name == "test_speed"
    peaks = [found.plan.movers[name].peak.speed_mps for name in ("subject", "lead")]
    assert peaks == pytest.approx([told.value, told.value], abs=1e-6)
    # What stops it is the subject's way: up to speed at 3 m/s2, 2 s of settling, down at 5 m/s2, on 250 m with a gap.
    assert told.beyond is not None
    assert told.value > 30 / 3.6


def test_usual_rates_are_quantities() -> None:
    """Gentler than the limits, and never harder: the car that usually gains 1 m/s2 needs more way than there is."""
    usual = "limits: {speed: 130 km/h, accelerate: 3 m/s2, brake: 6 m/s2}\n    usual: {accelerate: 1 m/s2}"
    text = TEXT.replace("limits: {speed: 130 km/h, accelerate: 3 m/s2, brake: 6 m/s2}", usual, 1)
    case = case_at(
        loads(text.replace("KEEP", "keep: [subject usual acceleration]"), "values.yaml", Path()),
        None,
    )
    rate = next(one for one in case.quantities if one.name == "subject usual acceleration")
    assert (rate.value, rate.high, rate.keys) == (
        1.0,
        3.0,
        ("movers", "subject", "usual", "accelerate"),
    )
    usually = case.with_(rate, 2.5).scenario.movers["subject"].usual
    assert usually is not None
    assert usually.accelerate_mps2 == 2.5
    (limit,) = [one for one in case.quantities if one.name == "subject acceleration"]
    assert limit.low == 1.0
