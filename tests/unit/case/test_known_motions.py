"""Plans that everyday motions have: found where movers must keep clear, come rolling, or fire a trigger in time."""

from pathlib import Path

import pytest

from choreo.plans.record import Plan
from choreo.scenario import loads
from tests.answers import timing_of

CAR = """body: {length: 4 m, width: 1.8 m, front overhang: 3 m}
    limits: {speed: 130 km/h, accelerate: 4 m/s2, brake: 7 m/s2}"""
WALKER = """body: {length: 0.5 m, width: 0.5 m}
    limits: {speed: 10 km/h, accelerate: 2 m/s2, brake: 2 m/s2}"""


def planned(text: str) -> Plan:
    return timing_of(loads(text, "everyday.yaml", Path()))


def test_a_lead_passes_before_the_walker_steps_out() -> None:
    """With both marks free the shortest plan would lead the walker into the car in front."""
    plan = planned(f"""choreo: 1
title: behind another
prefer: quickest run
paths:
  lane: {{start: [0 m, 0 m], heading: 0 deg, pieces: [{{line: 2000 m}}]}}
  way: {{start: [1200 m, -7 m], heading: 90 deg, pieces: [{{line: 40 m}}]}}
movers:
  lead:
    {CAR}
    path: lane
    start: {{station: 920 m}}
    programme:
      - wait: {{for: 10 s}}
      - ramp: {{to: 19 m/s, accelerate: 4 m/s2}}
      - {{hold: {{}}, name: steady}}
      - stop: {{}}
  subject:
    {CAR}
    path: lane
    start: {{station: free}}
    programme:
      - wait: {{for: 9.8 s}}
      - ramp: {{to: 19 m/s, accelerate: 3 m/s2}}
      - hold: {{until: crossed}}
      - stop: {{}}
  walker:
    {WALKER}
    kind: pedestrian
    path: way
    start: {{station: free}}
    programme:
      - ramp: {{to: 1.1 m/s, accelerate: 2 m/s2}}
      - hold: {{settle: 0.8 s, until: crossed}}
      - stop: {{}}
encounters:
  behind: {{kind: gap, of: subject, with: lead, time gap: 3 s, at: end of lead.steady}}
  crossed: {{kind: contact, of: subject, with: walker, offset: -0.3 m}}
""")
    assert plan.verdict == "feasible"
    lead, walker = plan.movers["lead"], plan.movers["walker"]
    # The walker is on the lane from 7 - 0.9 - 0.25 m on; the car has gone by when its rear is past the walker's body.
    gone = next(one.start_s for one in lead.pieces if one.speed_mps > 18.99)
    gone += (1200.25 + 1.0 - next(o.station_m for o in lead.pieces if o.speed_mps > 18.99)) / 19.0
    walks = next(one for one in walker.pieces if one.phase == "hold")
    on_the_lane = walks.start_s + (7.0 - 0.9 - 0.25 - walks.station_m) / 1.1
    assert gone < on_the_lane


def test_a_mover_that_comes_rolling_is_behind_at_go() -> None:
    """Its mark is of its launch: before that it comes from farther back, where nobody may stand in its way."""
    plan = planned(f"""choreo: 1
title: rolling lead
paths: {{lane: {{start: [0 m, 0 m], heading: 0 deg, pieces: [{{line: 4000 m}}]}}}}
movers:
  lead:
    {CAR}
    path: lane
    start: {{station: 1140 m, speed: 26 m/s}}
    programme: [{{ramp: {{to: 20 m/s}}}}, {{hold: {{for: 200 m}}}}, {{ramp: {{to: 0 m/s}}, name: brake}}]
  subject:
    {CAR}
    path: lane
    start: {{station: free, speed: 23 m/s}}
    programme: [{{hold: {{until: contact}}}}, {{stop: {{}}}}]
encounters:
  contact: {{kind: contact, of: subject, with: lead, overlap: 50 %}}
  closing: {{kind: gap, of: subject, with: lead, time to collision: 9 s, at: start of lead.brake}}
""")
    assert plan.verdict == "feasible"
    lead, subject = plan.movers["lead"], plan.movers["subject"]
    at_go = lead.start.station_m - 26.0 * lead.launch_s
    assert subject.start.station_m - 23.0 * subject.launch_s + 3.0 < at_go - 1.0


def test_the_third_car_is_behind_the_first_too() -> None:
    """Who is behind whom goes on from pair to pair: no plan drives the last car through to the first."""
    car = f"""
    {CAR}
    path: lane"""
    plan = planned(f"""choreo: 1
title: three in a lane
paths: {{lane: {{start: [0 m, 0 m], heading: 0 deg, pieces: [{{line: 4000 m}}]}}}}
movers:
  first:{car}
    start: {{station: free}}
    programme:
      - ramp: {{to: 18 m/s}}
      - {{hold: {{for: 10.4 s}}, name: steady}}
      - {{ramp: {{to: 5 m/s, brake: 7 m/s2}}, name: brake}}
      - hold: {{for: 5.6 s}}
      - stop: {{}}
  lead:{car}
    start: {{station: free}}
    programme:
      - wait: {{for: 5 s}}
      - ramp: {{to: 18 m/s}}
      - {{hold: {{settle: 7 s, for: 11 s}}, name: steady}}
      - stop: {{}}
  subject:{car}
    start: {{station: 480..510 m, speed: 9.5 m/s}}
    programme:
      - ramp: {{to: 24 m/s, accelerate: 1.7 m/s2}}
      - hold: {{settle: 4.4 s, until: contact}}
      - stop: {{}}
encounters:
  near: {{kind: gap, of: lead, with: first, time gap: 0.42 s, at: before}}
  contact: {{kind: contact, of: subject, with: lead, overlap: 50 %}}
  closing: {{kind: gap, of: subject, with: lead, time to collision: 9.7 s, at: start of lead.stop}}
instants: {{before: {{before: start of first.brake, by: 1.4 s}}}}
""")
    assert plan.verdict == "feasible"


CROSSING = f"""choreo: 1
title: walker
paths:
  lane: {{start: [0 m, 0 m], heading: 0 deg, pieces: [{{line: 1000 m}}]}}
  way: {{start: [300 m, 7 m], heading: -90 deg, pieces: [{{line: 40 m}}]}}
movers:
  subject:
    {CAR}
    path: lane
    start: {{START}}
    programme: [{{ramp: {{to: SPEED}}}}, {{hold: {{until: crossed}}}}, {{stop: {{}}}}]
  walker:
    {WALKER}
    kind: pedestrian
    path: way
    start: {{station: 1 m}}
    programme: [{{wait: {{for: step_out}}}}, {{ramp: {{to: 1.7 m/s}}}}, {{hold: {{until: crossed}}}}, {{stop: {{}}}}]
triggers: {{step_out: {{watch: subject, when: {{WHEN}}, latency: 100 ms}}}}
encounters: {{crossed: {{kind: contact, of: subject, with: walker, offset: 0.4 m}}}}
"""


def crossing(start: str, speed: str, when: str) -> Plan:
    text = CROSSING.replace("{START}", f"{{{start}}}").replace("SPEED", speed)
    return planned(text.replace("{WHEN}", f"{{{when}}}"))


def test_an_open_speed_trigger_fires_while_the_subject_drives() -> None:
    plan = crossing("station: free", "10 m/s", "speed: free")
    assert plan.verdict == "feasible"
    assert plan.triggers["step_out"].setting >= 1.0


def test_a_time_to_collision_is_not_reached_before_the_subject_has_slowed_down() -> None:
    """Coming with 16 m/s it has less time left at the same place than later at 10 m/s."""
    plan = crossing("station: 200..290 m, speed: 16 m/s", "10 m/s", "time to collision: free")
    assert plan.verdict == "feasible"
    subject, fires = plan.movers["subject"], plan.triggers["step_out"]
    left = plan.encounters["crossed"].station_of_m - subject.start.station_m
    assert left / 16.0 > fires.setting


def test_a_speed_that_is_passed_in_a_gentler_ramp_has_its_time() -> None:
    """From 250 m to 296.75 m, 2/a + (46.75 - 50/a) / 10 s after it passes 8 m/s: the walker's 3.82 s give the rate."""
    plan = crossing("station: 250 m", "10 m/s", "speed: 8 m/s")
    assert plan.verdict == "feasible"
    assert "plan.gentler" in {one.code for one in plan.warnings}
    # Half a sampling period, latency, the walker's ramp, and 7 - 0.4 - 1 m less what the ramp takes.
    walker_s = 0.005 + 0.1 + 1.7 / 2 + (5.6 - 1.7**2 / 4) / 1.7
    ramp = plan.movers["subject"].pieces[0]
    assert ramp.accel_mps2 == pytest.approx(3.0 / (4.675 - walker_s), abs=1e-6)


def test_an_open_speed_may_lie_below_the_one_before() -> None:
    """From 10 m/s to 6..15 m/s, then 50 s, on 480 m: only what is slower than about 9.5 m/s has the room."""
    plan = planned(f"""choreo: 1
title: slower
paths: {{lane: {{start: [0 m, 0 m], heading: 0 deg, pieces: [{{line: 480 m}}]}}}}
movers:
  subject:
    {CAR}
    path: lane
    start: {{station: 0 m, speed: 10 m/s}}
    programme: [{{ramp: {{to: 6..15 m/s}}}}, {{hold: {{for: 50 s}}}}, {{stop: {{}}}}]
""")
    assert plan.verdict == "feasible"
    assert "plan.tried-speeds" in {one.code for one in plan.warnings}
    assert 6.0 - 1e-9 <= plan.movers["subject"].events[1].speed_mps < 9.6


def steady(gap_m: float) -> Plan:
    """Subject at 20 m/s from 0 m, lead at 20 m/s from 100 m, both at go: 100 - 1 - 3 = 96 m apart."""
    return planned(f"""choreo: 1
title: nothing free
paths: {{lane: {{start: [0 m, 0 m], heading: 0 deg, pieces: [{{line: 4000 m}}]}}}}
movers:
  lead:
    {CAR}
    path: lane
    start: {{station: 100 m}}
    programme:
      - wait: {{for: 3 s}}
      - ramp: {{to: 20 m/s, accelerate: 2 m/s2}}
      - hold: {{for: 10 s}}
      - stop: {{brake: 5 m/s2}}
  subject:
    {CAR}
    path: lane
    start: {{station: 0 m}}
    programme:
      - wait: {{for: 3 s}}
      - ramp: {{to: 20 m/s, accelerate: 2 m/s2}}
      - hold: {{for: 10 s}}
      - stop: {{brake: 5 m/s2}}
encounters:
  gap: {{kind: gap, of: subject, with: lead, distance: {gap_m} m, at: start of lead.stop}}
""")


@pytest.mark.parametrize("off", [-0.5, 0.5])
def test_a_gap_that_all_given_numbers_miss_is_told_by_what_it_misses(off: float) -> None:
    plan = steady(96.0 + off)
    assert plan.verdict == "infeasible"
    assert plan.budgets[0].short_by == pytest.approx(abs(off), abs=1e-6)


@pytest.mark.parametrize(("off", "verdict"), [(0.008, "feasible"), (-0.012, "infeasible")])
def test_given_numbers_may_be_rounded(off: float, verdict: str) -> None:
    """A tolerance of 0.10 m, of which the simulation lets pass a tenth."""
    plan = steady(96.0 + off)
    assert plan.verdict == verdict
    if verdict == "feasible":
        assert plan.encounters["gap"].predicted == pytest.approx(96.0, abs=1e-6)


@pytest.mark.parametrize("stands", ["path: lane, start: {station: 9 m}", "stand: {at: [9 m, 0 m]}"])
def test_where_nothing_moves_there_is_nothing_to_solve(stands: str) -> None:
    van = f"van: {{{stands}, body: {{length: 4 m, width: 2 m}}}}"
    paths = "paths: {lane: {start: [0 m, 0 m], pieces: [{line: 90 m}]}}"
    plan = planned(f"choreo: 1\ntitle: still\n{paths}\nmovers: {{{van}}}\n")
    assert plan.verdict == "feasible"


@pytest.mark.parametrize(("late_s", "verdict"), [(0.001, "feasible"), (0.02, "infeasible")])
def test_a_contact_may_miss_its_place_by_less_than_counts(late_s: float, verdict: str) -> None:
    """All is written. From 200 m to 296.75 m: 2.5 s of ramp, 84.25 m at 10 m/s; the walker needs 3.719 s."""
    text = CROSSING.replace("{START}", "{station: 200 m}").replace(
        "{ramp: {to: SPEED}}", "{wait: {for: 1 s}}, {ramp: {to: 10 m/s, accelerate: 4 m/s2}}"
    )
    launch = 1.0 + 2.5 + 8.425 - (1.7 / 2 + (5.6 - 1.7**2 / 4) / 1.7) + late_s
    text = text.replace("{to: 1.7 m/s}", "{to: 1.7 m/s, accelerate: 2 m/s2}")
    text = text.replace("{for: step_out}", f"{{for: {launch:.6f} s}}")
    text = "\n".join(line for line in text.split("\n") if "triggers" not in line)
    assert planned(text).verdict == verdict


def test_cars_keep_clear_of_each_other_on_a_bend() -> None:
    """Bumper to bumper on an arc corners come nearer than the lane's middle tells."""
    plan = planned(f"""choreo: 1
title: round the bend
paths:
  lane: {{start: [0 m, 0 m], heading: 0 deg, pieces: [{{line: 300 m}}, {{arc: {{radius: 60 m, angle: 180 deg}}}}]}}
movers:
  lead:
    {CAR}
    path: lane
    start: {{station: 150 m}}
    programme:
      - ramp: {{to: 9 m/s, accelerate: 2 m/s2}}
      - {{hold: {{for: 150 m}}, name: steady}}
      - stop: {{brake: 4 m/s2}}
  subject:
    {CAR}
    path: lane
    start: {{station: free}}
    programme: [{{ramp: {{to: 9 m/s, accelerate: 3 m/s2}}}}, {{hold: {{}}}}, {{stop: {{brake: 4 m/s2}}}}]
encounters:
  near: {{kind: gap, of: subject, with: lead, distance: 2 m, at: start of lead.steady}}
""")
    assert plan.verdict == "feasible"


def test_who_comes_rolling_fires_no_trigger_before_go() -> None:
    """The walker is quick, so the subject passes the trigger's station while it still rolls towards its own mark."""
    text = CROSSING.replace("{START}", "{station: free, speed: 16 m/s}").replace("SPEED", "10 m/s")
    text = text.replace("{WHEN}", "{station: 259 m}").replace("{station: 1 m}", "{station: free}")
    plan = planned(text)
    assert plan.verdict == "feasible"
    assert plan.triggers["step_out"].time_s >= 0.0


def test_a_setting_that_is_printed_and_written_back_is_possible() -> None:
    """8.016 s, as the plan prints it, is 0.1 ms less than the car needs from its mark at its rate."""

    def written(setting: str) -> Plan:
        return planned(f"""choreo: 1
title: written back
paths:
  lane: {{start: [0 m, 0 m], pieces: [{{line: 1000 m}}]}}
  bay: {{start: [400 m, -15 m], heading: 90 deg, pieces: [{{line: 30 m}}]}}
movers:
  subject:
    {CAR}
    path: bay
    start: {{station: 0 m}}
    programme:
      - wait: {{for: step}}
      - ramp: {{to: 8 km/h, accelerate: 1 m/s2}}
      - hold: {{until: hit}}
      - stop: {{}}
  target:
    {CAR}
    path: lane
    programme: [ramp: {{to: 30 km/h}}, hold: {{settle: 2 s, until: hit}}, stop: {{}}]
triggers:
  step: {{watch: target, when: {{time to collision: {setting}}}, latency: 50 ms}}
encounters:
  hit: {{kind: contact, of: target, with: subject, overlap: 50 %}}
""")

    setting_s = written("free").triggers["step"].setting
    assert abs(round(setting_s, 3) - setting_s) > 1e-5
    assert written(f"{setting_s:.3f} s").verdict == "feasible"
    assert written(f"{setting_s - 0.002:.3f} s").verdict == "infeasible"
