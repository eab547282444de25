"""One that goes in step, in many runs at once: against the stepped simulation by hand and that of the plan."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from choreo.case import answer, case_at
from choreo.errors.course import Course
from choreo.errors.drawing import draw
from choreo.errors.in_step import Drive, Stepping, drive_in_step, launched_s
from choreo.errors.motions import RunMotion, Sideways
from choreo.errors.outcomes import run
from choreo.errors.stage import Stage, stage_of
from choreo.scenario import ErrorSource, Limits, Spread, load
from choreo.scenario.records.in_step import InStep
from choreo.verification.in_step import drive, progress_of
from choreo.verification.integration import integrate
from choreo.words.kinds import ErrorKind
from tests.in_step_by_hand import Own, stepped

LIMITS = Limits(3.0, ((0.0, 2.0),), 2.0)
KMH = 1 / 3.6


def course(launch_s: float, *pieces: tuple[float, float, float]) -> Course:
    """From rest at a launch: durations in s, speeds at their begin and accelerations; the last goes on for ever."""
    station, rows = 0.0, [(launch_s, 0.0, 0.0, 0.0, 0.0)]
    from_s, now = [-np.inf], launch_s
    for lasting, speed, accel in pieces:
        from_s.append(now)
        rows.append((now, station, speed, accel, 0.0))
        station += speed * lasting + accel * lasting**2 / 2
        now += lasting
    return Course(tuple(from_s), tuple(rows))


def stepping(law: InStep) -> Stepping:
    own = course(6.0, (1.5, 0.0, 1.0), (4.0, 1.5, 0.0))
    lead = course(1.0, (7.0, 0.0, 2.0), (40.0, 14.0, 0.0))
    return Stepping(law, LIMITS, own, lead, (7.5, 11.5), 6.0, 7.5, True, 1.5)


def leads(*cars: tuple[float, float]) -> RunMotion:
    """Cars by the speed that they hold and how late they are, a run each."""
    speed, late = np.array(cars).T
    ramp = speed / 2.0
    start = np.stack((1.0 + late, 1.0 + late + ramp))
    rows = np.stack((ramp, np.full_like(ramp, 40.0)))
    zero = np.zeros_like(speed)
    station, speeds = np.stack((zero, ramp**2)), np.stack((zero, speed))
    accels = np.stack((zero + 2.0, zero))
    return RunMotion(
        start, rows, station, speeds, accels, np.zeros_like(rows), Sideways(zero), zero
    )


CARS = ((14.0, 0.0), (14.2, 0.0), (13.6, 0.4), (14.0, 0.7), (14.1, -0.3))
OWN = (Own(), Own(0.05), Own(0.0, 0.04), Own(0.0, 0.0, 0.9), Own(-0.03, 0.02, 1.05))


def test_every_run_is_that_of_the_simulation_by_hand_and_of_the_plans_own() -> None:
    law = InStep("subject", ("ramp", "hold"), 0.10, 0.03, 100.0)
    one, lead = stepping(law), leads(*CARS)
    held, position, achieved = np.array([(o.held_mps, o.position_m, o.achieved) for o in OWN]).T
    begins = launched_s(one, lead)
    zero = np.zeros(len(CARS))
    drives = Drive(held, position, achieved, achieved, zero)
    found = drive_in_step(one, lead, (begins, zero, zero), drives)
    clean = drive_in_step(
        one, lead, (begins, zero, zero), Drive(zero, zero, zero + 1, zero + 1, zero)
    )
    for index, ((speed, late), own) in enumerate(zip(CARS, OWN, strict=True)):
        end_s, station, end_mps = stepped(law, speed, late, own)
        into = found.reached_s[-1, index] - found.time_s[index]
        assert found.reached_s[-1, index] == pytest.approx(end_s, abs=2e-3)
        at_end = found.station_m[index] + into * found.speed_mps[index]
        assert at_end == pytest.approx(station, abs=3e-3)
        assert found.speed_mps[index] == pytest.approx(end_mps, abs=3e-3)
        # The simulation of a plan knows nothing of what is off with its own drive.
        plan = integrate(0.0, 0.0, 1.0, [7.0, 40.0], [2.0, 0.0], [0.0, 0.0])
        seen = integrate(0.0, 0.0, 1.0 + late, [speed / 2, 40.0], [2.0, 0.0], [0.0, 0.0])
        walker = integrate(0.0, 0.0, 6.0, [1.5, 4.0], [1.0, 0.0], [0.0, 0.0])
        progress = progress_of(law, plan, seen, 30.0)
        wanted = drive(law, LIMITS, walker, progress, (progress.when(6.0), 0.0, 0.0), [7.5, 11.5])
        durations, accels, jerks = zip(*wanted.commands, strict=True)
        motion = integrate(0.0, 0.0, wanted.begins_s, durations, accels, jerks)
        into = wanted.reached_s[-1] - clean.time_s[index]
        at_end = clean.station_m[index] + into * clean.speed_mps[index]
        assert at_end == pytest.approx(motion.stations_m[-1], abs=2e-5)


def ready() -> Stage:
    case = case_at(load(Path("scenarios/walker-in-step.yaml")), None)
    return stage_of(case.scenario, case.paths, answer(case).plan)


def test_what_is_off_moves_the_impact_as_the_law_says() -> None:
    stage = ready()

    def impact(kind: ErrorKind, owner: str, value: float) -> float:
        source = ErrorSource(kind, owner, Spread("normal", value, 0.0))
        return float(run(stage, draw((source,), 1, 1)).encounters["contact"].value[0])

    assert impact("speed held", "subject", 0.0) == pytest.approx(0.0, abs=1e-7)
    # Where the car is told wrong by half a metre at 40 km/h, the walker at 5 km/h is where it would be then.
    assert impact("position", "subject", 0.5) == pytest.approx(0.5 * 5 / 40, abs=1e-3)
    # What it takes for its own place is off by: that, the other way.
    assert impact("position", "walker", 0.05) == pytest.approx(-0.05, abs=1e-3)
    # Its own mark is made good, a speed that it holds beside the one it is told leaves that times 0.5 s.
    assert impact("start along", "walker", 0.10) == pytest.approx(0.0, abs=1e-4)
    assert impact("speed held", "walker", 0.1 * KMH) == pytest.approx(0.05 * KMH, abs=1e-4)
    # The car's own mark and launch, and a speed that it holds: nearly nothing, where the clock would make centimetres.
    assert impact("start along", "subject", 1.0) == pytest.approx(0.0, abs=1e-3)
    assert impact("launch", "subject", 0.2) == pytest.approx(0.0, abs=1e-3)
    assert impact("speed held", "subject", 0.5 * KMH) == pytest.approx(0.0, abs=2e-3)


def test_one_that_waits_for_its_launch_is_not_ahead_because_it_stands_beside_its_mark() -> None:
    # The walker is launched 1 s before the car, which stands 3 cm ahead of its mark and is seen 2 cm ahead of that.
    law = InStep("subject", ("ramp", "hold"), 0.10, 0.0, 100.0)
    one = stepping(law)
    late = Course(
        (-np.inf, 7.0, 14.0),
        ((7.0, 0.0, 0.0, 0.0, 0.0), (7.0, 0.0, 0.0, 2.0, 0.0), (14.0, 49.0, 14.0, 0.0, 0.0)),
    )
    early = replace(one, lead=late)
    zero = np.zeros(1)
    lead = leads((14.0, 6.0))
    ahead = replace(lead, station_m=lead.station_m + 0.03, position_m=zero + 0.02)
    begins = launched_s(early, ahead)
    found = drive_in_step(
        early, ahead, (begins, zero, zero), Drive(zero, zero, zero + 1, zero + 1, zero)
    )
    # Half a second after its launch by the clock it is at half a metre a second, as by plan.
    starts, speeds = found.pieces[0, :, 0], found.pieces[3, :, 0]
    assert float(np.interp(6.5, starts, speeds)) == pytest.approx(0.5, abs=1e-6)
    assert found.reached_s[-1] == pytest.approx([11.5], abs=0.03)
