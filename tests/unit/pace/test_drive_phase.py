"""The phase `drive` of a programme: what it becomes, and what of it is refused."""

from pathlib import Path

import pytest

from choreo.scenario import loads
from choreo.words import ChoreoError
from tests.answers import timing_of
from tests.references.scenario_texts import FILE, planned

ROAD = """\
choreo: 1
title: Drive
paths:
  road:
    start: [0 m, 0 m]
    pieces: [{line: 50 m}, {line: 60 m, speed: 28..32 km/h, name: slow}, {line: 200 m}]
movers:
  subject:
    path: road
    body: {length: 4.30 m, width: 1.80 m}
    limits: {speed: 70 km/h, accelerate: 2 m/s2, brake: 4 m/s2}
    start: {station: 0 m}
    programme:
      PROGRAMME
      - stop: {}
instants: {left: {before: end of subject.PHASE, by: 0 s}}
"""


def road(programme: str, phase: str = "drive") -> str:
    return ROAD.replace("PROGRAMME", programme).replace("PHASE", phase)


def test_a_drive_keeps_to_the_window_and_its_end_is_the_end_of_its_last_part() -> None:
    plan = planned(road("- drive: {until: 200 m, to: 40 km/h}"))
    assert plan.verdict == "feasible"
    left = plan.instants["left"].movers["subject"]
    assert left.station_m == pytest.approx(200.0, abs=1e-6)
    assert left.speed_mps == pytest.approx(40 / 3.6, abs=1e-6)
    slow = [one for one in plan.movers["subject"].pieces if 50.0 <= one.station_m < 110.0]
    assert [one.speed_mps for one in slow] == pytest.approx([32 / 3.6])


def test_a_drive_after_phases_of_known_length_begins_where_they_end() -> None:
    plan = planned(
        road(
            "- ramp: {to: 20 km/h}\n      - hold: {for: 10 m}\n      - drive: {until: end of subject.slow}"
        )
    )
    named = {one.phase: one.station_m for one in plan.movers["subject"].pieces}
    assert named["drive"] == pytest.approx((20 / 3.6) ** 2 / 4 + 10.0)


@pytest.mark.parametrize(
    ("programme", "words"),
    [
        (
            "- ramp: {to: 20 km/h}\n      - hold: {}\n      - drive: {until: 200 m}",
            "nobody knows where it begins",
        ),
        ("- drive: {until: 900 m}", "the path is 310.000 m long"),
        ("- drive: {until: 200 m, to: 69 km/h, lasting: 9 s}", "at its limits"),
        ("- drive: {until: 111 m, to: 60 km/h}", "is the most that is reached"),
        ("- drive: {until: 300 m} # 40..50", "no speed is both"),
    ],
)
def test_what_no_drive_can_do_is_told(programme: str, words: str) -> None:
    text = road(programme)
    if "40..50" in programme:
        text = text.replace("200 m}", "200 m, speed: 40..50 km/h}")
    with pytest.raises(ChoreoError) as told:
        planned(text)
    assert [one.code for one in told.value.findings] == ["problem.no-drive"]
    assert words in str(told.value.findings[0].values["what"])


def test_a_window_that_a_drive_cannot_keep_is_named() -> None:
    text = road("- drive: {until: 200 m}").replace("name: slow", "name: slow, speed: 20..32 km/h")
    text = text.replace("speed: 28..32 km/h, ", "").replace("{line: 50 m}", "{line: 5 m}")
    with pytest.raises(ChoreoError) as told:
        planned(text)
    (fault,) = told.value.findings
    assert fault.text == (
        "the drive of subject can't keep 20 km/h to 32 km/h on `slow`: "
        "at station 5.0 m the quickest drive has 16.1 km/h"
    )
    assert fault.origin is not None
    assert fault.origin.line == 6


BEND = """\
choreo: 1
title: A curve behind the end of a drive
paths:
  road:
    start: [0 m, 0 m]
    pieces: [{line: 80 m, name: straight}, {bend: {radius: 40 m, angle: 90 deg, clothoid length: 10 m}}]
movers:
  subject:
    path: road
    body: {length: 4.30 m, width: 1.80 m}
    limits: {speed: 100 km/h, accelerate: 3 m/s2, brake: 6 m/s2, jerk: 10 m/s3, lateral: 4 m/s2COMBINED}
    start: {station: 0 m}
    programme: [{drive: {until: end of subject.straight}}, {stop: {}}]
"""


def test_a_drive_ends_so_slow_that_the_curve_behind_it_allows_what_follows() -> None:
    plan = planned(BEND.replace("COMBINED", ""))
    assert plan.verdict == "feasible"
    stop = next(one for one in plan.movers["subject"].pieces if one.phase == "stop")
    assert stop.station_m == pytest.approx(80.0, abs=1e-6)
    # Straight on it would come to 21 m/s; the curve allows 12.6 m/s from 10 m behind the end on.
    assert 13.0 < stop.speed_mps < 17.0
    shared = planned(BEND.replace("COMBINED", ", combined: ellipse"))
    assert shared.verdict == "feasible"
    # At its limit it can't brake in a curve at all: nobody states its rate, so it is gentler.
    gentle = next(one for one in shared.movers["subject"].pieces if one.phase == "stop")
    assert 8.0 < gentle.speed_mps < stop.speed_mps


def test_the_gentlest_drive_lasts_as_long_as_asked() -> None:
    plan = planned(road("- drive: {until: 200 m, lasting: 26 s}"))
    pieces = plan.movers["subject"].pieces
    assert pieces[-1].start_s == pytest.approx(26.0, abs=1e-4)


WINDING = """\
choreo: 1
title: Bends that share the grip
paths:
  road:
    start: [0 m, 0 m]
    pieces:
      - {line: 30 m}
      - {bend: {radius: 60 m, angle: 60 deg, clothoid length: 12 m}BANK}
      - {line: 20 m, speed: 15 km/h, name: slow}
      - {line: 100 m}
movers:
  subject:
    path: road
    body: {length: 4.30 m, width: 1.80 m}
    limits: {speed: 90 km/h, accelerate: RATES, brake: 6 m/s2, lateral: 5 m/s2, combined: ellipse}
    start: {station: 0 m}
    programme: [{drive: {until: end of subject.slow}}, {stop: {}}]
"""
TABLE = "{0 km/h: 3 m/s2, 60 km/h: 1.5 m/s2}"


@pytest.mark.parametrize("bank", ["", ", bank: 8 deg", ", bank: -3 deg"])
@pytest.mark.parametrize("rates", ["3 m/s2", TABLE])
def test_a_drive_brakes_in_a_bend_with_what_its_bank_and_its_table_leave(
    bank: str, rates: str
) -> None:
    """Slow on a bank the tyres hold it from sliding down; a share of a table is no table that a ramp could follow."""
    plan = planned(WINDING.replace("BANK", bank).replace("RATES", rates))
    assert plan.verdict == "feasible"


def test_what_would_take_minutes_to_write_down_is_left_undecided(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("choreo.case.answering.MOST_ELLIPSE_LOOKS", 0)
    text = BEND.replace("COMBINED", ", combined: ellipse") + "prefer: gentlest ramps\n"
    text = text.replace("{drive: {until: end of subject.straight}}", "{ramp: {to: 30 km/h}}")
    plan = timing_of(loads(text, FILE, Path()))
    assert plan.verdict == "undecided"
    assert [one.code for one in plan.warnings][:1] == ["plan.too-many-ramps"]
