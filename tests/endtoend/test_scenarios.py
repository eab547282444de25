"""Every bundled scenario, from its file to its verdict.

The good ones must be planned, and the independent simulation must agree. The impossible ones must
be proved so by the shortfall that their own header works out by hand; and a change of the size of
that shortfall, no less, must make them possible.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import pytest

from choreo.geometry import build_paths
from choreo.plans.record import Plan
from choreo.report.crew import programme_table
from choreo.scenario import load, loads
from tests.answers import FOLDER, timing_of, whole

GOOD = sorted(file.stem for file in FOLDER.glob("*.yaml"))
IMPOSSIBLE = sorted(file.stem for file in (FOLDER / "impossible").glob("*.yaml"))

KMH = 1 / 3.6
G = 9.80665  # m/s2, standard gravity


def plan_of(name: str) -> Plan:
    """Give the plan of a file, on its site, by its name in the folder without ending; each is planned once."""
    return whole(name).plan


def ramp_m(speed_mps: float, accel: float, jerk: float = math.inf) -> float:
    """From rest, or to rest: v/2 (v/a + a/j), elementary, for v >= a^2/j."""
    return speed_mps / 2 * (speed_mps / accel + accel / jerk)


def ramp_s(speed_mps: float, accel: float, jerk: float = math.inf) -> float:
    """Duration of the same ramp: v/a + a/j."""
    return speed_mps / accel + accel / jerk


def walk_s(way_m: float, speed_mps: float, accel: float, jerk: float) -> float:
    """Ramp from rest and the rest of the way at speed."""
    rest_m = way_m - ramp_m(speed_mps, accel, jerk)
    return ramp_s(speed_mps, accel, jerk) + rest_m / speed_mps


@dataclass(frozen=True)
class Shortfall:
    """Who is short of what by how much, and the change of the file that makes up for it.

    before: a text that stands once in the file. after: the same with another number in place of %s.
    number: that number now; per_amount: its change for each unit of the shortfall.
    """

    mover: str
    unit: str
    amount: float
    before: str
    after: str
    number: float
    per_amount: float = 1.0


# The arithmetic is that of each file's header, with unrounded numbers.
SHORTFALLS = {
    "runway-too-short-for-the-trigger": Shortfall(
        "subject",
        "m",
        ramp_m(80 * KMH, 3, 4) + 2 * 80 * KMH + 4 * 80 * KMH - 180,
        "belt: {start: [183.65 m",
        "belt: {start: [%s m",
        183.65,
    ),
    "walker-needs-more-time-than-the-trigger-gives": Shortfall(
        "walker",
        "s",
        0.005 + 0.060 + walk_s(4, 5 * KMH, 2, 20) - 3,
        "when: {time to collision: 3.0 s",
        "when: {time to collision: %s s",
        3,
    ),
    "belt-stroke-too-short": Shortfall(
        "walker",
        "m",
        ramp_m(5 * KMH, 0.7, 20) + 2 * 5 * KMH + ramp_m(5 * KMH, 2, 20) - 4.5,
        "stroke: 4.5 m",
        "stroke: %s m",
        4.5,
    ),
    "run-out-longer-than-the-path": Shortfall(
        "subject",
        "m",
        ramp_m(80 * KMH, 5, 4) - 40,
        "line: 340 m",
        "line: %s m",
        340,
    ),
    "too-fast-for-the-bend": Shortfall(
        "subject",
        "m/s2",
        (40 * KMH) ** 2 / 14.75 - 4,
        "    path: turn\n",
        "    path: turn\n    limits: {lateral: %s m/s2}\n",
        4,
    ),
    "braking-built-up-too-quickly": Shortfall(
        "lead",
        "m/s3",
        6 / 0.5 - 10,
        "    like: car-target\n",
        "    like: car-target\n    limits: {jerk: %s m/s3}\n",
        10,
    ),
    "cyclist-starts-too-close": Shortfall(
        "cyclist",
        "m",
        ramp_m(20 * KMH, 2, 10) + 1 * 20 * KMH - 8,
        "start: {station: 12..15 m}",
        "start: {station: %s..15 m}",
        12,
        per_amount=-1,
    ),
    "side-road-too-short": Shortfall(
        "target",
        "m",
        ramp_m(60 * KMH, 1) + 0.5 * 60 * KMH + 3.5 * 60 * KMH - 150,
        "side-road: {start: [400 m, -150 m]",
        "side-road: {start: [400 m, %s m]",
        -150,
        per_amount=-1,
    ),
    "trigger-distance-leaves-too-little-time": Shortfall(
        "child",
        "s",
        0.005 + 0.080 + walk_s(4, 8 * KMH, 3, 30) - 20 / (50 * KMH),
        "when: {distance: 20 m",
        "when: {distance: %s m",
        20,
        per_amount=50 * KMH,
    ),
}


@pytest.mark.parametrize("name", [*GOOD, *(f"impossible/{name}" for name in IMPOSSIBLE)])
def test_every_file_begins_by_explaining_itself(name: str) -> None:
    lines = (FOLDER / f"{name}.yaml").read_text(encoding="utf-8").splitlines()
    header = "\n".join(lines[: next(i for i, line in enumerate(lines) if not line.startswith("#"))])
    assert header.count("\n") >= 3
    assert "nvented demo data" in header.replace("\n#", "")
    assert ("Expected verdict: infeasible" if "/" in name else "Look at:") in header


@pytest.mark.parametrize("name", GOOD)
def test_good_scenario_is_feasible_and_its_simulation_agrees(name: str) -> None:
    plan = plan_of(name)
    assert plan.verdict == "feasible", (plan.conflicts, plan.budgets, plan.tried)
    assert plan.verification is not None
    assert plan.verification.agrees
    assert plan.verification.worst_encounter_error <= 0.1
    assert plan.verification.worst_limit_use <= 1 + 1 / 1_000_000
    assert not [message for message in plan.warnings if message.severity == "error"]


@pytest.mark.parametrize("name", GOOD)
def test_every_encounter_of_a_good_scenario_comes_out_as_wanted(name: str) -> None:
    plan = plan_of(name)
    scenario = load(FOLDER / f"{name}.yaml")
    assert set(plan.encounters) == set(scenario.encounters)
    for encounter in plan.encounters.values():
        low, high = encounter.wanted
        allowed = encounter.tolerance / 10
        assert low - allowed <= encounter.predicted <= high + allowed
        assert encounter.within


def variants() -> Iterator[tuple[str, dict[str, str]]]:
    """Give every combination of every `vary` block, by file."""
    for name in GOOD:
        matrix = load(FOLDER / f"{name}.yaml").matrix
        for values in matrix.combinations() if matrix.vary else ():
            yield name, values


@pytest.mark.parametrize(
    ("name", "values"),
    [pytest.param(name, values, id=f"{name}: {values}") for name, values in variants()],
)
def test_every_variant_that_a_vary_block_lists_is_feasible(
    name: str, values: dict[str, str]
) -> None:
    file = FOLDER / f"{name}.yaml"
    text = file.read_text(encoding="utf-8")
    named = load(file).values
    assert set(values) <= set(named)
    for key, now in named.items():
        line = f"\n  {key}: {now}\n"
        assert text.count(line) == 1
        text = text.replace(line, f"\n  {key}: {values.get(key, now)}\n")
    assert timing_of(loads(text, str(file), FOLDER)).verdict == "feasible"


def test_every_impossible_file_has_its_shortfall_in_the_table() -> None:
    assert set(SHORTFALLS) == set(IMPOSSIBLE)


@pytest.mark.parametrize("name", IMPOSSIBLE)
def test_header_of_an_impossible_scenario_states_the_shortfall(name: str) -> None:
    text = (FOLDER / "impossible" / f"{name}.yaml").read_text(encoding="utf-8")
    stated = text.split("# Short by ")[1].split("\n")[0].rstrip(".").split(" ")
    shortfall = SHORTFALLS[name]
    places = len(stated[0].partition(".")[2])
    assert float(stated[0]) == pytest.approx(shortfall.amount, abs=0.6 * 10.0**-places)
    assert stated[1] == shortfall.unit


@pytest.mark.parametrize("name", IMPOSSIBLE)
def test_impossible_scenario_is_proved_so_by_the_shortfall_of_its_header(name: str) -> None:
    plan = plan_of(f"impossible/{name}")
    assert plan.verdict == "infeasible"
    assert plan.movers == {}
    shortfall = SHORTFALLS[name]
    amounts = [
        budget.short_by
        for budget in plan.budgets
        if budget.mover == shortfall.mover and budget.unit == shortfall.unit
    ]
    assert any(amount == pytest.approx(shortfall.amount, abs=1e-5) for amount in amounts), amounts
    assert len(plan.budgets) >= len(amounts)
    for budget in plan.budgets:
        needed = sum(piece.value for piece in budget.pieces)
        assert budget.short_by == pytest.approx(needed - budget.available.value)


@pytest.mark.parametrize("name", IMPOSSIBLE)
def test_a_change_of_the_shortfall_and_no_less_makes_it_possible(name: str) -> None:
    """One percent less of the change leaves it impossible, one percent more makes it feasible."""
    assert changed(name, 0.99).verdict == "infeasible"
    cured = changed(name, 1.01)
    assert cured.verdict == "feasible", (cured.conflicts, cured.budgets)


def changed(name: str, share: float) -> Plan:
    """Plan an impossible scenario with its deciding number changed by a share of the shortfall."""
    file = FOLDER / "impossible" / f"{name}.yaml"
    text = file.read_text(encoding="utf-8")
    shortfall = SHORTFALLS[name]
    assert text.count(shortfall.before) == 1, shortfall.before
    number = shortfall.number + share * shortfall.amount * shortfall.per_amount
    return timing_of(
        loads(text.replace(shortfall.before, shortfall.after % number), str(file), file.parent)
    )


def gap_at_t0_m(plan: Plan) -> float:
    """Bumper gap at the instant T0."""
    return plan.instants["T0"].gaps_m["contact"]


def peak_lateral_mps2(plan: Plan) -> float:
    """Largest lateral acceleration of the subject."""
    return plan.movers["subject"].peak.lateral_mps2


def contact_after_brake_s(plan: Plan) -> float:
    """Time from the lead's braking to the contact."""
    brake = next(piece for piece in plan.movers["lead"].pieces if piece.phase == "brake")
    return plan.encounters["contact"].time_s - brake.start_s


def built_up_contact_s(gap_m: float, brake_mps2: float, build_up_s: float) -> float:
    """When equal speeds have closed a gap after the lead's braking grew linearly, then stayed.

    While it grows the gap shrinks by b t^2/6 and the closing speed becomes b t/2.
    """
    left_m = gap_m - brake_mps2 * build_up_s**2 / 6
    closing_mps = brake_mps2 * build_up_s / 2
    root = math.sqrt(closing_mps**2 + 2 * brake_mps2 * left_m)
    return build_up_s + (root - closing_mps) / brake_mps2


def way_out_m(plan: Plan) -> float:
    """From the lead's front at the start of its cut-out to the standing tail, along the lead's way."""
    way = build_paths(load(FOLDER / "cut-out-reveals-stationary.yaml").paths)["way-out"]
    start_m, _ = way.marks["cut_out"]
    # Half a body from the middle of each; the front is past the mark already and follows the shift.
    tail = plan.movers["standing"].start
    return way.nearest(tail.x_m - 4.10 / 2, tail.y_m) - (start_m + 4.10 / 2)


# What a header tells a reader to look at: (file, words, how it is read off the plan, expected).
# FM127, EN-FC and EN-VA are the documents that the files name; the rest is arithmetic.
def closed_up_s(gap_m: float, closing_mps: float, braking_mps2: float) -> float:
    """When a gap to one that brakes is used up: braking t^2 / 2 + closing t = gap."""
    root = math.sqrt(closing_mps**2 + 2 * braking_mps2 * gap_m)
    return (root - closing_mps) / braking_mps2


def stands_s(plan: Plan, stop: str) -> float:
    """When the walker has come to rest by a stop, in s after go."""
    (end,) = [one for one in plan.movers["walker"].events if one.name == f"end of {stop}"]
    return end.time_s


PROMISES: list[tuple[str, str, Callable[[Plan], float], float]] = [
    ("stationary-target", "gap at T0 is 4 s of travel", gap_at_t0_m, 4 * 50 * KMH),
    (
        "slower-lead",
        "gap at T0 is 5 s times the speed difference",  # FM127 S7.2
        gap_at_t0_m,
        5 * 40 * KMH,
    ),
    (
        "braking-lead-time-gap",
        "contact after build-up in 1.0 s",  # EN-FC 3.1.1.1
        contact_after_brake_s,
        built_up_contact_s(50 * KMH, 4, 1.0),
    ),
    (
        "braking-lead-time-gap",
        "closing speed",
        lambda plan: plan.encounters["contact"].closing_mps,
        4 * (built_up_contact_s(50 * KMH, 4, 1.0) - 0.5),
    ),
    (
        "braking-lead-bumper-gap",
        "contact after braking at once",  # FM127 S7.5 settings
        contact_after_brake_s,
        math.sqrt(2 * 12 / (0.5 * G)),
    ),
    (
        "moves-off-ahead",
        "where the gap is met, in the ramp",
        lambda plan: plan.triggers["near"].station_m or 0.0,
        160 - 2.05 - 40 - 3.4,
    ),
    (
        "lead-brakes-at-a-gap",
        "time from braking to the contact",
        lambda plan: plan.encounters["contact"].time_s - plan.triggers["close"].acts_at_s,
        closed_up_s(25 - 20 * KMH * 0.105, 20 * KMH, 4),
    ),
    (
        "braking-lead-bumper-gap-build-up",
        "contact after build-up in 1.5 s",
        contact_after_brake_s,
        built_up_contact_s(12, 0.3 * G, 1.5),
    ),
    (
        "walker-pauses",
        "platform is told to go on 2 s less 80 ms after it stands at the kerb",
        lambda plan: plan.movers["walker"].commands[1].time_s - stands_s(plan, "stop"),
        2.0 - 0.080,
    ),
    (
        "walker-pauses",
        "contact after the walker goes on over 2.0 m",
        lambda plan: plan.encounters["contact"].time_s - plan.movers["walker"].commands[1].moves_s,
        (2.0 + 0.8) / (5 * KMH),  # the ramp takes twice as long as its way at speed would
    ),
    (
        "walker-nearside",
        "setting of the trigger",
        lambda plan: plan.triggers["step_out"].setting,
        walk_s(4, 5 * KMH, 0.7, 20) + 0.060 + 0.005,
    ),
    (
        "walker-along-lane-25-percent",
        "gap at T0 is 4 s times the speed difference",  # FM127 S8.2
        gap_at_t0_m,
        4 * 35 * KMH,
    ),
    (
        "turn-across-oncoming",
        "peak lateral acceleration in the arc",  # EN-FC 1.2.4: R2 11.75 m
        peak_lateral_mps2,
        (15 * KMH) ** 2 / 11.75,
    ),
    (
        "junction-crossing",
        "run-up of the target",  # EN-FC 3.1.3: 1 m/s2, 0.5 s, 3.5 s
        lambda plan: plan.movers["target"].runway.run_up_m,
        ramp_m(40 * KMH, 1) + 4 * 40 * KMH,
    ),
    (
        "head-on-lane-departure",
        "time from the shift's end to the contact",  # EN-FC 3.1.1.2
        lambda plan: plan.encounters["contact"].time_s - plan.encounters["drifted"].time_s,
        1.5,
    ),
    (
        "cut-in",
        "time from the cut-in's end to the contact",  # EN-VA 2.1.4
        lambda plan: plan.encounters["contact"].time_s - plan.encounters["cut"].time_s,
        1.5,
    ),
    (
        "head-on-course",
        "time from the change's end to the contact",  # EN-FC 3.1.1.2
        lambda plan: plan.encounters["contact"].time_s - plan.encounters["changed"].time_s,
        1.5,
    ),
    (
        "cut-in-course",
        "time from the change's end to the contact",  # EN-VA 2.2.4
        lambda plan: plan.encounters["contact"].time_s - plan.encounters["cut"].time_s,
        0.5,
    ),
    # EN-VA 2.1.5
    ("cut-out-reveals-stationary", "lead's front to standing tail", way_out_m, 3 * 50 * KMH),
    ("stop-in-turn", "the stop's way", lambda plan: plan.movers["subject"].runway.run_out_m, 62.5),
    ("steady-circle", "lateral acceleration on the lap", peak_lateral_mps2, 20**2 / 100),
    ("banked-curve", "all of half a g, at 179 km/h", peak_lateral_mps2, 0.5 * 9.80665),
    ("circle-at-lateral", "lateral acceleration on the laps", peak_lateral_mps2, 0.4 * 9.80665),
    (
        "door-opens-before-cyclist",
        "middle of the door before the right half of the cyclist",
        lambda plan: plan.encounters["contact"].place[1],
        1.7 - (0.5 - 0.16) * 0.6,
    ),
    (
        "reversing-car",
        "way from its mark to the walker, as the rear leads",
        lambda plan: plan.movers["subject"].runway.run_up_m,
        16 - 0.25 - 0.9,
    ),
    (
        "parks-backwards",
        "the child's side towards the car",
        lambda plan: plan.encounters["contact"].place[0],
        15 + 0.2,
    ),
    (
        "laps-in-step",
        "40 m from bumper to bumper, the lead's station a lap short",
        lambda plan: plan.encounters["in_step"].station_with_m,
        2 * (150 + 60 * math.pi + 30) + 3.4 + 40 + 0.9,
    ),
]


@pytest.mark.parametrize(
    ("name", "read", "expected"),
    [pytest.param(name, read, want, id=f"{name}: {words}") for name, words, read, want in PROMISES],
)
def test_figures_that_a_header_promises_come_out(
    name: str, read: Callable[[Plan], float], expected: float
) -> None:
    assert read(plan_of(name)) == pytest.approx(expected, abs=2e-4, rel=1e-4)


def test_every_entry_of_the_shared_fleet_is_used_by_some_scenario() -> None:
    fleet = (FOLDER / "fleet" / "invented.yaml").read_text(encoding="utf-8")
    entries = set(re.findall(r"^  ([a-z][a-z-]*):", fleet, re.MULTILINE))
    texts = "".join((FOLDER / f"{name}.yaml").read_text(encoding="utf-8") for name in GOOD)
    assert len(entries) >= 10
    assert entries == set(re.findall(r"^    like: ([a-z-]+)", texts, re.MULTILINE))


def test_a_door_is_told_in_degrees() -> None:
    plan = plan_of("door-opens-before-cyclist")
    assert plan.crew is not None
    told = programme_table("door", plan.crew.programmes["door"])
    assert {"rate\ndeg/s2", "turned\ndeg", "speed\ndeg/s"} <= set(told.header)
    hold = next(row for row in told.rows if row[0] == "hold")
    assert (hold[4], hold[7]) == ("9.00", "60.00")
    assert told.rows[-1][4] == "65.00"
