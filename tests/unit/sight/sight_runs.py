"""A run by hand for the tests of sights: constant speeds along straight lines. All figures invented."""

from dataclasses import replace
from pathlib import Path

import numpy as np

from choreo.geometry import Poses
from choreo.scenario import Scenario, Sight, loads
from choreo.sight.times import View

FILE = """\
choreo: 1
title: a child behind a van
paths:
  lane: {start: [0 m, 0 m], heading: 0 deg, pieces: [{line: 200 m}]}
  belt: {start: [100 m, -6 m], heading: 90 deg, pieces: [{line: 9 m}]}
movers:
  subject:
    path: lane
    body: {length: 4 m, width: 1.8 m, front overhang: 3 m}
    limits: {speed: 130 km/h, accelerate: 3 m/s2, brake: 6 m/s2}
    programme:
      - ramp: {to: 36 km/h}
      - hold: {until: contact}
      - stop: {}
  child:
    kind: pedestrian
    path: belt
    body: {length: 0.5 m, width: 0.4 m}
    limits: {speed: 10 km/h, accelerate: 2 m/s2, brake: 2 m/s2}
    start: {station: 0 m}
    programme:
      - wait: {for: 1 s}
      - ramp: {to: 7.2 km/h}
      - hold: {until: contact}
      - stop: {}
  van:
    kind: obstacle
    stand: {at: [95 m, -3 m], heading: 0 deg}
    body: {length: 5.6 m, width: 2 m}
encounters:
  contact: {kind: contact, of: subject, with: child, overlap: 50 %}
sights:
  child_seen: {to: child}
"""
BOX = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])
# The child's middle is at y = 0 then, the front of the subject at its plane less half its width.
CONTACT_S = 3.0
SPEEDS_MPS = {"subject": 10.0, "child": 2.0}
TIMES = {"contact": CONTACT_S}


def scenario(**changes: object) -> Scenario:
    """Give the scenario with its sight changed."""
    whole = loads(FILE, "by-hand.yaml", Path())
    sight: Sight = replace(whole.sights["child_seen"], **changes)
    return replace(whole, sights={"child_seen": sight})


def pose_of(name: str, times_s: np.ndarray) -> Poses:
    """Give poses at constant speeds until both touch, and there after."""
    left_s = np.minimum(times_s - CONTACT_S, 0.0)
    flat, up = np.zeros(len(times_s)), np.full(len(times_s), np.pi / 2)
    if name == "subject":
        # Reference point 3 m behind the front, which is 0.2 m before the child's middle at contact.
        return Poses(96.8 + SPEEDS_MPS[name] * left_s, flat, flat, flat)
    return Poses(np.full(len(times_s), 100.0), SPEEDS_MPS[name] * left_s, up, flat)


def child_view(times_s: np.ndarray) -> View:
    """Give what an eye at 8 m/s along y = 0 sees of a child at 2 m/s along x = 30 m, with nothing between.

    The eye reaches the child's plane less 0.2 m after 3 s, when the child's middle is at y = 0.
    """
    left_s = times_s - CONTACT_S
    count = len(times_s)
    eyes = np.stack((29.8 + 8 * left_s, np.zeros(count)), axis=1)
    middles = np.stack((np.full(count, 30.0), 2 * left_s), axis=1)
    return View(eyes, middles[:, None] + BOX * [0.2, 0.25], np.zeros((count, 0, 2, 2)))
