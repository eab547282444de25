"""Laps, and whole-body vibration of who drives them, against published and worked values."""

import math
from pathlib import Path

import numpy as np
import pytest

from choreo.circuits.exposure import shares_of, worst_day
from choreo.circuits.reading import load_circuit
from choreo.circuits.records import LapKey
from choreo.circuits.roads import RoadClass, displacement_m, velocity_mps, velocity_spectrum
from choreo.circuits.told import a_day, content_of_circuit
from choreo.report.sections import Table
from choreo.words import ChoreoError
from tests.unit.circuits.miles import COOL, MILE, planned, written

HOUR_S = 3600.0


def of_day(*spells: tuple[float, float]) -> tuple[float, float]:
    """A(8) and dose of spells of (acceleration in m/s2, hours)."""
    felt, hours = np.array(spells).T
    return worst_day(felt, hours * HOUR_S)


@pytest.mark.parametrize(
    ("accel", "to_action", "to_limit"),
    [
        (0.63, 5.039, 26.66),
        (0.8, 3.125, 16.53),
        (1.0, 2.0, 10.58),
        (1.15, 1.512, 8.0),
        (1.5, 0.889, 4.702),
        (2.0, 0.5, 2.645),
    ],
)
def test_hours_to_the_values_of_the_directive(
    accel: float, to_action: float, to_limit: float
) -> None:
    # C165
    shares = shares_of(*of_day((accel, 1.0)))
    assert 1.0 / shares["action A(8)"] == pytest.approx(to_action, rel=1e-3)
    assert 1.0 / shares["limit A(8)"] == pytest.approx(to_limit, rel=1e-3)


def test_daily_exposure_and_dose_of_spells() -> None:
    # C166, C167
    assert of_day((1.2, 1.0), (0.5, 3.0))[0] == pytest.approx(0.5232, abs=1e-4)
    assert of_day((1.0, 1.0))[1] == pytest.approx(10.844, abs=1e-3)
    # C171: hand-arm vibration is added up alike.
    assert of_day((7.4, 2.5))[0] == pytest.approx(4.1, abs=0.05)
    assert of_day((14.6, 4000.0 / HOUR_S))[0] == pytest.approx(5.4, abs=0.05)


def test_exposure_is_of_the_worst_24_hours_and_limits_are_daily(tmp_path: Path) -> None:
    # C165, C168: 1.15 m/s2 reaches A(8) 1.15 in 8 h, and 1.0 m/s2 a dose of 21 in 14.06 h.
    assert of_day((1.15, 20.0), (1.15, 4.0), (0.0, 30.0))[0] == pytest.approx(1.15 * math.sqrt(3.0))
    assert of_day((0.0, 20.0), (1.0, 14.06), (0.0, 30.0))[1] == pytest.approx(21.0, rel=1e-3)
    # A night is one day; what is more than 24 h apart is never of one day.
    near = of_day((1.0, 3.0), (0.0, 19.0), (1.0, 4.0))
    assert near == pytest.approx(of_day((1.0, 5.0)))
    apart = of_day((1.0, 3.0), (0.0, 25.0), (1.0, 4.0))
    assert apart == pytest.approx(of_day((1.0, 4.0)))
    # 1900 laps of a mile at 48 km/h are 63.7 h. Of a day's 24 h a driver has 8.
    everywhere = MILE.replace("180 deg}}", "180 deg}, surface: setts}")
    everywhere = everywhere.replace(" m}\n      - {arc", " m, surface: setts}\n      - {arc")
    everywhere = everywhere.replace("laps: 12", "laps: 1900\n  driven by: person")
    plan = planned(everywhere + "surfaces: {setts: {vibration: 1.15 m/s2}}\n", tmp_path)
    assert plan.totals.lasts_s > 48 * HOUR_S
    assert plan.exposure is not None
    assert plan.exposure.a8_mps2 == pytest.approx(1.15 * math.sqrt(3.0))
    assert plan.exposure.hours["limit A(8)"] == pytest.approx(8.0)
    assert plan.exposure.drivers["limit A(8)"] == 3
    assert plan.exposure.drivers["action A(8)"] == 16


@pytest.mark.parametrize(
    ("value", "accel", "hours"),
    [
        ("action VDV", 1.0, 0.4959),
        ("action VDV", 1.15, 0.2835),
        ("limit VDV", 1.0, 14.06),
        ("limit VDV", 1.5, 2.778),
        ("limit VDV", 2.0, 0.879),
    ],
)
def test_hours_to_a_dose(value: str, accel: float, hours: float) -> None:
    # C168
    assert shares_of(*of_day((accel, hours)))[value] == pytest.approx(1.0, rel=2e-3)


def test_a_plan_tells_the_hours_and_the_exposure_of_its_laps(tmp_path: Path) -> None:
    """Of laps that shake alike everywhere, of two surfaces, and of three axes."""
    everywhere = MILE.replace("180 deg}}", "180 deg}, surface: setts}")
    everywhere = everywhere.replace(" m}\n      - {arc", " m, surface: gravel}\n      - {arc")
    told = {}
    for setts, gravel in (("1.0 m/s2", "1.0 m/s2"), ("1.2 m/s2", "0.5 m/s2")):
        both = f"surfaces: {{setts: {{vibration: {setts}}}, gravel: {{vibration: {gravel}}}}}\n"
        told[setts] = planned(everywhere + both, tmp_path)
    alike, mixed = told["1.0 m/s2"], told["1.2 m/s2"]
    assert alike.exposure is not None
    assert mixed.exposure is not None
    # C165, C168
    published = {"action A(8)": 2.0, "limit A(8)": 10.58, "action VDV": 0.4959, "limit VDV": 14.06}
    assert alike.exposure.hours == pytest.approx(published, rel=1e-3)
    # C167: of as long as the laps last.
    hours = alike.totals.lasts_s / HOUR_S
    assert alike.exposure.vdv == pytest.approx(10.844 * hours**0.25, abs=1e-3)
    # C166: of as long as each surface lasts here.
    times = {name: lasts / HOUR_S for name, lasts in mixed.totals.surfaces_s.items()}
    a8 = math.sqrt((1.44 * times["setts"] + 0.25 * times["gravel"]) / 8.0)
    assert mixed.exposure.a8_mps2 == pytest.approx(a8, abs=1e-4)
    # C170: of three axes the largest counts.
    axes = "surfaces: {setts: {vibration: [0.35 m/s2, 0.28 m/s2, 0.62 m/s2]}}\n"
    circuit = load_circuit(written(MILE + axes, tmp_path))
    assert circuit.surfaces["setts"].vibration == pytest.approx(0.62, abs=1e-3)
    for wrong in ("[1 m/s2, 2 m/s2]", "[1 m/s2, 1 m/s2, 1 s]", "0 m/s2"):
        with pytest.raises(ChoreoError):
            load_circuit(written(MILE + f"surfaces: {{setts: {{vibration: {wrong}}}}}", tmp_path))


@pytest.mark.parametrize(("road", "height_mm"), [("A", 3.806), ("C", 15.226), ("E", 60.903)])
def test_a_road_of_a_class_is_as_rough(road: RoadClass, height_mm: float) -> None:
    # C172
    assert 1000.0 * displacement_m(road) == pytest.approx(height_mm, abs=1e-2)


def test_a_road_of_class_a_moves_wheels_at_20_mps() -> None:
    # C173
    assert velocity_spectrum("A") == pytest.approx(6.3165e-6, rel=1e-4)
    assert velocity_mps("A", 20.0) == pytest.approx(0.0844, abs=1e-4)


def test_160_000_miles_in_20_weeks_are_1143_a_day() -> None:
    # C175
    assert a_day(160_000.0, 20 * 7 * 86_400.0) == pytest.approx(1142.9, abs=0.1)


def test_a_plan_tells_the_road(tmp_path: Path) -> None:
    plan = planned(MILE + "surfaces: {setts: {road: C}}\n", tmp_path)
    titles = {one.title: one for one in content_of_circuit(plan).sections}
    table = next(one for title, one in titles.items() if title.startswith("roads"))
    assert isinstance(table, Table)
    speed = plan.totals.surfaces_m["setts"] / plan.totals.surfaces_s["setts"]
    assert table.rows[0][:3] == ("setts", "C", "15.2")
    assert float(table.rows[0][4]) == pytest.approx(0.0844 * 4 * speed / 20.0, abs=1e-3)


def test_a_mile_at_48_kmh_takes_120_7_s_and_five_603_5(tmp_path: Path) -> None:
    # C174
    plan = planned(MILE + COOL, tmp_path)
    plain = plan.laps[LapKey()]
    assert plain.length_m == pytest.approx(1609.344, abs=1e-6)
    assert plain.lasts_s == pytest.approx(120.7, abs=0.05)
    assert 5 * plain.lasts_s == pytest.approx(603.5, abs=0.1)


def test_five_laps_and_a_pause_of_ten_minutes_are_14_96_laps_an_hour(tmp_path: Path) -> None:
    # C183. What stopping and leaving again cost, and the longer way, come on top.
    plan = planned(MILE + COOL, tmp_path)
    paused = [one for one in plan.driven if one.lap.excursions]
    assert len(paused) == 2
    speed_mps = 48.0 / 3.6
    longer_m = plan.laps[paused[0].lap].length_m - plan.laps[LapKey()].length_m
    more_s = longer_m / speed_mps + speed_mps / 2.0 * (1.0 / 2.0 + 1.0 / 4.0)
    cycle_s = paused[1].starts_s - paused[0].starts_s - more_s
    assert cycle_s == pytest.approx(1203.5, abs=0.05)
    assert 5 * 3600.0 / cycle_s == pytest.approx(14.96, abs=0.01)
