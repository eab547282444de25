"""Circuits: laps of known time, when excursions fall due, heat, and the faults that are told."""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from choreo.circuits.following import following
from choreo.circuits.heat import heat_of
from choreo.circuits.lap import Lap, seam_faults
from choreo.circuits.planning import plan_circuit
from choreo.circuits.reading import load_circuit
from choreo.circuits.records import LapKey, Seam, Spell
from choreo.circuits.sequence import sequence_of
from choreo.circuits.told import content_of_circuit, document_of_circuit
from choreo.circuits.written import RoughWritten, TemperatureWritten
from choreo.geometry import CurvePath, banks_of
from choreo.report.sections import Table
from choreo.words import ChoreoError, Finding
from tests.unit.circuits.miles import COOL, MILE, STARTS, STRAIGHT_M, planned, written


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("circuits")


def test_excursions_are_taken_after_every_so_many_laps_and_the_rest_adds_up(folder: Path) -> None:
    plan = planned(MILE + COOL, folder)
    assert [(one.lap.name, one.first, one.count) for one in plan.driven] == [
        ("first", 1, 1),
        ("plain", 2, 4),
        ("cool", 6, 1),
        ("plain", 7, 4),
        ("cool", 11, 1),
        ("last", 12, 1),
    ]
    totals = plan.totals
    lap_m = 1609.344
    way = plan.laps[LapKey(("cool",))].length_m - lap_m
    assert totals.way_m == pytest.approx(12 * lap_m + 2 * way, abs=1e-5)
    assert totals.standing_s == pytest.approx(1200.0, abs=1e-6)
    assert totals.surfaces_m["setts"] == pytest.approx(12 * STRAIGHT_M, abs=1e-5)
    assert totals.passes["setts"] == 12
    lasts = sum(one.lasts_s for one in plan.driven)
    assert totals.lasts_s == pytest.approx(lasts)
    assert plan.well
    agrees = [lap.answer.plan.verification.agrees for lap in plan.laps.values()]
    assert agrees == [True] * 4
    document = document_of_circuit(plan)
    assert set(document["laps"]) == {"first", "plain", "cool", "last"}
    assert document["sequence"][2]["begins_at_s"] == pytest.approx(
        8 * 3600 + plan.driven[0].lasts_s + plan.driven[1].lasts_s
    )


def test_a_seam_that_does_not_fit_is_told(folder: Path) -> None:
    plan = planned(MILE + COOL, folder)
    plain, cool = LapKey(), LapKey(("cool",))
    bad: dict[LapKey, Lap] = dict(plan.laps)
    bad[cool] = replace(bad[cool], enters=Seam(bad[cool].enters.speed_mps + 1e-3, 0.0))
    assert seam_faults(plan.circuit, plan.laps, {(plain, cool)}) == []
    (found,) = seam_faults(plan.circuit, bad, {(plain, cool)})
    assert found.code == "circuit.seam"


def test_two_thousand_laps_cost_the_kinds_of_lap_alone(folder: Path) -> None:
    plan = planned(MILE + COOL, folder)
    asked = plan.circuit.written.model_copy(update={"laps": 2000})
    circuit = replace(plan.circuit, written=asked)
    sequence = sequence_of(circuit, lambda key: plan.laps[key], None)
    assert sum(one.count for one in sequence.driven) == 2000
    assert sum(one.count for one in sequence.driven if one.lap.excursions) == 399


def test_a_temperature_of_first_order_rises_and_falls_by_its_closed_form() -> None:
    model = TemperatureWritten.model_construct(
        starts=20.0, elsewhere=20.0, over=300.0, most=math.inf
    )
    rough = RoughWritten.model_construct(vibration=None, towards=120.0, over=None)
    spells = (Spell("setts", 300.0, 0.0, False), Spell(None, 600.0, 0.0, True))
    heat = heat_of(spells, {"setts": rough}, model)
    peak = 120.0 - 100.0 / math.e
    assert heat.highest(20.0) == pytest.approx(peak)
    assert heat.after(20.0) == pytest.approx(20.0 + (peak - 20.0) * math.exp(-2.0))


def test_an_excursion_is_taken_before_it_is_too_hot(folder: Path) -> None:
    text = (MILE + COOL).replace("every: 5 laps", "before: 60 degC")
    text += "surfaces: {setts: {towards: 200 degC, vibration: 1.6 m/s2}}\n"
    text += "temperature: {starts: 20 degC, elsewhere: 20 degC, over: 10 min, most: 60 degC}\n"
    plan = planned(text.replace("main: loop", "main: loop\n  driven by: person"), folder)
    taken = [one for one in plan.driven if one.lap.excursions]
    assert taken
    assert plan.totals.highest_degc is not None
    assert 45.0 < plan.totals.highest_degc <= 60.0
    assert plan.well
    assert plan.exposure is not None
    assert plan.exposure.drivers["action VDV"] > 1


@pytest.mark.parametrize(
    ("before", "after", "code"),
    [
        ("closed: yes", "closed: no", "circuit.not-closed"),
        ("laps: 12", "laps: 0", "scenario.bad-value"),
        (f"joins: {STARTS + 250:.6f} m", f"joins: {STARTS + 20:.6f} m", "circuit.order"),
        (f"joins: {STARTS + 250:.6f} m", f"joins: {STARTS + 240:.6f} m", "circuit.apart"),
        ("{shift: {offset: -8 m, length: 60 m}}]", "{line: 60 m}]", "circuit.apart"),
        ("every: 5 laps", "before: 90 degC", "scenario.missing-key"),
        ("every: 5 laps", "every: 5", "scenario.bad-value"),
        ("every: 5 laps", "after: [12 laps]", "scenario.bad-value"),
        ("main: loop", "main: lop", "scenario.unknown-name"),
        ("vehicle:", "vehicle:\n  path: loop", "scenario.not-together"),
        ("speed: 48 km/h, surface", "speed: 46..48 km/h, surface", "circuit.window-missed"),
    ],
)
def test_faults_are_told_by_code(folder: Path, before: str, after: str, code: str) -> None:
    text = MILE + COOL
    assert before in text
    with pytest.raises(ChoreoError) as told:
        plan_circuit(load_circuit(written(text.replace(before, after), folder)))
    assert code in {one.code for one in told.value.findings}


@pytest.mark.parametrize(
    ("before", "after", "words", "instead"),
    [
        (
            "{shift: {offset: -8 m, length: 60 m}}",
            "{shift: {offset: -8 m, length: 60 m}, speed: 47..48 km/h, name: out}",
            "lap `cool` can't keep 47 km/h to 48 km/h on `out`: at station 14",
            "give the vehicle more room",
        ),
        (
            "speed: 48 km/h, surface",
            "speed: 46..48 km/h, surface",
            "lap `first` can't keep 46 km/h to 48 km/h on `setts`: at station 0.0 m of `loop` the quickest",
            "begins or ends at rest there",
        ),
        (
            "{line: 80 m}",
            "{line: 80 m, speed: 5..8 km/h}",
            "lap `cool` can't keep 5 km/h to 8 km/h on piece 2: at station 100.",
            "It stops there: write the most alone (`speed: 8 km/h`)",
        ),
    ],
)
def test_a_window_that_a_lap_cannot_keep_is_named(
    folder: Path, before: str, after: str, words: str, instead: str
) -> None:
    text = (MILE + COOL).replace(before, after, 1)
    with pytest.raises(ChoreoError) as told:
        plan_circuit(load_circuit(written(text, folder)))
    (fault,) = told.value.findings
    assert fault.text.startswith(words)
    assert instead in fault.advice
    window = next(
        number
        for number, line in enumerate(text.splitlines(), 1)
        if "..48" in line or "..8" in line
    )
    assert fault.origin is not None
    assert fault.origin.line == window


def test_windows_that_meet_without_a_common_speed_are_told_at_the_second_one(folder: Path) -> None:
    text = MILE.replace("speed: 48 km/h, surface", "speed: 20..25 km/h, surface")
    text = text.replace("angle: 180 deg}}", "angle: 180 deg}, speed: 36..42 km/h}", 1)
    with pytest.raises(ChoreoError) as told:
        plan_circuit(load_circuit(written(text, folder)))
    (fault,) = told.value.findings
    assert "no speed is both" in fault.text
    lines = text.splitlines()
    assert fault.origin is not None
    assert fault.origin.line == 1 + next(i for i, one in enumerate(lines) if "36..42" in one)


def test_an_excursion_due_before_a_lap_ends_is_warned_of(folder: Path) -> None:
    told = {}
    for every in ("25 m", "25 s", "25 min"):
        plan = planned((MILE + COOL).replace("5 laps", every), folder)
        told[every] = [one for one in plan.notes if one.code == "circuit.in-every-lap"]
    (way,), (time,) = told["25 m"], told["25 s"]
    assert "every 25 m, and a lap is 1609.3 m long" in way.text
    assert "`25 min`" in way.advice
    assert "every 25 s, and a lap lasts 120." in time.text
    assert told["25 min"] == []


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("choreo: 1\n", "it is a scenario (`choreo plan` plans it) Name another file."),
        ("choreo share: 1\n", "it is a shared track (`choreo share` plans it) Name another file."),
        ("", "the file is empty Begin with `choreo circuit: 1`;"),
        ("title: a\n", "Name another file, or add the line `choreo circuit: 1`."),
    ],
)
def test_a_file_of_another_kind_is_told_as_what_it_is(
    tmp_path: Path, text: str, words: str
) -> None:
    with pytest.raises(ChoreoError) as told:
        load_circuit(written(text, tmp_path))
    (fault,) = told.value.findings
    assert words in f"{fault.text} {fault.advice}"


def test_a_course_is_no_loop(folder: Path) -> None:
    loop = MILE[MILE.index("    closed: yes") : MILE.index("vehicle:")]
    text = MILE.replace(loop, "    course: steady circle\n    radius: 50 m\n")
    with pytest.raises(ChoreoError) as told:
        load_circuit(written(text, folder))
    (fault,) = told.value.findings
    assert fault.code == "circuit.not-closed"
    assert fault.advice.startswith("A course (steady circle) is driven through once: lay the loop")


def test_where_an_excursion_could_join_is_told_if_there_is_such_a_place(folder: Path) -> None:
    told = []
    for before, after in (
        (f"joins: {STARTS + 250:.6f} m", f"joins: {STARTS + 240:.6f} m"),
        ("offset: -8 m", "offset: -6 m"),
    ):
        with pytest.raises(ChoreoError) as fault:
            plan_circuit(load_circuit(written((MILE + COOL).replace(before, after), folder)))
        told.append(fault.value.findings[0].advice)
    assert told[0].startswith(f"Write `joins: {STARTS + 250:.3f} m`")
    assert "2.000 m beside the main path" in told[1]


def test_an_excursion_that_is_laid_the_wrong_way_round_is_told_once(folder: Path) -> None:
    """Two other stations would make it one that joins before it leaves."""
    x = STRAIGHT_M - 250.0
    path = f"  way: {{start: [{x:.6f} m, 200 m], pieces: [{{line: 200 m}}]}}\nvehicle:"
    cool = COOL[: COOL.index("      pieces")] + "      path: way\n"
    with pytest.raises(ChoreoError) as told:
        load_circuit(written((MILE + cool).replace("vehicle:", path), folder))
    (fault,) = told.value.findings
    assert fault.code == "circuit.against-traffic"
    assert fault.advice.startswith(
        f"Lay its path the other way round: from station {STARTS + 50:.3f} m"
    )


def ring(folder: Path, beside: str = "") -> Path:
    """A circuit of a surveyed ring of 80 m radius, or of a path beside it."""
    angles = [math.radians(10 * one) for one in range(37)]
    points = [f"{80 * math.sin(one):.4f},{80 * (1 - math.cos(one)):.4f}" for one in angles]
    (folder / "ring.csv").write_text("\n".join(["x_m,y_m", *points]) + "\n", encoding="utf-8")
    text = MILE[: MILE.index("    start:")] + "    surveyed: ring.csv\n    closed: yes\n"
    text += beside + MILE[MILE.index("vehicle:") :].replace("laps: 12", "laps: 3")
    return written(text, folder)


def test_laps_of_a_survey_end_where_they_begin(tmp_path: Path) -> None:
    """Its stretches enclose its curvature: laid one after the other they turned too far."""
    plan = plan_circuit(load_circuit(ring(tmp_path)))
    assert plan.well
    assert plan.laps[LapKey((), False, True)].length_m == pytest.approx(160 * math.pi, abs=1e-2)
    beside = "  inner: {beside: loop, offset: 4 m}\n"
    text = ring(tmp_path, beside).read_text(encoding="utf-8").replace("main: loop", "main: inner")
    plan = plan_circuit(load_circuit(written(text, tmp_path)))
    assert plan.well
    assert plan.laps[LapKey((), False, True)].length_m == pytest.approx(152 * math.pi, abs=1e-2)


def test_clothoids_follow_a_curve_through_its_places() -> None:
    """From a guess that is off in its curvature and turns by half a radian; a true one stays."""
    stations, true = np.array([0.0, 10.0, 30.0]), np.array([[0.01, 0.05], [0.05, 0.02]])
    path = CurvePath([(10.0, 0.01, 0.05), (20.0, 0.05, 0.02)], (3.0, 4.0), 3.0)
    assert np.array_equal(following(path, stations, true)[0], true)
    found, lengths = following(path, stations, true + 0.004)
    assert found == pytest.approx(true, abs=1e-7)
    assert lengths == pytest.approx([10.0, 20.0], abs=1e-7)


ARC = "{arc: {radius: 100 m, angle: 180 deg}"


@pytest.mark.parametrize(
    ("before", "after", "words", "instead"),
    [
        (
            "speed: 48 km/h, surface",
            "speed: 50..60 km/h, surface",
            "at station 0.0 m of `loop` the vehicle's limit is 48 km/h",
            "a higher `speed` in its `limits`",
        ),
        (
            ARC,
            ARC + ", speed: 75..80 km/h",
            f"at station {STRAIGHT_M:.1f} m of `loop` its curve allows 72 km/h at the most",
            "a wider curve",
        ),
    ],
)
def test_a_window_above_what_curve_or_limit_allow_is_told_at_its_place(
    folder: Path, before: str, after: str, words: str, instead: str
) -> None:
    text = MILE.replace(before, after, 1)
    if before == ARC:
        text = text.replace("limits: {speed: 48", "limits: {speed: 90")
    with pytest.raises(ChoreoError) as told:
        plan_circuit(load_circuit(written(text, folder)))
    (fault,) = told.value.findings
    assert fault.code == "circuit.window-missed"
    assert words in fault.text
    assert instead in fault.advice
    line = next(number for number, one in enumerate(text.splitlines(), 1) if ".." in one)
    assert fault.origin is not None
    assert fault.origin.line == line


def test_an_excursion_that_no_lap_takes_is_told(folder: Path) -> None:
    plan = planned((MILE + COOL).replace("every: 5 laps", "every: 20 laps"), folder)
    assert plan.notes[-1].code == "circuit.never"
    assert "`cool` is never taken" in str(content_of_circuit(plan).sections)


def test_an_excursion_against_the_traffic_or_at_an_angle_is_told(folder: Path) -> None:
    for turned, code in ((0.0, "circuit.against-traffic"), (178.0, "circuit.not-tangential")):
        x, y = STRAIGHT_M - 50.0, 200.0
        other = f"  back: {{start: [{x:.6f} m, {y} m], heading: {turned} deg, pieces: [{{line: 200 m}}]}}\n"
        text = MILE.replace("vehicle:", other + "vehicle:") + COOL
        text = text[: text.index("      pieces: [{shift")] + "      path: back\n"
        assert code in codes_of(text, folder)


def test_a_curve_between_the_wheels_is_told(folder: Path) -> None:
    tight = MILE.replace("radius: 100 m", "radius: 0.001 m")
    assert codes_of(tight, folder) == {"circuit.too-tight"}


def codes_of(text: str, folder: Path) -> set[str]:
    with pytest.raises(ChoreoError) as told:
        load_circuit(written(text, folder))
    findings: tuple[Finding, ...] = told.value.findings
    return {one.code for one in findings}


def test_laps_are_driven_at_usual_rates_and_a_basis_of_exposure_can_be_chosen(folder: Path) -> None:
    text = MILE + "surfaces: {setts: {vibration: 1.6 m/s2}}\n"
    gentle = text.replace("vehicle:", "vehicle:\n  usual: {accelerate: 1 m/s2, brake: 1 m/s2}")
    first = LapKey((), True)
    quick, slow = (planned(one, folder) for one in (text, gentle))
    speed = 48 / 3.6
    more = slow.laps[first].lasts_s - quick.laps[first].lasts_s
    assert more == pytest.approx(speed / 2 * (1 / 1.0 - 1 / 2.0), abs=1e-6)
    chosen = planned(text.replace("main: loop", "main: loop\n  exposure by: A(8)"), folder)
    assert chosen.exposure is not None
    assert set(chosen.exposure.hours) == {"action A(8)", "limit A(8)"}
    tables = [one for one in content_of_circuit(quick).sections if isinstance(one, Table)]
    rows = next(one.rows for one in tables if one.title == "surfaces")
    ways = {row[0]: float(row[1]) for row in rows}
    assert sum(ways.values()) == pytest.approx(quick.totals.way_m, abs=0.2)
    assert set(ways) == {"setts", "none named"}


def test_stops_that_leave_the_ground_are_told_by_lap(folder: Path) -> None:
    site = "choreo site: 1\narea"
    wide = f"[[-130 m, -5 m], [{STRAIGHT_M + 130:.3f} m, -5 m], [{STRAIGHT_M + 130:.3f} m, 205 m], [-130 m, 205 m]]"
    (folder / "pad.yaml").write_text(f"{site}s: {{pad: {{outline: {wide}}}}}\n", encoding="utf-8")
    text = MILE.replace("paths:", "site: pad.yaml\npaths:", 1).replace("laps: 12", "laps: 1")
    plan = planned(text, folder)
    assert not plan.well
    assert {one.code for one in plan.failures} == {"circuit.room"}
    assert list(plan.laps) == [LapKey((), True, True)]


SLIPPERY = """\
choreo site: 1
title: Slippery
areas:
  pad: {outline: [[-400 m, -300 m], [900 m, -300 m], [900 m, 500 m], [-400 m, 500 m]], friction: 0.3}
"""


def test_laps_on_slippery_ground_are_those_of_a_weaker_vehicle_both_ways_round(
    tmp_path: Path,
) -> None:
    (tmp_path / "slippery.yaml").write_text(SLIPPERY, encoding="utf-8")
    text = MILE.replace("title: One mile", "title: One mile\nsite: slippery.yaml")
    text = text.replace("speed: 48 km/h", "speed: 90 km/h").replace("setts: 90 km/h", "setts")
    text = text.replace(", surface: setts, name: setts", "") + "  both ways: yes\n"
    plan = plan_circuit(load_circuit(written(text, tmp_path)))
    plain = plan.laps[LapKey()]
    limits = plain.answer.case.scenario.movers["vehicle"].limits
    assert limits.lateral_mps2 < 0.3 * 9.81
    # The loop is alike both ways: with the same limits it takes as long the other way round.
    assert plan.reverse_s == pytest.approx(plain.lasts_s, rel=0.01)


def test_the_other_way_round_is_driven_where_the_quickest_would_brake_across_the_line(
    folder: Path,
) -> None:
    bend = "{bend: {radius: 35 m, angle: 180 deg, clothoid length: 15 m}"
    text = f"""\
choreo circuit: 1
title: A slow bend 40 m behind the line, the other way round
paths:
  loop:
    start: [0 m, 0 m]
    closed: yes
    pieces: [{{line: 160 m}}, {bend}}}, {{line: 200 m}}, {bend}, speed: 30 km/h}}, {{line: 40 m}}]
vehicle:
  body: {{length: 4.6 m, width: 1.85 m}}
  limits: {{speed: 100 km/h, accelerate: 2 m/s2, brake: 2 m/s2, lateral: 4 m/s2, jerk: 2 m/s3}}
circuit: {{main: loop, laps: 5, both ways: yes}}
"""
    plan = planned(text, folder)
    assert plan.well
    assert plan.reverse_s == pytest.approx(plan.laps[LapKey()].lasts_s, rel=0.05)


def test_an_excursion_waits_for_the_heat_of_the_lap_that_is_driven(folder: Path) -> None:
    """Where another excursion heats, a plain lap says nothing of how hot it becomes."""
    shed = COOL.split("excursions:\n")[1].replace("cool:", "shed:").replace("5 laps", "3 laps")
    shed = shed.replace(f"{STARTS + 50:.6f} m", "50 m").replace(f"{STARTS + 250:.6f} m", "250 m")
    shed = shed.replace("{line: 80 m}", "{line: 80 m, surface: hot}")
    cool = COOL.replace("every: 5 laps", "before: 80 degC")
    cool = cool.replace("{line: 80 m}", "{line: 80 m, surface: water}")
    heats = "surfaces: {hot: {towards: 120 degC}, water: {towards: 20 degC}}\n"
    heats += "temperature: {starts: 70 degC, elsewhere: 70 degC, over: 10 min}\n"
    plan = planned(MILE + cool + shed + heats, folder)
    hot = [one for one in plan.driven if "shed" in one.lap.excursions]
    assert hot
    # The shed comes first on the lap: it is too hot all the same, which is told.
    assert all("cool" in one.lap.excursions for one in hot)
    told = [one.text for one in plan.notes if one.code == "circuit.before-passed"]
    assert len(told) == 1
    assert "in lap 4 it is hotter than the 80 degC" in told[0]


def test_a_lap_lies_as_its_main_path_does(folder: Path) -> None:
    bend = "{bend: {radius: 80 m, angle: 180 deg, clothoid length: 30 m}, bank: 8 deg}"
    before, after = MILE.split("      - {arc:")[0], MILE.split("vehicle:")[1]
    line = before.splitlines()[-1]
    text = f"{before}      - {bend}\n{line}\n      - {bend}\nvehicle:{after}".replace(
        ", name: setts", ""
    )
    plan = planned(text, folder)
    main = banks_of(plan.circuit.paths["loop"])
    lap = banks_of(plan.laps[LapKey()].answer.paths["vehicle"])
    assert len(main) > 20
    assert np.array(lap) == pytest.approx(np.array(main[: len(lap)]), abs=1e-6)
