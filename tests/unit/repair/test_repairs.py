"""Repairs are least, confirmed, and written into the file; margins are where the plan breaks."""

import math
import os
from pathlib import Path

import pytest

from choreo.case import answer, case_at, case_of
from choreo.case.quantities import quantities_of
from choreo.case.too_tight import too_tight
from choreo.repair import Patience, apply, explain, region
from choreo.repair.changes import Change, confirmed
from choreo.repair.rewrite import rewritten
from choreo.scenario import Scenario, load, loads
from choreo.words import ChoreoError
from tests.answers import explained, timing_of
from tests.unit.scenario.example import WALKER

ROOT = Path(__file__).resolve().parent.parent.parent.parent
IMPOSSIBLE = sorted((ROOT / "scenarios" / "impossible").glob("*.yaml"))
KMH = 1 / 3.6

LONE = """choreo: 1
title: a lone subject on {length} m      # a comment that must stay
{extra}
paths:
  lane: {{start: [0 m, 0 m], heading: 0 deg, pieces: [{{line: {length} m, name: way}}, {{line: 300 m}}]}}
movers:
  subject:
    path: lane
    body: {{length: 4.3 m, width: 1.8 m}}
    limits: {{speed: 130 km/h, accelerate: 3 m/s2, brake: 6 m/s2, jerk: 4 m/s3}}
    start: {{station: 0 m}}
    programme:
      - ramp: {{to: {speed} km/h}}   # the test speed
      - hold: {{settle: 2 s, until: end of subject.way}}
      - stop: {{}}
"""


ONCOMING = """choreo: 1
title: an oncoming car changes into the lane
paths:
  lane: {start: [0 m, 0 m], heading: 0 deg, pieces: [{line: 900 m}]}
  swerve:
    start: [850 m, 3.5 m]
    heading: 180 deg
    pieces: [{line: 350 m}, {shift: {offset: 3.5 m, length: 30 m}, name: change}, {line: 400 m}]
movers:
  subject:
    path: lane
    body: {length: 4.6 m, width: 1.84 m, front overhang: 3.7 m}
    limits: {speed: 160 km/h, accelerate: 3.5 m/s2, brake: 7 m/s2}
    programme:
      - ramp: {to: 50 km/h}
      - hold: {settle: 2 s, settled by: start of target.change, until: hit}
      - stop: {}
  target:
    path: swerve
    body: {length: 4.02 m, width: 1.71 m, front overhang: 2 m}
    limits: {speed: 80 km/h, accelerate: 2 m/s2, brake: 6 m/s2, lateral: 3 m/s2}
    programme:
      - ramp: {to: 60 km/h}
      - hold: {settle: 2 s, settled by: start of target.change, until: hit}
      - stop: {}
encounters:
  over: {kind: gap, of: subject, with: target, time to collision: 1.5 s, at: end of target.change}
  hit: {kind: contact, of: subject, with: target, overlap: 50 %}
"""


def lone(length: float = 120.0, speed: float = 80.0, extra: str = "") -> Scenario:
    """A subject that must be settled at the end of a straight of a given length."""
    text = LONE.format(length=f"{length:.6f}", speed=speed, extra=extra)
    return loads(text, "lone.yaml", Path())


def needed_m(speed_mps: float) -> float:
    """v^2/2a + v a/2j + settle (elementary, v >= a^2/j)."""
    return speed_mps**2 / 6 + speed_mps * 3 / 8 + 2 * speed_mps


def changes(scenario: Scenario) -> dict[str, float]:
    """Single repairs by quantity, exact values in SI."""
    found = explained(scenario)
    assert found.plan.verdict == "infeasible"
    return {
        repair.changes[0].quantity.name: repair.exact[0]
        for repair in found.repairs
        if len(repair.changes) == 1
    }


def test_runway_repair_of_a_lone_subject_is_the_closed_form_to_a_millimetre() -> None:
    speed = 80 * KMH
    assert changes(lone())["subject run-up path"] == pytest.approx(needed_m(speed), abs=1e-3)


def test_speed_repair_solves_the_quadratic_to_a_hundredth_of_a_kilometre_per_hour() -> None:
    """v^2/6 + (3/8 + 2) v = 120 m."""
    b = 3 / 8 + 2
    speed = (-b + math.sqrt(b * b + 4 * 120 / 6)) / (2 / 6)
    assert changes(lone())["subject speed"] == pytest.approx(speed, abs=0.01 * KMH)


def test_acceleration_repair_is_where_the_way_just_suffices() -> None:
    """v^2/2a + v a/2j = 120 m - 2 s * v at 60 km/h."""
    speed = 60 * KMH
    way = needed_m(speed) - 5
    accel = changes(lone(way, 60))["subject acceleration"]
    assert speed**2 / (2 * accel) + speed * accel / 8 + 2 * speed == pytest.approx(way, abs=1e-3)
    assert accel > 3


@pytest.mark.parametrize("file", IMPOSSIBLE, ids=lambda path: path.stem)
def test_every_impossible_scenario_gets_repairs_that_plan_feasible(file: Path) -> None:
    scenario = load(file)
    found = explained(scenario)
    assert found.plan.verdict == "infeasible"
    assert found.repairs
    sizes = [repair.relative for repair in found.repairs]
    assert sizes == sorted(sizes)
    for repair in found.repairs:
        repaired = scenario
        for change in repair.changes:
            repaired = change.quantity.put(repaired, change.value)
        assert timing_of(repaired).verdict == "feasible"


def test_a_little_less_than_the_repair_does_not_help() -> None:
    scenario = lone()
    repairs = explained(scenario).repairs
    assert len(repairs) > 2
    for repair in repairs:
        (change,) = repair.changes
        less = change.quantity.value + 0.995 * (repair.exact[0] - change.quantity.value)
        assert timing_of(change.quantity.put(scenario, less)).verdict != "feasible"


def test_applied_repair_keeps_comments_and_plans_feasible(tmp_path: Path) -> None:
    file = tmp_path / "lone.yaml"
    file.write_text(LONE.format(length="120", speed=80, extra=""))
    scenario = load(file)
    found = explained(scenario)
    assert len(found.repairs) > 2
    for number in range(1, len(found.repairs) + 1):
        text = apply(file, scenario, found.repairs, number, tmp_path / "fixed.yaml")
        assert "# a comment that must stay" in text
        assert "# the test speed" in text
        assert text.count("\n") == file.read_text().count("\n")
        assert timing_of(loads(text, "fixed.yaml", tmp_path)).verdict == "feasible"


def test_a_ramp_is_named_alike_whether_it_is_open_or_not() -> None:
    two = "- ramp: {{to: {speed} km/h}}\n      - hold: {{for: 1 s}}\n      - ramp: {{to: 50 km/h}}"
    text = LONE.replace("- ramp: {{to: {speed} km/h}}", two).format(
        length="120", speed="60..80", extra="prefer: highest subject speed"
    )
    with pytest.raises(ChoreoError) as told:
        case_of(loads(text, "two.yaml", Path()))
    (fault,) = told.value.findings
    assert fault.code == "scenario.unknown-name"
    assert "`subject speed of ramp`" in fault.advice


def test_a_lateral_acceleration_is_written_as_one(tmp_path: Path) -> None:
    """Of sqrt(5 m/s2 x 20 m) = 10 m/s the half is had with a quarter of it."""
    file = tmp_path / "bend.yaml"
    text = LONE.format(length="120", speed=80, extra="")
    text = text.replace("{line: 300 m}", "{arc: {radius: 20 m, angle: 90 deg}, name: turn}")
    text = text.replace("jerk: 4", "lateral: 8 m/s2, jerk: 4")
    file.write_text(text.replace("{to: 80 km/h}", "{to: 5 m/s2 lateral, on: turn}"))
    scenario = load(file)
    speed = next(
        one for one in quantities_of(case_at(scenario, None).scenario) if one.unit == "m/s"
    )
    assert speed.value == pytest.approx(10.0)
    written = rewritten(file, scenario, [Change(speed, 5.0)], file)
    assert "1.25 m/s2 lateral" in written
    assert "on: turn" in written
    loads(written, "fixed.yaml", tmp_path)


def test_values_are_written_in_the_units_that_their_author_has(tmp_path: Path) -> None:
    file = tmp_path / "lone.yaml"
    plain = LONE.format(length="120", speed=80, extra="").replace("settle: 2 s", "settle: 1500 ms")
    file.write_text(plain.replace("80 km/h", "22 m/s").replace("line: 120 m", "line: 0.12 km"))
    scenario = load(file)
    wanted = {2.0: 1.23456, 22.0: 20.987654, 120.0: 150.25, 1.5: 1.23456}
    moved = [
        Change(one, wanted[one.value]) for one in quantities_of(scenario) if one.value in wanted
    ]
    assert len(moved) == 3
    text = rewritten(file, scenario, moved, file)
    assert "settle: 1234.6 ms" in text
    assert "to: 20.98765 m/s}" in text
    assert "line: 0.15025 km," in text


@pytest.mark.parametrize("end", ["\r\n", "\r", "\n"])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
def test_applied_repair_keeps_line_ends_and_byte_order_mark(
    tmp_path: Path, mark: str, end: str
) -> None:
    file = tmp_path / "lone.yaml"
    plain = LONE.format(length="120", speed=80, extra="")
    file.write_bytes((mark + plain.replace("\n", end)).encode())
    scenario = load(file)
    repairs = explained(scenario).repairs
    text = apply(file, scenario, repairs, 1, tmp_path / "fixed.yaml")
    assert text.startswith(mark + plain[:7])
    assert (text.count(end), text.replace(end, "").count("\n")) == (plain.count("\n"), 0)
    (here, fixed) = (one.removeprefix(mark).split(end) for one in (file_text(file), text))
    assert sum(a != b for a, b in zip(here, fixed, strict=True)) == 1


def file_text(file: Path) -> str:
    return file.read_bytes().decode()


def test_ground_that_a_scenario_is_put_on_is_named_from_the_new_place(tmp_path: Path) -> None:
    site = ROOT / "scenarios/sites/strip.yaml"
    file = tmp_path / "lone.yaml"
    placed = f"placed: {{on: {os.path.relpath(site, tmp_path)}, at: [1 m, 2 m]}}"
    file.write_text(LONE.format(length="120", speed=80, extra=placed))
    scenario = load(file)
    output = tmp_path / "deep" / "fixed.yaml"
    output.parent.mkdir()
    text = apply(file, scenario, explained(scenario).repairs, 1, output)
    assert loads(text, str(output), output.parent).placed == (1.0, 2.0, 0.0)


def test_applied_repair_in_another_folder_still_finds_its_companions(tmp_path: Path) -> None:
    file = ROOT / "scenarios/impossible/walker-needs-more-time-than-the-trigger-gives.yaml"
    scenario = load(file)
    repairs = explained(scenario).repairs
    output = tmp_path / "deep" / "fixed.yaml"
    output.parent.mkdir()
    text = apply(file, scenario, repairs, 1, output)
    assert timing_of(loads(text, str(output), output.parent)).verdict == "feasible"


def test_repair_that_is_not_there_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "lone.yaml"
    file.write_text(LONE.format(length="120", speed=80, extra=""))
    with pytest.raises(ChoreoError) as caught:
        apply(file, load(file), (), 1, tmp_path / "fixed.yaml")
    assert caught.value.findings[0].code == "plan.no-such-repair"


def test_kept_quantities_are_not_proposed_and_cheap_ones_come_first() -> None:
    kept = explained(lone(extra="keep: [subject speed]"))
    assert "subject speed" not in [r.changes[0].quantity.name for r in kept.repairs]
    usual = [r.changes[0].quantity.name for r in explained(lone()).repairs]
    cheap = [
        r.changes[0].quantity.name for r in explained(lone(extra=f"cheap: [{usual[-1]}]")).repairs
    ]
    assert cheap[0] == usual[-1]


def test_a_start_mark_is_moved_before_a_path_is_made_longer() -> None:
    """By relative size the path would be first: the same metres are less of its 180 m than of the start's 60 m."""
    from_60_m = LONE.replace("station: 0 m", "station: 60 m")

    def order(extra: str) -> list[str]:
        text = from_60_m.format(length="180", speed=80, extra=extra)
        found = explained(loads(text, "lone.yaml", Path()))
        names = [one.changes[0].quantity.name for one in found.repairs]
        return [one for one in names if one in ("subject start", "subject run-up path")]

    assert order("") == ["subject start", "subject run-up path"]
    assert order("cheap: [subject run-up path]") == ["subject run-up path", "subject start"]


def test_a_curve_that_is_too_tight_for_a_hold_is_named_and_either_of_two_changes_helps() -> None:
    """An oncoming car changes lane at 60 km/h within 30 m: both are told although the two paths' gap is a curve."""
    scenario = loads(ONCOMING, "oncoming.yaml", Path())
    found = explained(scenario)
    (budget,) = found.plan.budgets
    assert budget.title == "target is too fast for its path before the end of change"
    needs = budget.pieces[0].value
    repairs = {one.changes[0].quantity.name: one.exact[0] for one in found.repairs}
    assert set(repairs) == {"target speed", "target lateral acceleration"}
    assert repairs["target lateral acceleration"] == pytest.approx(needs, rel=1e-3)
    assert repairs["target speed"] == pytest.approx(60 * KMH * math.sqrt(3 / needs), rel=1e-3)


def test_without_a_gap_a_hold_lasts_until_where_the_two_meet_at_the_earliest() -> None:
    text = "".join(one for one in ONCOMING.splitlines(True) if "over:" not in one)
    told = {}
    for speed in (46, 45):
        slower = text.replace("to: 60 km/h", f"to: {speed} km/h")
        staging = case_at(loads(slower, "oncoming.yaml", Path()), None).staging
        told[speed] = [one.title for one in too_tight(staging)]
    assert told == {46: ["target is too fast for its path before hit"], 45: []}


def test_unknown_quantity_under_keep_is_a_fault_with_the_nearest() -> None:
    with pytest.raises(ChoreoError) as caught:
        explained(lone(extra="keep: [subject sped]"))
    (finding,) = caught.value.findings
    assert "subject speed" in finding.advice
    assert finding.origin is not None
    assert finding.origin.line == 3


@pytest.mark.parametrize(
    ("when", "unit"),
    [
        ("station: 50 m", "m"),
        ("distance: 30 m", "m"),
        ("time to collision: 3 s", "s"),
        ("speed: 30 km/h", "m/s"),
        ("time: 4 s", "s"),
    ],
)
def test_setting_of_a_trigger_is_a_quantity_of_its_condition_s_unit(when: str, unit: str) -> None:
    text = WALKER.replace("time to collision: free", when)
    (setting,) = (
        one
        for one in quantities_of(loads(text, "walker.yaml", Path()))
        if one.name == f"step_out {when.split(':')[0]}"
    )
    assert setting.unit == unit
    assert setting.put(loads(text, "walker.yaml", Path()), 2.0).triggers["step_out"].setting.lo == 2


def test_margin_is_where_the_plan_breaks() -> None:
    scenario = lone(needed_m(80 * KMH) + 12.3)
    found = {m.quantity.name: m for m in explained(scenario).margins if m.value is not None}
    run_up = found["subject run-up path"]
    assert run_up.quantity.value - (run_up.value or 0) == pytest.approx(12.3, abs=1e-3)
    for name in ("subject run-up path", "subject settle", "subject acceleration"):
        margin = found[name]
        edge, now = margin.value or 0.0, margin.quantity.value
        inside = margin.quantity.put(scenario, edge - 1e-4 * (edge - now))
        outside = margin.quantity.put(scenario, edge + 1e-3 * (edge - now))
        assert timing_of(inside).verdict == "feasible"
        assert timing_of(outside).verdict != "feasible"


def test_region_border_is_the_closed_form() -> None:
    scenario = lone(200.0)
    case = case_at(scenario, None)
    quantities = {one.name: one for one in case.quantities}
    speeds = (30 * KMH, 90 * KMH)
    found = region(
        case,
        quantities["subject speed"],
        quantities["subject run-up path"],
        speeds,
        (20.0, 260.0),
        columns=4,
    )
    assert len(found.columns) == 4
    for column in found.columns:
        assert column.least == pytest.approx(needed_m(column.at), abs=1e-2)
        assert column.most == pytest.approx(260.0, abs=0.1)
        assert column.below == "infeasible"


def test_two_shortfalls_that_no_single_change_cures_get_the_cheapest_pair() -> None:
    """Too little way before and after: with the speed kept, only both paths together help."""
    text = LONE.format(length="120.0", speed=80, extra="keep: [subject speed]").replace(
        "{line: 300 m}", "{line: 30 m}"
    )
    found = explained(loads(text, "lone.yaml", Path()))
    assert found.plan.verdict == "infeasible"
    (pair,) = found.repairs
    names = {change.quantity.name for change in pair.changes}
    assert len(names) == 2
    assert "subject run-up path" in names or "subject acceleration" in names
    exact = dict(zip([c.quantity.name for c in pair.changes], pair.exact, strict=True))
    if "subject run-up path" in exact:
        assert exact["subject run-up path"] == pytest.approx(needed_m(80 * KMH), abs=1e-2)


class Steps:
    """A clock that a search itself moves on: a second each time it is asked."""

    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        self.now += 1.0
        return self.now


def test_a_search_that_is_cut_off_names_what_it_did_not_look_at() -> None:
    case = case_at(lone(), None)
    found = explain(answer(case), patience=Patience(40.0, clock=Steps()))
    names = [one.name for one in case.quantities]
    assert found.hurried
    assert 0 < len(found.left) < len(names)
    assert set(found.left) <= set(names)
    (warning,) = [one for one in found.plan.warnings if one.code == "plan.search-ended"]
    assert found.left[-1] in warning.text


def test_a_search_says_what_it_looks_at_and_what_it_simulates() -> None:
    steps: list[str] = []
    found = explain(answer(case_at(lone(), None)), patience=Patience(tell=steps.append), most=1)
    assert len(found.repairs) == 1
    assert any("subject speed" in step for step in steps)
    assert steps[-1].startswith("simulating")


def test_repairs_where_all_is_given_need_no_nonlinear_solver(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    case = case_at(lone(), None)
    first = answer(case)
    monkeypatch.setattr("choreo.solve.reach.Reach.least", None)
    assert len(explain(first).repairs) > 2


def test_room_of_a_rate_ends_at_its_mover_s_limit() -> None:
    text = LONE.format(length="300", speed=50, extra="").replace(
        "stop: {}", "stop: {brake: 2 m/s2}"
    )
    found = explained(loads(text, "lone.yaml", Path()))
    margins = {one.quantity.name: one for one in found.margins}
    assert margins["subject speed"].quantity.high == pytest.approx(130 * KMH)
    brake = next(
        q for q in quantities_of(loads(text, "lone.yaml", Path())) if "stop brake" in q.name
    )
    assert (brake.high, brake.capped) == (6.0, True)
    most = [one for one in found.margins if one.quantity.name == brake.name and one.at_limit]
    assert [one.value for one in most] == [6.0]
    limit = next(
        q for q in quantities_of(loads(text, "lone.yaml", Path())) if q.name == "subject braking"
    )
    assert limit.low == 2.0


def test_braking_that_nobody_states_is_written_into_its_stop(tmp_path: Path) -> None:
    """Only gentler helps, and where a usual braking is stated it is that which is changed."""
    file = tmp_path / "lone.yaml"
    file.write_text(LONE.format(length="120", speed=80, extra=""))
    scenario = load(file)
    quantity = next(one for one in quantities_of(scenario) if one.name == "subject stop brake")
    assert (quantity.value, quantity.helps, quantity.high) == (6.0, (-1,), 6.0)
    assert "- stop: {brake: 2.5 m/s2}" in rewritten(file, scenario, [Change(quantity, 2.5)], file)
    file.write_text(
        file.read_text().replace("    start:", "    usual: {brake: 2 m/s2}\n    start:")
    )
    names = [one.name for one in quantities_of(load(file))]
    assert "subject usual braking" in names
    assert "subject stop brake" not in names


def test_edges_where_rows_alone_do_not_know_are_told() -> None:
    """A ramp within a length may be driven harder than it asks for: v^2/2a + v a/2j is at most 60 m."""
    text = LONE.format(length="120", speed=40, extra="").replace("km/h}", "km/h, within: 60 m}")
    found = {one.quantity.name: one for one in explained(loads(text, "l.yaml", Path())).margins}
    within = found["subject ramp within"]
    speed, rate, jerk = 40 * KMH, 3.0, 4.0
    assert within.value == pytest.approx(speed**2 / 6 + speed * rate / (2 * jerk), abs=2e-3)
    assert not within.open_beyond
    assert found["subject settle"].value is not None


def test_a_speed_that_only_a_simulation_finds_too_high_is_lowered_further() -> None:
    """Rows let a ramp reach its speed behind a circle; on it v^2/r is at most 5 m/s2 over 50 m all the same."""
    text = """choreo: 1
title: too fast on a circle
keep: [subject run-up path, subject acceleration, subject braking, subject jerk,
  subject lateral acceleration, subject usual acceleration, subject usual braking]
paths:
  circle: {course: steady circle, start: [0 m, 0 m], radius: 50 m}
movers:
  subject:
    path: circle
    body: {length: 4.6 m, width: 1.85 m}
    limits: {speed: 150 km/h, accelerate: 3 m/s2, brake: 8 m/s2, jerk: 8 m/s3, lateral: 5 m/s2}
    usual: {accelerate: 2 m/s2, brake: 3 m/s2}
    programme: [{ramp: {to: 80 km/h}}, {hold: {until: end of subject.lap}}, {stop: {}}]
"""
    found = changes(loads(text, "circle.yaml", Path()))
    assert found["subject speed"] == pytest.approx(math.sqrt(5 * 50), rel=2e-3)


def test_a_latency_is_proposed_in_hundredths_of_a_second(monkeypatch: pytest.MonkeyPatch) -> None:
    """Away from the old value: 80 ms that may be 37.5 ms at most become 30 ms."""
    text = LONE.format(length="300", speed=50, extra="").replace(
        "    start:", "    launch: {latency: 80 ms}\n    start:"
    )
    case = case_at(loads(text, "lone.yaml", Path()), None)
    latency = next(one for one in case.quantities if one.name == "subject launch latency")
    monkeypatch.setattr("choreo.repair.changes.feasible_plan", lambda *_, **__: object())
    repair = confirmed(case, ((latency, 0.0375),))
    assert repair is not None
    assert repair.changes[0].value == pytest.approx(0.03, abs=1e-12)
