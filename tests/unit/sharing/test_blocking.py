"""What keeps two apart is never laxer than the replay: random circuits, excursions, headways, vehicles."""

import math
from pathlib import Path

import numpy as np
import pytest

from choreo.circuits.planning import PlannedCircuit, plan_circuit
from choreo.circuits.reading import load_circuit
from choreo.sharing.driving import Gap, course_of
from choreo.sharing.jobs import Job, Use, sharing_of
from choreo.sharing.replay import Breach, Run, breaches
from choreo.sharing.search import searched

STRAIGHT_M, RADIUS_M, EASE_M = 120.0, 25.0, 15.0
HALF_M = STRAIGHT_M + RADIUS_M * math.pi + EASE_M
CIRCUIT = """\
choreo circuit: 1
title: An oval
paths:
  loop: {{start: [0 m, 0 m], closed: yes, pieces: [*half, *half]}}
vehicle:
  body: {{length: {length} m, width: 1.80 m}}
  limits: {{speed: {speed} km/h, accelerate: 1.5 m/s2, brake: {brake} m/s2, lateral: 3 m/s2}}
circuit:
  main: loop
  laps: {laps}
  excursions:
"""
HALF = (
    f"{{line: {STRAIGHT_M} m}}, "
    f"{{bend: {{radius: {RADIUS_M} m, angle: 180 deg, clothoid length: {EASE_M} m}}}}"
)
EXCURSION = """\
    {name}:
      leaves: {leaves} m
      joins: {joins} m
      {when}
      {stop}
      pieces: [{{shift: {{offset: {aside} m, length: {shift} m}}}}, {{line: {line} m, speed: 15 km/h}},
        {{shift: {{offset: {back} m, length: {shift} m}}}}]
"""


def excursion(random: np.random.Generator, name: str, straight_m: float) -> str:
    """Beside a straight, from near its beginning to anywhere behind that; into every lap, or some."""
    leaves = round(straight_m + random.uniform(0.0, 0.2) * STRAIGHT_M, 1)
    long = round(random.uniform(50.0, 0.8 * STRAIGHT_M), 1)
    shift = round(0.3 * long, 2)
    aside = random.choice([5, -6])
    return EXCURSION.format(
        name=name,
        leaves=leaves,
        joins=round(leaves + long, 1),
        when=random.choice(["every: 1 laps", "every: 2 laps", "after: [1 laps]"]),
        stop=random.choice(["", "stop: {for: 10 s}", "stop: {for: 40 s}"]),
        aside=aside,
        back=-aside,
        shift=shift,
        line=round(long - 2 * shift, 2),
    )


def circuits(random: np.random.Generator, folder: Path) -> list[PlannedCircuit]:
    """One oval for a quick short vehicle and a slow long one."""
    ways = excursion(random, "near", 0.0) + excursion(random, "far", HALF_M)
    found = []
    for speed, brake, length in ((70, 2.5, 4.0), (random.choice([25, 40]), 1.5, 9.0)):
        laps = random.integers(2, 5)
        text = CIRCUIT.format(speed=speed, brake=brake, length=length, laps=laps)
        file = folder / "circuit.yaml"
        file.write_text(text.replace("*half", HALF) + ways, encoding="utf-8")
        found.append(plan_circuit(load_circuit(file)))
    return found


def vehicles(
    random: np.random.Generator, plans: list[PlannedCircuit], gap: Gap, single: frozenset[str]
) -> list[Job]:
    """Two or three of each, ready when it comes, that wait in stops or don't."""
    cuts = sorted(
        {
            at
            for p in plans
            for one in p.circuit.excursions.values()
            for at in (one.leaves_m, one.joins_m)
        }
    )
    jobs = []
    for number, plan in enumerate(plans):
        aside = {
            one.name
            for one in plan.circuit.excursions.values()
            if one.stop_m is not None and one.stop_m >= gap.room_m
        }
        course = course_of(plan, frozenset(aside if random.random() < 0.7 else ()), cuts)
        uses = tuple(
            Use(one.excursion, (one.enters[0], one.enters_s), (one.leaves[0], one.leaves_s))
            for one in course.passes
            if one.excursion in single
        )
        lasts = tuple(leg.lasts_s for leg in course.legs)
        for many in range(random.integers(2, 4)):
            ready = random.choice([0.0, random.uniform(0.0, 100.0)])
            name = f"{number}-{many}"
            jobs.append(Job(name, name, f"{number} {ready}", ready, lasts, uses, course))
    return jobs


@pytest.mark.parametrize("seed", [7, 8])
def test_no_timetable_has_somebody_nearer_than_the_replay_allows(tmp_path: Path, seed: int) -> None:
    """Packed as tightly as may be. With these seeds one is near another as it turns off, joins, crosses the line."""
    random = np.random.default_rng(seed)
    plans = circuits(random, tmp_path)
    wrong: list[Breach] = []
    packed = 0
    for _ in range(5):
        reaction, braking = random.choice([0.5, 1.5]), random.choice([1.5, 4.0])
        gap = Gap(reaction, braking, 9.0 + random.choice([2.0, 20.0]))
        single = frozenset(("near", "far")[: random.integers(0, 2)])
        jobs = vehicles(random, plans, gap, single)
        sharing = sharing_of(jobs, gap, single)
        starts = searched(sharing, 0.0, 20_000).starts_s
        assert sharing.broken(starts) == []
        chains = [[starts[n] for n in chain] for chain in sharing.jobs]
        runs = [
            Run(job.name, job.course, tuple(chain))
            for job, chain in zip(jobs, chains, strict=True)
            if job.course is not None
        ]
        wrong += breaches(runs, gap, single)
        packed += sharing.ends_s(starts) < 0.6 * sum(job.alone_s for job in jobs)
    assert wrong == []
    assert packed == 5
