"""Scenario texts for the tests of this folder. All figures invented."""

from pathlib import Path

ROOT = Path(__file__).resolve().parents[3]
SCENARIOS = ROOT / "scenarios"
GOOD_FILES = sorted([*SCENARIOS.glob("*.yaml"), *(SCENARIOS / "impossible").glob("*.yaml")])
FAULTY = SCENARIOS / "faulty"

WALKER = """\
choreo: 1
title: Walker steps out behind a parked van, 40 km/h
prefer: shortest runway            # or: gentlest ramps, quickest run, smallest error

paths:
  lane:     {start: [0 m, 0 m], heading: 0 deg, pieces: [{line: 400 m}]}
  crossing: {start: [310 m, -4 m], heading: 90 deg, pieces: [{line: 9 m}]}

movers:
  subject:
    path: lane
    body: {length: 4.30 m, width: 1.80 m, front overhang: 3.40 m}
    limits: {speed: 130 km/h, accelerate: 3 m/s2, brake: 6 m/s2, jerk: 4 m/s3, lateral: 4 m/s2}
    start: {station: free}
    programme:
      - ramp: {to: 40 km/h}
      - hold: {settle: 2 s, until: contact}
      - stop: {brake: 5 m/s2}
  walker:
    kind: pedestrian
    path: crossing
    body: {length: 0.6 m, width: 0.5 m}
    limits: {speed: 10 km/h, accelerate: 2 m/s2, brake: 2 m/s2, jerk: 20 m/s3}
    start: {station: 0 m}
    programme:
      - wait: {for: step_out}
      - ramp: {to: 5 km/h, within: 1.0 m}
      - hold: {until: contact}
      - stop: {}

triggers:
  step_out: {watch: subject, when: {time to collision: free}, latency: 60 ms}

encounters:
  contact: {kind: contact, of: subject, with: walker, overlap: 50 %, tolerance: 0.05 m}
"""

# Everything the format has, in one file; it needs points.csv, site.yaml and fleet.yaml beside it.
EVERYTHING = """\
choreo: 1
title: everything
about: |
  Costs $100: text for people.
prefer: gentlest ramps
site: site.yaml
fleet: [fleet.yaml]
values: {test_speed: 40 km/h, room: 10..50 m}
vary: {test_speed: [20 km/h, 40 km/h]}
paths:
  turn:
    start: [0 m, 0 m]
    heading: 90 deg
    pieces:
      - line: 60 m
      - arc: {radius: 50 m, angle: -30 deg}
      - {clothoid: {length: 20 m, from: straight, to: -50 m}, at: [1 m, 2 m]}
      - bend: {radius: 9 m, angle: 90 deg, clothoid angle: 20 deg, outer radius: 1500 m}
      - bend: {radius: 9 m, arc angle: -48.75 deg, clothoid angle: 20 deg}
      - bend: {radius: 9 m, angle: 90 deg, clothoid length: 5 m}
      - {shift: {offset: 3.5 m, length: 60 m}, name: cut_in}
      - shift: {offset: -3.5 m, path length: 60 m, radius: 250 m}
      - shift: {offset: -3.5 m, length: 60 m, transition: 0 m}
  other_way: {beside: turn, offset: 3.5 m, reversed: yes, from: 10 m, to: 50 m}
  survey: {surveyed: points.csv}
movers:
  subject:
    path: turn
    like: midsize
    limits: {brake: 5 m/s2}
    start: {station: $room, speed: 20 km/h}
    programme:
      - ramp: {to: $test_speed, accelerate: 1 m/s2, build up: 1 s, over: 30 m}
      - {hold: {settle: 2 s, settled by: T0, until: contact}, name: cruise}
      - hold: {for: 2 s}
      - hold: {for: 20 m}
      - ramp: {to: 5..10 km/h, brake: 2 m/s2, jerk: 3 m/s3, lasting: 4 s}
  lead:
    kind: motorcycle
    path: straight
    body: {corners: [[1 m, -0.4 m], [-1 m, -0.4 m], [-1 m, 0.4 m], [1 m, 0.4 m]]}
    limits:
      speed: 100 km/h
      accelerate: {0 km/h: 3.5 m/s2, 60 km/h: 2.5 m/s2}
      brake: 0.5 g
      stroke: 300 m
      failsafe: {brake: 7 m/s2, reaction: 0.5 s}
    programme:
      - wait: {for: 3 s}
      - ramp: {to: free}
      - hold: {until: go_on}
      - stop:
  van:
    stand: {at: [310 m, -3 m], heading: 5 deg}
    body: {length: 5 m, width: 2 m}
triggers:
  go_on: {watch: subject, when: {distance: 5..9 m}, to: contact, sampling: 50 Hz, during: cruise}
encounters:
  contact: {kind: contact, of: subject, with: lead, side: 75 %, point: front centre}
  near: {kind: gap, of: subject, with: lead, time gap: 1.0 s, at: start of lead.stop}
  pass: {kind: pass, of: subject, with: lead, distance: 1..2 m, first: lead, between: reference points}
instants:
  T0: {before: end of subject.cut_in, by: 4 s}
  T1: {before: launch of lead, by: 0 s}
"""
SITE = """\
choreo site: 1
title: a strip
paths:
  straight: {start: [0 m, 0 m], pieces: [{line: 400 m}]}
outline: [[0 m, -10 m], [400 m, -10 m], [400 m, 10 m]]
"""
FLEET = """\
choreo fleet: 1
movers:
  midsize:
    kind: vehicle
    body: {length: 4.30 m, width: 1.80 m, front overhang: 3.40 m}
    limits: {speed: 130 km/h, accelerate: 3 m/s2, brake: 6 m/s2}
"""
POINTS = "x_m,y_m\n0,0\n10.5,0\n# a comment\n20,1e-1\n"


def write_everything(folder: Path) -> Path:
    """Write the four files into a folder and give the scenario's path."""
    texts = {"a.yaml": EVERYTHING, "site.yaml": SITE, "fleet.yaml": FLEET, "points.csv": POINTS}
    for name, text in texts.items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder / "a.yaml"
