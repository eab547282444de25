"""Triggers by the gap to another mover, from the file to the verdict, against figures worked out by hand."""

from dataclasses import replace
from pathlib import Path

import pytest

from choreo.plans.record import Plan
from choreo.problem.build import paths_by_mover
from choreo.scenario import loads
from choreo.verification import verify
from tests.answers import timing_of

FOLDER = Path(__file__).parents[2] / "scenarios"
BUNDLED = (FOLDER / "lead-brakes-at-a-gap.yaml").read_text(encoding="utf-8")
KMH = 1 / 3.6
# Half a sampling period and the latency.
DELAY_S = 0.005 + 0.1


def planned(*changes: tuple[str, str]) -> Plan:
    """Plan the bundled scenario with other words in it."""
    text = BUNDLED
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return timing_of(loads(text, "gap.yaml", FOLDER))


BESIDE = "kind: gap, of: subject, with: lead, distance: 5 m, at: end of lead.brake"
# A speed that is left open makes it a matter of the nonlinear solver.
OPEN_SPEED = [("to: $test_speed", "to: 69..71 km/h"), ("  test_speed: 70 km/h\n", "")]
# The lead slows to 30 km/h and holds; the gap is asked for when it has.
SLOWS = [
    (
        "{ramp: {to: 0 km/h, brake: 4 m/s2}, name: brake}",
        "{ramp: {to: 30 km/h, brake: 4 m/s2}, name: brake}\n      - hold: {until: contact}",
    ),
    (
        "encounters:\n",
        "encounters:\n  left: {kind: gap, of: subject, with: lead, distance: 10 m, at: end of lead.brake}\n",
    ),
]
# While the lead loses 20 km/h at 4 m/s2, the car closes with 20 km/h and what the lead has lost.
BRAKES_S = 20 * KMH / 4.0
LOST_M = 20 * KMH * (DELAY_S + BRAKES_S) + 4.0 * BRAKES_S**2 / 2


def test_free_gap_is_what_the_encounters_leave() -> None:
    plan = planned(*SLOWS, ("gap: $headway", "gap: free"), ("  headway: 25 m\n", ""))
    assert plan.verdict == "feasible", plan.conflicts
    assert plan.triggers["close"].setting == pytest.approx(10.0 + LOST_M, abs=1e-5)
    assert plan.triggers["close"].setting_unit == "m"
    assert plan.triggers["close"].to == "lead"


@pytest.mark.parametrize(("gap", "verdict"), [("21..23 m", "feasible"), ("10..12 m", "infeasible")])
def test_gap_in_a_range_holds_the_range(gap: str, verdict: str) -> None:
    plan = planned(*SLOWS, ("gap: $headway", f"gap: {gap}"), ("  headway: 25 m\n", ""))
    assert 21.0 < 10.0 + LOST_M < 23.0
    assert plan.verdict == verdict


@pytest.mark.parametrize("gap", ["25 m", "22..25 m", "free"])
def test_nonlinear_solver_holds_a_gap_too(gap: str) -> None:
    plan = planned(*OPEN_SPEED, ("gap: $headway", f"gap: {gap}"), ("  headway: 25 m\n", ""))
    assert plan.verdict == "feasible", plan.conflicts
    assert plan.tried
    subject, lead = plan.movers["subject"], plan.movers["lead"]
    trigger = plan.triggers["close"]
    # Of the one way of both: the lead's station then, less its rear and the car's front.
    held = next(one for one in lead.pieces if one.phase == "hold")
    lead_m = held.station_m + held.speed_mps * (trigger.time_s - held.start_s)
    assert trigger.station_m is not None
    assert trigger.setting == pytest.approx(lead_m - 2.05 - 3.4 - trigger.station_m, abs=1e-6)
    assert 0.0 <= trigger.setting <= (25.0 + 1e-6 if gap != "free" else 1000.0)
    assert 69 * KMH - 1e-6 <= subject.peak.speed_mps <= 71 * KMH + 1e-6


def test_gap_rises_to_its_setting_when_the_one_ahead_is_faster() -> None:
    """At 40 km/h behind 50 km/h: when the lead is 25 m ahead it brakes, comes to rest and is reached."""
    plan = planned(("test_speed: 70 km/h", "test_speed: 40 km/h"))
    assert plan.verdict == "feasible", plan.conflicts
    braking_m = 25.0 + 10 * KMH * DELAY_S
    way_m = (50 * KMH) ** 2 / (2 * 4.0)
    found_s = plan.encounters["contact"].time_s - plan.triggers["close"].acts_at_s
    assert found_s == pytest.approx((braking_m + way_m) / (40 * KMH), abs=1e-5)


BEND = """
paths:
  mine:
    start: [0 m, 0 m]
    pieces:
      - line: 250 m
      - bend: {radius: 120 m, angle: 60 deg, clothoid length: 30 m}
      - line: 200 m
  other: {beside: mine, offset: -3.5 m}

movers:
"""


@pytest.mark.parametrize("more", [[], OPEN_SPEED], ids=["linear", "nonlinear"])
def test_gap_to_one_in_a_bent_lane_beside_is_followed_along_the_curve(
    more: list[tuple[str, str]],
) -> None:
    changed = BUNDLED.replace("\nmovers:\n", BEND)
    for old, new in (
        ("lane\n    start: {station: 300 m}", "other\n    start: {station: 260 m}"),
        ("path: lane", "path: mine"),
        ("kind: contact, of: subject, with: lead, overlap: 50 %", BESIDE),
        ("$headway, to", "free, to"),
        ("  headway: 25 m\n", ""),
        *more,
    ):
        assert changed.count(old) == 1, old
        changed = changed.replace(old, new)
    plan = timing_of(loads(changed, "bend.yaml", FOLDER))
    assert plan.verdict == "feasible", (plan.conflicts, plan.tried)
    assert bool(plan.tried) == bool(more)
    (trigger,) = plan.triggers.values()
    assert trigger.station_m is not None
    assert 250.0 < trigger.station_m < 400.0
    # In one straight lane it would be 5 m and what is lost until the lead stands.
    stands_s = 50 * KMH / 4.0
    straight_m = 5.0 + 20 * KMH * (DELAY_S + stands_s) + 4.0 * stands_s**2 / 2
    assert abs(trigger.setting - straight_m) > 0.1


def test_gap_to_one_that_stands_is_a_place() -> None:
    """A walker sets off when the car's front is 40 m before a parked van's tail, at station 400 - 40 - 3.4 m."""
    text = WALKER.replace("{GAP}", "40 m")
    plan = timing_of(loads(text, "van.yaml", FOLDER))
    assert plan.verdict == "feasible", (plan.conflicts, plan.budgets)
    assert plan.triggers["near"].station_m == pytest.approx(400.0 - 40.0 - 3.4, abs=1e-6)


def test_gap_that_the_runway_has_no_room_for_is_proved_impossible() -> None:
    text = WALKER.replace("{GAP}", "390 m")
    plan = timing_of(loads(text, "van.yaml", FOLDER))
    assert plan.verdict == "infeasible"
    # Its front would be 390 m before the tail at station 400 - 390 - 3.4; ramp and settling take more.
    speed = 40 * KMH
    needed_m = speed / 2 * (speed / 3 + 3 / 4) + 2 * speed
    (budget,) = plan.budgets
    assert budget.available.what == "trigger near"
    assert budget.short_by == pytest.approx(needed_m - 6.6, abs=1e-6)


WALKER = """\
choreo: 1
title: A walker sets off when the car is near a parked van
site: sites/strip.yaml
fleet: fleet/invented.yaml

paths:
  across: {start: [412 m, -6 m], heading: 90 deg, pieces: [{line: 12 m}]}

movers:
  subject:
    like: midsize
    path: lane
    programme:
      - ramp: {to: 40 km/h}
      - hold: {settle: 2 s, until: miss}
      - stop: {brake: 5 m/s2}
  van:
    like: parked-van
    stand: {at: [402.8 m, 3.5 m]}
  walker:
    like: adult-on-belt
    path: across
    programme:
      - wait: {for: near}
      - ramp: {to: 5 km/h}
      - hold: {until: miss}
      - stop: {}

triggers:
  near: {watch: subject, when: {gap: {GAP}, to: van}, latency: 60 ms}

encounters:
  miss: {kind: contact, of: subject, with: walker, overlap: 50 %}
"""


CHASE = """\
choreo: 1
title: A car comes up to a target while it still speeds up
paths:
  lane: {start: [0 m, 0 m], pieces: [{line: 1000 m}]}
movers:
  subject:
    path: lane
    body: {length: 4.4 m, width: 1.8 m, front overhang: 3.4 m}
    limits: {speed: 130 km/h, accelerate: 3 m/s2, brake: 6 m/s2}
    start: {START}
    programme:
      - ramp: {to: {SPEED}, accelerate: 2 m/s2}
      - hold: {until: contact}
      - stop: {}
  lead:
    path: lane
    body: {length: 4 m, width: 1.8 m}
    limits: {speed: 130 km/h, accelerate: 3 m/s2, brake: 6 m/s2}
    start: {station: 100 m}
    programme:
{LEAD}
      - hold: {until: contact}
      - stop: {}
triggers:
  near: {watch: subject, when: {gap: 40 m, to: lead}, latency: 100 ms{DURING}}
encounters:
  contact: {kind: contact, of: subject, with: lead, overlap: 50 %}
"""
PULLS_AWAY = "      - wait: {for: near}\n      - ramp: {to: 20 km/h}"
BRAKES = """\
      - ramp: {to: 50 km/h, accelerate: 1 m/s2}
      - hold: {until: near}
      - ramp: {to: 30 km/h, brake: 3 m/s2}"""
# The front is 40 m behind the tail of the target that stands at 100 m, while the car gains 2 m/s2.
NEAR_M = 100.0 - 2.0 - 40.0 - 3.4


def chased(lead: str, start: str, speed: str, during: str = "") -> Plan:
    """Plan the chase."""
    text = CHASE.replace("{LEAD}", lead).replace("{START}", start).replace("{SPEED}", speed)
    return timing_of(loads(text.replace("{DURING}", during), "chase.yaml", FOLDER))


@pytest.mark.parametrize("speed", ["60 km/h", "60..61 km/h"])
def test_a_gap_is_met_while_the_car_speeds_up(speed: str) -> None:
    plan = chased(PULLS_AWAY, "{station: 0 m, at: go}", speed)
    assert plan.verdict == "feasible", (plan.conflicts, plan.budgets)
    assert plan.triggers["near"].station_m == pytest.approx(NEAR_M, abs=1e-6)
    assert plan.triggers["near"].time_s == pytest.approx(NEAR_M**0.5, abs=1e-6)
    assert plan.movers["lead"].launch_s == pytest.approx(NEAR_M**0.5 + DELAY_S, abs=1e-6)


def test_a_gap_fires_when_it_is_there_for_the_first_time() -> None:
    """With less than 40 m at go the target's leaving would fire it: the car starts farther back."""
    plan = chased(BRAKES, "{station: free}", "80 km/h")
    assert plan.verdict == "feasible", (plan.conflicts, plan.budgets)
    assert plan.movers["subject"].start.station_m < NEAR_M
    station_m = plan.triggers["near"].station_m
    assert station_m is not None
    hold = next(one for one in plan.movers["subject"].pieces if one.phase == "hold")
    assert station_m < hold.station_m  # while it still speeds up


def test_a_gap_that_no_ramp_can_meet_is_proved_impossible() -> None:
    for start, during in (
        ("{station: 58 m, at: go}", ""),
        ("{station: 0 m, at: go}", ", during: hold"),
    ):
        plan = chased(PULLS_AWAY, start, "60 km/h", during)
        assert plan.verdict == "infeasible", during
    assert (
        chased(PULLS_AWAY, "{station: 0 m, at: go}", "60 km/h", ", during: ramp").verdict
        == "feasible"
    )


def test_simulation_finds_a_gap_that_fires_in_another_place() -> None:
    scenario = loads(
        CHASE.replace("{LEAD}", PULLS_AWAY)
        .replace("{START}", "{station: 0 m, at: go}")
        .replace("{SPEED}", "60 km/h")
        .replace("{DURING}", ""),
        "chase.yaml",
        FOLDER,
    )
    plan = timing_of(scenario)
    near = replace(plan.triggers["near"], setting=41.0)
    codes = {
        one.code
        for one in verify(
            scenario, paths_by_mover(scenario), replace(plan, triggers={"near": near})
        ).findings
    }
    assert {"verify.trigger-setting", "verify.trigger-time"} <= codes
