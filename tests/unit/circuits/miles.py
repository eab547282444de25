"""A circuit of one mile, driven at 48 km/h throughout. All data invented but these two."""

import math
from functools import cache
from pathlib import Path

from choreo.circuits.planning import PlannedCircuit, plan_circuit
from choreo.circuits.reading import load_circuit

# One mile round at 48 km/h throughout: two straights and two arcs of 100 m.
STRAIGHT_M = (1609.344 - 2 * math.pi * 100.0) / 2
MILE = f"""\
choreo circuit: 1
title: One mile
paths:
  loop:
    start: [0 m, 0 m]
    closed: yes
    pieces:
      - {{line: {STRAIGHT_M:.9f} m, speed: 48 km/h, surface: setts, name: setts}}
      - {{arc: {{radius: 100 m, angle: 180 deg}}}}
      - {{line: {STRAIGHT_M:.9f} m}}
      - {{arc: {{radius: 100 m, angle: 180 deg}}}}
vehicle:
  body: {{length: 4.60 m, width: 1.85 m}}
  limits: {{speed: 48 km/h, accelerate: 2 m/s2, brake: 4 m/s2, lateral: 4 m/s2}}
circuit:
  main: loop
  laps: 12
"""
COOL = """\
  excursions:
    cool:
      leaves: 600 m
      joins: 800 m
      every: 5 laps
      stop: {for: 10 min}
      pieces: [{shift: {offset: 8 m, length: 60 m}}, {line: 80 m}, {shift: {offset: -8 m, length: 60 m}}]
"""
# The second straight, from where excursions leave in these tests.
STARTS = STRAIGHT_M + math.pi * 100.0
COOL = COOL.replace("600 m", f"{STARTS + 50:.6f} m").replace("800 m", f"{STARTS + 250:.6f} m")


def written(text: str, folder: Path) -> Path:
    file = folder / "circuit.yaml"
    file.write_text(text, encoding="utf-8")
    return file


@cache
def planned(text: str, folder: Path) -> PlannedCircuit:
    return plan_circuit(load_circuit(written(text, folder)))
