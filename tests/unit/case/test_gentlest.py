"""The gentlest ramps can lead through one another; then ramps at their limits are taken, and that is told.

Where they touch before a gap of the same two there is no plan, as with any other preference.
"""

from pathlib import Path

import pytest

from choreo.case import answer, case_of
from choreo.scenario import loads

# As gently as can be, the lead comes from far behind the subject's mark, and drives through it while it waits there.
TEXT = """choreo: 1
title: a follower of a car, and a cyclist at the contact
prefer: gentlest ramps
paths:
  lane: {start: [0 m, 0 m], heading: 0 deg, pieces: [{line: 1000 m}]}
  way: {start: [790 m, -9.7 m], heading: 90 deg, pieces: [{line: 17 m}]}
movers:
  subject:
    path: lane
    body: {length: 3.7 m, width: 1.8 m, front overhang: 2.8 m}
    limits: {speed: 50 m/s, accelerate: 3 m/s2, brake: 6.5 m/s2, jerk: 2.2 m/s3}
    start: {station: 600..1000 m}
    programme: [{ramp: {to: 14.7 m/s}}, {hold: {settle: 1.6 s, until: contact}}, {stop: {}}]
  rider:
    kind: bicycle
    path: way
    body: {length: 1.7 m, width: 0.4 m, front overhang: 0.9 m}
    limits: {speed: 12 m/s, accelerate: 2.3 m/s2, brake: 2.5 m/s2, jerk: 11.5 m/s3}
    start: {station: 0 m}
    programme: [{wait: {for: step_out}}, {ramp: {to: 3.1 m/s}}, {hold: {settle: 0.3 s, until: contact}}, {stop: {}}]
  lead:
    kind: vehicle
    path: lane
    body: {length: 3.9 m, width: 1.6 m, front overhang: 2.3 m}
    limits: {speed: 50 m/s, accelerate: 2 m/s2, brake: 5.2 m/s2}
    programme: [{ramp: {to: 14.7 m/s}}, {hold: {settle: 0.7 s, until: contact}}, {stop: {}}]
triggers:
  step_out: {watch: subject, when: {station: free}, latency: 96 ms, sampling: 200 Hz}
encounters:
  contact: {kind: contact, of: subject, with: rider, overlap: 33 %}
  gap: {kind: gap, of: subject, with: lead, distance: 47 m, at: contact}
"""


def test_ramps_are_at_their_limits_where_the_gentlest_collide() -> None:
    plan = answer(case_of(loads(TEXT, "gentlest.yaml", Path()))).plan
    assert plan.verdict == "feasible"
    assert [one.code for one in plan.warnings] == ["plan.not-gentlest"]
    ramp = [one for one in plan.movers["subject"].pieces if one.phase == "ramp"]
    # v / a + a / j
    assert sum(one.duration_s for one in ramp) == pytest.approx(14.7 / 3.0 + 3.0 / 2.2)


# The gap is to last until both brake, and they are to meet after it. Who follows stops harder than who leads: they can
# touch only before, where the gap would come later.
TOUCHES_FIRST = """choreo: 1
title: a follower that stops harder than its lead
prefer: gentlest ramps
paths:
  lane: {start: [0 m, 0 m], pieces: [{line: 500 m}]}
movers:
  subject:
    path: lane
    body: {length: 4.5 m, width: 1.85 m, front overhang: 3.5 m}
    limits: {speed: 130 km/h, accelerate: 3 m/s2, brake: 6 m/s2}
    programme: [{follow: {mover: lead, time gap: 1.0 s}}, {stop: {}}]
  lead:
    path: lane
    body: {length: 4.2 m, width: 1.75 m}
    limits: {speed: 80 km/h, accelerate: 2 m/s2, brake: 5 m/s2}
    programme: [{ramp: {to: 70 km/h}}, {hold: {for: 4 s}}, {stop: {brake: 5 m/s2}}]
encounters:
  hit: {kind: contact, of: subject, with: lead, overlap: 50 %}
"""


def test_no_gap_of_two_is_met_after_they_have_touched() -> None:
    plan = answer(case_of(loads(TOUCHES_FIRST, "touches_first.yaml", Path()))).plan
    assert (plan.verdict, len(plan.budgets)) == ("infeasible", 1)
