"""Large scenarios by formula, and what one command takes for each: CPU seconds and the most memory.

    python tools/large.py                            the whole table
    python tools/large.py lane 32                    `choreo plan` of one family at one size
    python tools/large.py lane 32 --write FOLDER     the scenario itself, its survey beside it

Each family grows one thing: the length of a lane in km, pieces of a path, points of a survey (1 m or 5 cm apart),
walkers with triggers of their own, cars in a line.
"""

from __future__ import annotations

import argparse
import math
import os
import subprocess
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent

CAR = """\
    body: {length: 4.30 m, width: 1.80 m, front overhang: 3.40 m}
    limits: {speed: 130 km/h, accelerate: 3 m/s2, brake: 6 m/s2, jerk: 4 m/s3, lateral: 4 m/s2}
"""
WALKER = """\
    body: {length: 0.60 m, width: 0.50 m}
    limits: {speed: 10 km/h, accelerate: 2 m/s2, brake: 2 m/s2, jerk: 20 m/s3}
"""
CAR_ALONE = f"""\
movers:
  subject:
    path: road
{CAR}\
    start: {{station: 0..20 m}}
    programme:
      - ramp: {{to: 50 km/h, accelerate: 2 m/s2}}
      - hold: {{for: 50 m}}
      - stop: {{brake: 4 m/s2}}
"""


def lane(length_km: float) -> tuple[str, str]:
    """A contact in one lane of so many kilometres; returns scenario and survey (none)."""
    text = f"""\
choreo: 1
title: A slower lead in a lane of {length_km:g} km
paths:
  lane: {{start: [0 m, 0 m], heading: 0 deg, pieces: [{{line: {length_km:g} km}}]}}
movers:
  subject:
    path: lane
{CAR}\
    programme:
      - ramp: {{to: 60 km/h}}
      - hold: {{settle: 2 s, until: contact}}
      - stop: {{brake: 5 m/s2}}
  lead:
    path: lane
{CAR}\
    start: {{station: 400 m, speed: 20 km/h}}
    programme:
      - hold: {{settle: 3 s, until: contact}}
      - stop: {{}}
encounters:
  contact: {{kind: contact, of: subject, with: lead, overlap: 50 %}}
"""
    return text, ""


def pieces(count: float) -> tuple[str, str]:
    """A path of so many pieces: lines, with gentle arcs to the left and to the right in turn."""
    shapes = ("{line: 5 m}", "{arc: {radius: 300 m, angle: 1 deg}}", "{line: 5 m}",
              "{arc: {radius: 300 m, angle: -1 deg}}")  # fmt: skip
    rows = "\n".join(f"      - {shapes[number % 4]}" for number in range(int(count)))
    text = f"""\
choreo: 1
title: A path of {int(count)} pieces
paths:
  road:
    start: [0 m, 0 m]
    pieces:
{rows}
{CAR_ALONE}"""
    return text, ""


def survey(count: float, step_m: float = 1.0) -> tuple[str, str]:
    """A winding road through so many surveyed points."""
    points = ["x_m,y_m"]
    for number in range(int(count)):
        x = number * step_m
        points.append(f"{x:.3f},{20.0 * math.sin(x / 150.0):.4f}")
    text = f"""\
choreo: 1
title: A road through {int(count)} surveyed points
paths:
  road: {{surveyed: survey.csv}}
{CAR_ALONE}"""
    return text, "\n".join(points) + "\n"


def dense_survey(count: float) -> tuple[str, str]:
    """Surveyed points 5 cm apart, written to a tenth of a millimetre."""
    return survey(count, 0.05)


def walkers(count: float) -> tuple[str, str]:
    """So many walkers beside a lane, each sent off by a trigger of its own on the car; the first one is met."""
    paths, movers, triggers = [], [], []
    for number in range(int(count)):
        # The first is hit at station 450 m; the others stop beside the lane, farther on and on both sides in turn.
        x, side = 450.0 + 12.0 * number, 1 if number % 2 else -1
        way = f"start: [{x:g} m, {6 * side} m], heading: {-90 * side} deg, pieces: [{{line: 15 m}}]"
        held = "{until: contact}" if number == 0 else "{for: 0.5 m}"
        when = "time to collision: free" if number == 0 else f"station: {440 - 4 * number:g} m"
        paths.append(f"  way{number}: {{{way}}}")
        movers.append(
            f"  walker{number}:\n    kind: pedestrian\n    path: way{number}\n{WALKER}"
            f"    start: {{station: 0 m}}\n    programme:\n      - wait: {{for: go{number}}}\n"
            f"      - ramp: {{to: 5 km/h, accelerate: 1 m/s2}}\n      - hold: {held}\n      - stop: {{}}"
        )
        triggers.append(f"  go{number}: {{watch: subject, when: {{{when}}}, latency: 60 ms}}")
    ways, people, sent = "\n".join(paths), "\n".join(movers), "\n".join(triggers)
    text = f"""\
choreo: 1
title: {int(count)} walkers beside a lane
paths:
  lane: {{start: [0 m, 0 m], heading: 0 deg, pieces: [{{line: 1000 m}}]}}
{ways}
movers:
  subject:
    path: lane
{CAR}\
    start: {{station: 100..250 m}}
    programme:
      - ramp: {{to: 40 km/h, accelerate: 2 m/s2}}
      - hold: {{settle: 2 s, until: contact}}
      - stop: {{brake: 5 m/s2}}
{people}
triggers:
{sent}
encounters:
  contact: {{kind: contact, of: subject, with: walker0, overlap: 50 %, tolerance: 0.05 m}}
"""
    return text, ""


def in_line(count: float) -> tuple[str, str]:
    """So many cars behind each other in one lane, all at 50 km/h, 1.5 s apart."""
    cars, gaps = [], []
    for number in range(int(count)):
        name = "subject" if number == 0 else f"car{number}"
        start = "200 m" if number == 0 else "free"
        held = "{for: 150 m}" if number == 0 else "{settle: 2 s, until: end of subject.hold}"
        cars.append(
            f"  {name}:\n    path: lane\n{CAR}    start: {{station: {start}}}\n    programme:\n"
            f"      - ramp: {{to: 50 km/h, accelerate: 2 m/s2}}\n      - hold: {held}\n"
            f"      - stop: {{brake: 4 m/s2}}"
        )
        if number:
            ahead = "subject" if number == 1 else f"car{number - 1}"
            gaps.append(
                f"  gap{number}: {{kind: gap, of: {ahead}, with: {name}, time gap: 1.5 s, at: end of subject.hold}}"
            )
    column, kept = "\n".join(cars), "\n".join(gaps)
    text = f"""\
choreo: 1
title: {int(count)} cars in a line
paths:
  lane: {{start: [0 m, 0 m], heading: 0 deg, pieces: [{{line: 2000 m}}]}}
movers:
{column}
encounters:
{kept}
"""
    return text, ""


FAMILIES: dict[str, Callable[[float], tuple[str, str]]] = {
    "lane": lane,
    "pieces": pieces,
    "survey": survey,
    "dense": dense_survey,
    "walkers": walkers,
    "line": in_line,
}


# What `choreo plan` is measured on: family, size, what it may take in CPU s and MB (whole process).
SIZES = (
    ("lane", 32.0, 10.0, 500.0),
    ("pieces", 10_000.0, 10.0, 500.0),
    ("survey", 100_000.0, 10.0, 500.0),
    ("dense", 10_000.0, 10.0, 500.0),
    ("walkers", 20.0, 10.0, 500.0),
    ("line", 20.0, 10.0, 500.0),
)


@dataclass(frozen=True)
class Taken:
    """What a process took: CPU time in s, the most memory in MB; code: how it ended."""

    cpu_s: float
    most_mb: float
    code: int


def written(family: str, size: float, folder: Path) -> Path:
    """Write a scenario of a family into a folder; returns its file."""
    text, points = FAMILIES[family](size)
    file = folder / f"{family}-{size:g}.yaml"
    file.write_text(text, encoding="utf-8")
    if points:
        (folder / "survey.csv").write_text(points, encoding="utf-8")
    return file


def plan(family: str, size: float) -> Taken:
    """Plan a scenario of a family in a process of its own."""
    with tempfile.TemporaryDirectory() as folder:
        return run(["plan", str(written(family, size, Path(folder)))])


def run(words: list[str]) -> Taken:
    """Run a command of choreo in a process of its own, which keeps compiled bytecode as an installed one does."""
    process = subprocess.Popen(
        [sys.executable, "-m", "choreo", *words],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        cwd=ROOT,
        env={name: said for name, said in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"},
    )
    _, status, used = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    return Taken(used.ru_utime + used.ru_stime, used.ru_maxrss / 1024, process.returncode)


def main() -> None:
    """Print what one family takes, or the table."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("family", nargs="?", choices=FAMILIES)
    parser.add_argument("size", nargs="?", type=float)
    parser.add_argument("--write", type=Path, metavar="FOLDER", help="write the scenario there")
    given = parser.parse_args()
    if given.family is not None and given.size is None:
        parser.error("name a size, too")
    if given.write is not None:
        print(written(given.family, given.size, given.write))
        return
    one = (given.family, given.size, math.inf, math.inf)
    for family, size, cpu_s, most_mb in SIZES if given.family is None else (one,):
        took = plan(family, size)
        over = " TOO MUCH" if took.cpu_s > cpu_s or took.most_mb > most_mb else ""
        print(
            f"{family} {size:g}: {took.cpu_s:.2f} s, {took.most_mb:.0f} MB, exit code {took.code}{over}"
        )


if __name__ == "__main__":
    main()
