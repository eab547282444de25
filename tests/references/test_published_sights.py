"""Sights of published lay-outs."""

import numpy as np
import pytest

from choreo.sight.times import View, first_seen
from choreo.sight.visibility import edges_of
from tests.references.scenario_texts import CAR, LANE, WALKER, room_of

KMH = 1 / 3.6
SQUARE = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])
# C22, FM127 S8.3.3 before its amendment, SEEN: 5 km/h, 50 % overlap on a subject 1.8 m wide, left sides of the two
# parked cars 1.0 m right of its right side, 1.0 m apart, the front one 1.0 m before the child's plane: the child's
# middle passes their line 1.368 s before the contact. Invented: the cars are 4.8 m by 1.9 m, the child 0.30 m square.
# The eye looks along the cars' left sides, so of the child just what is past their line is seen: a quarter when its
# middle is still 0.075 m short of the line, 0.054 s earlier; three quarters as much later.
SEEN_BEFORE_S = [(0.10, 1.4544), (0.25, 1.422), (0.50, 1.368), (0.75, 1.314)]
LINE_M, CHILD_M = -(0.9 + 1.0), 0.30
CARS_FRONT_M = (-1.0, -1.0 - 4.8 - 1.0)


@pytest.mark.parametrize(("share", "before_s"), SEEN_BEFORE_S)
def test_obstructed_child_is_seen_along_the_parked_cars_when_it_clears_their_line(
    share: float, before_s: float
) -> None:
    # C22: the eye stays 60 m behind.
    walk_mps, end_s = 5 * KMH, 2.88
    cars = [SQUARE * [2.4, 0.95] + [front_m - 2.4, LINE_M - 0.95] for front_m in CARS_FRONT_M]
    edges = np.concatenate([edges_of(car) for car in cars])

    def view(times_s: np.ndarray) -> View:
        count = len(times_s)
        eyes = np.stack((np.full(count, -60.0), np.full(count, LINE_M + 1e-9)), axis=1)
        middles = np.stack((np.zeros(count), walk_mps * (times_s - end_s)), axis=1)
        targets = middles[:, None] + SQUARE * CHILD_M / 2
        return View(eyes, targets, np.broadcast_to(edges, (count, *edges.shape)))

    seen = first_seen(view, share, end_s)
    assert seen.first_s is not None
    assert end_s - seen.first_s == pytest.approx(before_s, abs=1e-3)
    assert seen.stays


def test_plan_says_when_each_share_of_the_obstructed_child_is_first_seen() -> None:
    # C22: the same, planned: a sensor on the subject as far to the right as the line, driving up at 50 km/h.
    child = WALKER.replace(
        "length: 0.60 m, width: 0.50 m", f"length: {CHILD_M} m, width: {CHILD_M} m"
    )
    cars = "".join(
        f"  car_{number}: {{kind: obstacle, body: {{length: 4.8 m, width: 1.9 m}}, "
        f"stand: {{at: [{1000 + front_m - 2.4} m, {LINE_M - 0.95} m], heading: 0 deg}}}}\n"
        for number, front_m in enumerate(CARS_FRONT_M)
    )
    sights = "".join(
        f"  at_{100 * share:.0f}: {{to: child, sensor: [3.4 m, {LINE_M} m], share: {100 * share:.0f} %}}\n"
        for share, _ in SEEN_BEFORE_S
    )
    room = room_of(f"""\
choreo: 1
title: Obstructed child
paths:
{LANE}
  crossing: {{start: [1 km, -4 m], heading: 90 deg, pieces: [{{line: 12 m}}]}}
movers:
  subject:
    path: lane
{CAR}
    programme:
      - ramp: {{to: 50 km/h}}
      - hold: {{settle: 1 s, until: contact}}
  child:
    path: crossing
{child}
    start: {{station: 0 m}}
    programme:
      - ramp: {{to: 5 km/h, over: 1.5 m}}
      - hold: {{until: contact}}
{cars}encounters:
  contact: {{kind: contact, of: subject, with: child, overlap: 50 %}}
sights:
{sights}""")
    before_s = [one.to_collision_s for one in room.sights]
    assert before_s == pytest.approx([before for _, before in SEEN_BEFORE_S], abs=2e-3)
