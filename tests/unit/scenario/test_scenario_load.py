"""Good files: every value arrives in SI with its place."""

import math
from dataclasses import FrozenInstanceError
from pathlib import Path

import pytest

from choreo.scenario import Contact, Gap, Pass, Scenario, Span, load, loads
from choreo.words import ChoreoError
from tests.unit.scenario.example import EVERYTHING, GOOD_FILES, WALKER, write_everything

KMH = 1 / 3.6


@pytest.fixture
def walker() -> Scenario:
    return loads(WALKER, "walker.yaml", Path())


@pytest.fixture
def everything(tmp_path: Path) -> Scenario:
    return load(write_everything(tmp_path))


@pytest.mark.parametrize("path", GOOD_FILES, ids=lambda path: path.stem)
def test_bundled_scenario_loads_without_warning(path: Path) -> None:
    scenario = load(path)
    assert scenario.movers
    assert [note.text for note in scenario.notes if note.severity != "note"] == []


def test_walker_arrives_in_si(walker: Scenario) -> None:
    subject = walker.movers["subject"]
    assert subject.kind == "subject"
    assert subject.limits.speed_mps == pytest.approx(130 * KMH)
    assert subject.limits.accelerate == ((0.0, 3.0),)
    assert (subject.body.front_m, subject.body.rear_m) == pytest.approx((3.40, 0.90))
    assert subject.start.station == Span(-math.inf, math.inf)
    ramp, hold, stop = subject.programme
    assert ramp.to == Span(40 / 3.6, 40 / 3.6)
    assert (hold.settle_s, hold.until) == (2.0, walker.movers["walker"].programme[2].until)
    assert (stop.brake_mps2, stop.implied) == (5.0, False)
    assert walker.movers["walker"].programme[1].within_m == 1.0


def test_trigger_without_to_counts_down_to_the_only_encounter(walker: Scenario) -> None:
    trigger = walker.triggers["step_out"]
    assert (trigger.condition, trigger.to, trigger.acts_on) == (
        "time to collision", "contact", ("walker",),
    )  # fmt: skip
    assert (trigger.latency_s, trigger.sampling_hz) == (0.06, 100.0)


@pytest.mark.parametrize("overlap", [-0.25, 0.0, 0.25, 0.5, 1.0])
def test_overlap_and_place_on_the_front_are_each_other_s_inverse(
    walker: Scenario, overlap: float
) -> None:
    body = walker.movers["subject"].body
    offset_m = body.offset_of_overlap(overlap)
    assert body.overlap_of_offset(offset_m) == pytest.approx(overlap, abs=1e-15)
    assert offset_m == pytest.approx(-body.width_m / 2 + overlap * body.width_m)


@pytest.mark.parametrize("side", [0.0, 0.25, 1.0])
def test_share_of_a_side_counts_from_the_rear(walker: Scenario, side: float) -> None:
    body = walker.movers["subject"].body
    from_rear_m = body.from_rear_of_side(side)
    assert from_rear_m - body.rear_m == pytest.approx(
        -body.rear_m + side * (body.rear_m + body.front_m)
    )
    assert body.side_of_from_rear(from_rear_m) == pytest.approx(side)


def test_overlap_of_half_is_the_middle_of_the_front(walker: Scenario) -> None:
    contact = walker.encounters["contact"]
    assert isinstance(contact, Contact)
    assert (contact.face, contact.overlap, contact.point) == ("front", 0.5, "reference")
    assert contact.impact_m == 0.0


@pytest.mark.parametrize(("overlap", "impact_m"), [("0 %", -0.9), ("100 %", 0.9), ("75 %", 0.45)])
def test_overlap_counts_from_the_right_edge(overlap: str, impact_m: float) -> None:
    scenario = loads(WALKER.replace("50 %", overlap), "walker.yaml", Path())
    contact = scenario.encounters["contact"]
    assert isinstance(contact, Contact)
    assert contact.impact_m == pytest.approx(impact_m)


@pytest.mark.parametrize(
    ("keys", "begins"),
    [
        (("movers", "subject"), "subject:"),
        (("movers", "subject", "limits"), "limits: {speed: 130"),
        (("movers", "subject", "limits", "jerk"), "4 m/s3"),
        (("movers", "subject", "programme", 1), "hold: {settle"),
        (("movers", "subject", "programme", 0, "to"), "40 km/h}"),
        (("movers", "subject", "programme", 0, "ramp", "to"), "40 km/h}"),
        (("movers", "subject", "programme", 0, "brake"), "ramp: {to: 40"),
        (("paths", "lane", "pieces", 0, "line"), "400 m"),
        (("encounters", "contact", "overlap"), "50 %"),
        (("instants",), "choreo: 1"),
    ],
)
def test_origin_points_to_the_value_or_its_nearest_ancestor(
    walker: Scenario, keys: tuple[str | int, ...], begins: str
) -> None:
    before = WALKER[: WALKER.index(begins)]
    line, column = before.count("\n") + 1, len(before) - (before.rfind("\n") + 1) + 1
    assert str(walker.origin(*keys)) == f"walker.yaml:{line}:{column}"


def test_inherited_limit_points_into_the_fleet_file(everything: Scenario, tmp_path: Path) -> None:
    limits = everything.movers["subject"].limits
    assert (limits.speed_mps, limits.brake_mps2) == pytest.approx((130 * KMH, 5.0))
    speed = everything.origin("movers", "subject", "limits", "speed")
    assert (Path(speed.file).name, speed.line) == ("fleet.yaml", 6)
    brake = everything.origin("movers", "subject", "limits", "brake")
    assert Path(brake.file).name == "a.yaml"
    assert everything.movers["subject"].kind == "vehicle"


def test_site_path_points_into_the_site_file(everything: Scenario) -> None:
    assert Path(everything.origin("paths", "straight").file).name == "site.yaml"
    names = [Path(file).name for file in everything.source_files]
    assert names == ["a.yaml", "site.yaml", "fleet.yaml", "points.csv"]


def test_every_kind_of_piece_arrives(everything: Scenario) -> None:
    pieces = everything.paths["turn"].pieces
    kinds = ["line", "arc", "clothoid", "bend", "bend", "bend", "shift", "shift", "shift"]
    assert [piece.kind for piece in pieces] == kinds
    assert pieces[1].angle_rad == pytest.approx(-math.pi / 6)
    assert (pieces[2].start_curvature_per_m, pieces[2].end_curvature_per_m) == (0.0, -1 / 50)
    assert pieces[2].at_m == (1.0, 2.0)
    assert pieces[3].outer_curvature_per_m == pytest.approx(1 / 1500)
    assert pieces[4].angle_rad == pytest.approx(math.radians(-88.75))
    assert pieces[5].clothoid_length_m == 5.0
    assert (pieces[6].name, pieces[6].offset_m, pieces[6].length_m) == ("cut_in", 3.5, 60.0)
    assert (pieces[7].path_length_m, pieces[7].radius_m) == (60.0, 250.0)
    assert pieces[8].transition_m == 0.0


def test_every_kind_of_path_arrives(everything: Scenario) -> None:
    turn, beside = everything.paths["turn"], everything.paths["other_way"]
    assert turn.start_m == (0.0, 0.0)
    assert turn.heading_rad == pytest.approx(math.pi / 2)
    assert (beside.beside, beside.offset_m, beside.reversed) == ("turn", 3.5, True)
    assert (beside.from_m, beside.to_m) == (10.0, 50.0)
    assert everything.paths["survey"].points_m == ((0.0, 0.0), (10.5, 0.0), (20.0, 0.1))


def test_every_kind_of_phase_arrives(everything: Scenario) -> None:
    ramp, cruise, timed, long, slow, stop = everything.movers["subject"].programme
    names = [phase.name for phase in everything.movers["subject"].programme]
    assert names == ["ramp", "cruise", "hold", "hold 2", "ramp 2", "stop"]
    assert ramp.to.lo == pytest.approx(40 * KMH)
    assert (ramp.accelerate_mps2, ramp.build_up_s, ramp.over_m) == (1.0, 1.0, 30.0)
    assert cruise.settled_by is not None
    assert (cruise.settled_by.kind, cruise.settled_by.name) == ("instant", "T0")
    assert (timed.for_s, timed.for_m, long.for_s, long.for_m) == (2.0, None, None, 20.0)
    assert (slow.to.lo, slow.to.hi) == pytest.approx((5 * KMH, 10 * KMH))
    assert (slow.brake_mps2, slow.jerk_mps3, slow.lasting_s) == (2.0, 3.0, 4.0)
    assert stop.implied
    wait, free, until, _ = everything.movers["lead"].programme
    assert (wait.for_s, wait.for_trigger) == (3.0, None)
    assert free.to == Span(-math.inf, math.inf)
    assert until.until is not None
    assert (until.until.kind, until.until.name) == ("trigger", "go_on")


def test_bodies_and_limits_arrive(everything: Scenario) -> None:
    lead, van = everything.movers["lead"], everything.movers["van"]
    assert (lead.body.length_m, lead.body.width_m, lead.body.front_m) == (2.0, 0.8, 1.0)
    assert van.stand == pytest.approx((310.0, -3.0, math.radians(5)))
    assert van.start.station == Span(0.0, 0.0)
    table = [(0.0, 3.5), (60 * KMH, 2.5)]
    assert [pytest.approx(row) for row in lead.limits.accelerate] == table
    assert lead.limits.failsafe is not None
    assert (lead.limits.stroke_m, lead.limits.failsafe.reaction_s) == (300.0, 0.5)
    assert lead.limits.jerk_mps3 == math.inf


@pytest.mark.parametrize("name", ["subject", "lead", "van"])
def test_corners_run_counter_clockwise(everything: Scenario, name: str) -> None:
    corners = everything.movers[name].body.corners_m
    area = sum(
        ax * by - bx * ay
        for (ax, ay), (bx, by) in zip(corners, corners[1:] + corners[:1], strict=True)
    )
    assert area > 0


def test_encounters_and_instants_arrive(everything: Scenario) -> None:
    contact, near, miss = (everything.encounters[key] for key in ("contact", "near", "pass"))
    assert isinstance(contact, Contact)
    assert isinstance(near, Gap)
    assert isinstance(miss, Pass)
    assert (contact.face, contact.point) == ("side", "front centre")
    assert contact.impact_m == pytest.approx(0.75 * 4.30)
    assert (near.measure, near.wanted, near.tolerance) == ("time gap", Span(1.0, 1.0), 0.05)
    assert (near.at.kind, near.at.mover, near.at.name) == ("phase start", "lead", "stop")
    assert (miss.measure, miss.wanted, miss.tolerance) == ("distance", Span(1.0, 2.0), 0.10)
    assert (miss.first, miss.between) == ("lead", "reference points")
    before = everything.instants["T0"].before
    assert (before.kind, before.mover, before.name) == ("mark end", "subject", "cut_in")
    assert everything.instants["T1"].before.kind == "launch"


def test_programme_that_ends_at_rest_gets_no_stop() -> None:
    text = WALKER.replace("      - stop: {}\n", "      - ramp: {to: 0 km/h}\n")
    programme = loads(text, "walker.yaml", Path()).movers["walker"].programme
    assert [phase.kind for phase in programme] == ["wait", "ramp", "hold", "ramp"]


def test_meaning_ignores_titles_units_and_layout_but_not_numbers() -> None:
    plain = loads(WALKER, "walker.yaml", Path()).meaning()
    retitled = WALKER.replace("Walker steps", "A walker steps").replace("60 ms", "0.06 s")
    assert loads(retitled, "other.yaml", Path()).meaning() == plain
    assert loads(WALKER.replace("60 ms", "61 ms"), "walker.yaml", Path()).meaning() != plain


def test_scenario_is_frozen(walker: Scenario) -> None:
    with pytest.raises(FrozenInstanceError):
        walker.title = "other"  # type: ignore[misc]


def test_byte_order_mark_and_windows_line_ends_are_accepted(tmp_path: Path) -> None:
    path = tmp_path / "walker.yaml"
    path.write_bytes(b"\xef\xbb\xbf" + WALKER.replace("\n", "\r\n").encode())
    assert load(path).meaning() == loads(WALKER, "walker.yaml", Path()).meaning()


def test_text_of_title_keeps_its_dollar_sign(everything: Scenario) -> None:
    assert "$100" in everything.about


def test_unknown_value_in_everything_names_the_nearest(tmp_path: Path) -> None:
    path = write_everything(tmp_path)
    path.write_text(EVERYTHING.replace("to: $test_speed", "to: $test_sped"), encoding="utf-8")
    with pytest.raises(ChoreoError) as caught:
        load(path)
    finding = next(one for one in caught.value.findings if one.code == "scenario.unknown-name")
    assert finding.advice == "Did you mean `test_speed`?"
