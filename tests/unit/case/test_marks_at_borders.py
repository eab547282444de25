"""A start mark is written to a last digit: a plan on a border is still one from the mark that is written."""

from pathlib import Path

import pytest

from choreo.case import answer, case_of
from choreo.plans.record import Plan
from choreo.scenario import loads

# The trigger fires just as the hold begins: 10.37 m before the contact, which a ramp to 4.74 m/s at 2.82 m/s2 ends at.
TEXT = """choreo: 1
title: a car backs towards a walker
paths:
  lane: {start: [0 m, 0 m], heading: 0 deg, pieces: [{line: 1500 m}]}
  way: {start: [70.2 m, -12 m], heading: 90 deg, pieces: [{line: 40 m}]}
movers:
  subject:
    path: lane
    body: {length: 4.4 m, width: 1.8 m, front overhang: 3.5 m}
    limits: {speed: 50 m/s, accelerate: 4 m/s2, brake: 7 m/s2}
    start: {station: SUBJECT}
    drive: backwards
    programme: [{ramp: {to: 4.74 m/s, accelerate: 2.82 m/s2}}, {hold: {until: met}}, {stop: {brake: 5.48 m/s2}}]
  walker:
    kind: pedestrian
    path: way
    body: {length: 0.5 m, width: 0.5 m}
    limits: {speed: 50 m/s, accelerate: 4 m/s2, brake: 7 m/s2}
    start: {station: WALKER}
    programme:
      [{wait: {for: near}}, {ramp: {to: 1.11 m/s, accelerate: 2.67 m/s2}}, {hold: {until: met}}, {stop: {}}]
triggers:
  near: {watch: subject, when: {distance: 10.37 m}, to: met, latency: 40 ms}
encounters:
  met: {kind: contact, of: subject, with: walker, offset: 0 m}
"""


def planned(subject: str, walker: str):
    text = TEXT.replace("SUBJECT", subject).replace("WALKER", walker)
    return answer(case_of(loads(text, "border.yaml", Path()))).plan


def test_marks_of_a_plan_written_to_their_last_digit_are_those_of_a_plan() -> None:
    free = planned("free", "free")
    marks = {name: one.start.station_m for name, one in free.movers.items()}
    written = [round(marks[name], 6) for name in ("subject", "walker")]
    plan = planned(*(f"{mark:.6f} m" for mark in written))
    assert plan.verdict == "feasible"
    assert plan.movers["subject"].start.station_m == pytest.approx(written[0], abs=1.1e-6)


def test_marks_a_centimetre_nearer_are_no_plan() -> None:
    free = planned("free", "free")
    subject, walker = (free.movers[name].start.station_m for name in ("subject", "walker"))
    assert planned(f"{subject + 0.01:.6f} m", f"{walker:.6f} m").verdict == "infeasible"


# The door's ramp has to be gentler, and the cyclist is steady for just the 2 s that are asked for.
DOOR = """choreo: 1
title: a door opens before a cyclist
paths:
  lane: {start: [0 m, 0 m], pieces: [{line: 80 m}]}
movers:
  cyclist:
    path: lane
    kind: bicycle
    body: {length: 1.9 m, width: 0.6 m}
    limits: {speed: 7 m/s, accelerate: 1 m/s2, brake: 2 m/s2, jerk: 5 m/s3}
    start: {station: MARK}
    programme: [{ramp: {to: 5 m/s}}, {hold: {settle: 2 s, until: hit}}, {stop: {}}]
  door:
    turns: {about: [51 m, -0.98 m], by: -70 deg, from: 180 deg}
    body: {length: 1.1 m, width: 0.1 m}
    limits: {speed: 120 deg/s, accelerate: 400 deg/s2, brake: 400 deg/s2}
    programme: [{wait: {for: near}}, {ramp: {to: 60 deg/s}}, SWINGS{stop: {}}]
triggers:
  near: {watch: cyclist, when: {time to collision: 1.5 s}}
encounters:
  hit: {kind: contact, of: cyclist, with: door, overlap: -41.7 %}
"""


@pytest.mark.parametrize("swings", ["{hold: {until: hit}}, ", ""])
def test_a_mark_from_which_ramps_are_changed_as_little_as_can_be_is_one_of_a_plan(
    swings: str,
) -> None:
    """Without the hold, its ramp pauses; that the cyclist's might is no reason to slow that down."""

    def of(mark: str) -> Plan:
        text = DOOR.replace("SWINGS", swings).replace("MARK", mark)
        return answer(case_of(loads(text, "door.yaml", Path()))).plan

    free = of("free")
    plan = of(f"{free.movers['cyclist'].start.station_m:.6f} m")
    assert (free.verdict, plan.verdict) == ("feasible", "feasible")
