"""The linear stage decides: optima by closed forms, conflicts that add up, lanes and curves kept."""

import math
from pathlib import Path

import numpy as np
import pytest

from choreo.case import Case, case_at
from choreo.linear import Decision, Ends, conflict_of, decide, unstated
from choreo.linear.search import Search
from choreo.scenario import loads
from choreo.solve import solve_linear

KMH = 1 / 3.6

LANE = """choreo: 1
title: two in a lane
{prefer}
paths:
  lane: {{start: [0 m, 0 m], heading: 0 deg, pieces: [{{line: {length} m}}]}}
movers:
  subject:
    path: lane
    body: {{length: 4 m, width: 1.8 m, front overhang: 3 m}}
    limits: {{speed: 130 km/h, accelerate: 3 m/s2, brake: 6 m/s2}}
    start: {{{subject}}}
    programme: [{{ramp: {{to: {speed}}}}}, {{hold: {{{settle}until: contact}}}}, {{stop: {{}}}}]
  lead:
    kind: vehicle
    path: lane
    body: {{length: 4 m, width: 1.8 m, front overhang: 3 m}}
    limits: {{speed: 130 km/h, accelerate: 3 m/s2, brake: 6 m/s2}}
    start: {{{lead}}}
    programme:
      - ramp: {{to: 50 km/h}}
      - hold: {{settle: 2 s}}
      - {{stop: {{brake: 4 m/s2}}, name: brake}}
encounters:
  gap: {{kind: gap, of: subject, with: lead, distance: 12 m, at: start of lead.brake}}
  contact: {{kind: contact, of: subject, with: lead, overlap: 50 %}}
"""


def case(**more: str) -> Case:
    """Two in a lane; the lead brakes from 50 km/h with 4 m/s2 when the subject is 12 m behind it."""
    usual = {
        "prefer": "",
        "length": "900",
        "subject": "station: free",
        "lead": "station: free",
        "speed": "50 km/h",
        "settle": "settle: 2 s, ",
    }
    return case_at(loads(LANE.format(**{**usual, **more}), "lane.yaml", Path()), None)


def decided(one: Case, **more: float) -> Decision:
    """What the linear stage says."""
    bodies = one.scenario.movers.items()
    ends = {name: Ends(mover.body.front_m, mover.body.rear_m) for name, mover in bodies}
    found = decide(one.staging, ends, solve_linear, room_m=more.get("room_m", 0.0))
    assert found is not None
    return found


def test_contact_with_a_braking_lead_comes_when_the_gap_is_used_up() -> None:
    """Both at 50 km/h: 12 m = 4/2 t^2 (elementary), so 2.449 s after the lead begins to brake."""
    found = decided(case())
    assert found.reading is not None
    after = found.reading.moments["contact"].time_s - found.reading.moments["gap"].time_s
    assert after == pytest.approx(math.sqrt(2 * 12 / 4), abs=1e-8)


def test_total_runway_is_the_closed_form() -> None:
    """Lead: v^2/2a + 2 s v + v^2/2b. The subject's hold is as short as bodies apart at the start let it be."""
    found = decided(case())
    assert found.reading is not None
    speed = 50 * KMH
    lead = speed**2 / 6 + 2 * speed + speed**2 / 8
    motions = found.reading.movers
    assert motions["lead"].phases[-1].end_m - motions["lead"].start_m == pytest.approx(
        lead, abs=1e-6
    )
    room = motions["lead"].start_m - motions["subject"].start_m - 4.0
    assert room == pytest.approx(0.002, abs=1e-6)


def test_both_marks_given_leave_the_launches_to_be_found() -> None:
    found = decided(case(subject="station: 150 m", lead="station: 200 m"))
    assert found.reading is not None
    launches = {name: one.launch_s for name, one in found.reading.movers.items()}
    # 50 m apart at the marks, 16 m of reference points at the gap: the lead is launched 34 m of 50 km/h later.
    assert launches["lead"] - launches["subject"] == pytest.approx(34 / (50 * KMH), abs=1e-8)


def test_starts_in_a_lane_keep_the_room_that_is_asked_for() -> None:
    # Both launched at once would start 12 m apart; with 20 m asked for the lead is launched later.
    found = decided(case(), room_m=20.0)
    assert found.reading is not None
    starts = {name: one.start_m for name, one in found.reading.movers.items()}
    assert starts["lead"] - starts["subject"] - 4.0 >= 20.0 - 1e-6


def test_a_conflict_adds_up_to_what_is_missing() -> None:
    """On 60 m the subject's 32.15 m of ramp, 2 s and sqrt(6) s at 50 km/h, and 16.08 m of braking don't fit."""
    found = decided(case(length="60"))
    assert found.reading is None
    budget = conflict_of(found.conflict, solve_linear)
    assert budget is not None
    total = sum(line.value for line in budget.pieces) - budget.available.value
    assert total == pytest.approx(budget.short_by, abs=1e-9)
    assert budget.short_by > 1.0


def test_what_is_proven_impossible_stays_so_for_ramps_of_any_shape() -> None:
    one = case(length="60")
    anyhow = decide(one.staging, {}, solve_linear, freed=unstated(one.staging.problem), anyhow=True)
    assert anyhow is not None
    assert anyhow.conflict


def test_no_proof_stands_where_a_gentler_ramp_would_do() -> None:
    """The lead's launch is the subject's: at its limit it would be 9 m further along than it can be."""
    text = LANE.replace(
        "- ramp: {{to: 50 km/h}}", "- wait: {{for: 0 s}}\n      - ramp: {{to: 50 km/h}}"
    )
    filled = text.format(
        prefer="",
        length="900",
        subject="station: 0 m",
        lead="station: 30 m",
        speed="50 km/h",
        settle="settle: 2 s, ",
    ).replace("programme: [{ramp", "programme: [{wait: {for: 0 s}}, {ramp")
    one = case_at(loads(filled, "lane.yaml", Path()), None)
    assert decided(one).reading is None
    free = unstated(one.staging.problem)
    gentler = decide(one.staging, {}, solve_linear, freed=free)
    anyhow = decide(one.staging, {}, solve_linear, freed=free, anyhow=True)
    assert gentler is not None
    assert gentler.reading is not None
    assert anyhow is not None
    assert not anyhow.conflict


def test_quickest_run_is_never_later_than_the_shortest_and_the_shortest_never_longer() -> None:
    found = {
        prefer: decided(case(prefer=f"prefer: {prefer}"))
        for prefer in ("shortest runway", "quickest run")
    }
    ends, ways = {}, {}
    assert found
    for prefer, one in found.items():
        assert one.reading is not None
        ends[prefer] = one.reading.moments["contact"].time_s
        motions = one.reading.movers.values()
        ways[prefer] = sum(motion.phases[-1].end_m - motion.start_m for motion in motions)
    assert ends["quickest run"] <= ends["shortest runway"] + 1e-6
    assert ways["shortest runway"] <= ways["quickest run"] + 1e-6


def test_a_speed_left_open_is_not_for_this_stage() -> None:
    one = case(speed="40..60 km/h")
    assert decide(one.staging, {}, solve_linear) is None


CURVE = """choreo: 1
title: past a curve
paths:
  road:
    start: [0 m, 0 m]
    heading: 0 deg
    pieces:
      - line: {before} m
      - arc: {{radius: 40 m, angle: 60 deg}}
      - {{line: 600 m, name: after}}
      - line: 100 m
movers:
  subject:
    path: road
    body: {{length: 4 m, width: 1.8 m}}
    limits: {{speed: 130 km/h, accelerate: 2 m/s2, brake: 6 m/s2, lateral: 2.5 m/s2}}
    start: {{station: {start}}}
    programme: [{{ramp: {{to: 60 km/h}}}}, {{hold: {{settle: 1 s, until: {until}}}}}, {{stop: {{}}}}]
"""


def test_speed_is_gained_only_where_the_curve_allows_it() -> None:
    """sqrt(2.5 * 40) = 10 m/s at the curve's end, 25 m from rest at 2 m/s2: the start is no earlier than that."""
    text = CURVE.format(before=100, start="free", until="end of subject.after")
    found = decided(case_at(loads(text, "curve.yaml", Path()), None))
    assert found.reading is not None
    curve_end = 100 + 40 * math.radians(60)
    motion = found.reading.movers["subject"]
    assert motion.start_m >= curve_end - 25.0 - 1e-4


def test_a_hold_that_must_be_in_the_curve_is_proven_too_fast() -> None:
    text = CURVE.format(before=400, start="0 m", until="start of subject.after")
    one = case_at(loads(text, "curve.yaml", Path()), None)
    found = decided(one)
    assert found.reading is None
    assert found.conflict
    anyhow = decide(one.staging, {}, solve_linear, freed=unstated(one.staging.problem), anyhow=True)
    assert anyhow is not None
    assert anyhow.conflict


def test_least_objective_is_the_least_of_all_spots(monkeypatch: pytest.MonkeyPatch) -> None:
    """Branch and bound against trying every phase for every look."""
    one = case(prefer="prefer: quickest run")
    bounded = decided(one)
    assert bounded.reading is not None
    monkeypatch.setattr("choreo.linear.search.GAP", -math.inf)
    monkeypatch.setattr(Search, "_enough", lambda self: self.solved > 400)
    everything = decided(one)
    assert everything.reading is not None
    assert bounded.reading.moments["contact"].time_s == pytest.approx(
        everything.reading.moments["contact"].time_s, abs=1e-6
    )
    assert np.isfinite(bounded.reading.moments["contact"].time_s)


def test_a_hold_begins_before_the_event_that_it_is_settled_by() -> None:
    text = LANE.format(
        prefer="instants: {T0: {before: contact, by: 9 s}}",
        length="900",
        subject="station: free",
        lead="station: free",
        speed="50 km/h",
        settle="settled by: T0, ",
    )
    reading = decided(case_at(loads(text, "lane.yaml", Path()), None)).reading
    assert reading is not None
    held = reading.movers["subject"].phases[1]
    assert held.end_s - held.start_s >= 9.0 - 1e-6
