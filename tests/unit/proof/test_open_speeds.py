"""Speeds that are open in proofs: no ramp is below the bounds, and what works at no speed is proved impossible."""

import math
from pathlib import Path

import numpy as np

from choreo.case import answer, case_at
from choreo.case.proving import NEAREST
from choreo.linear.profile import profile_of
from choreo.problem.records import Ramp
from choreo.proof.relaxed_movers import least_of_ramp
from choreo.scenario import Span, loads

WALKER = """
choreo: 1
title: The walker is too slow, or just quick enough, to be there in time
paths:
  lane: {start: [0 m, 0 m], pieces: [{line: 600 m}]}
  way: {start: [300 m, 9 m], heading: -90 deg, pieces: [{line: 40 m}]}
movers:
  subject:
    path: lane
    body: {length: 4 m, width: 1.6 m, front overhang: 2 m}
    limits: {speed: 50 m/s, accelerate: 3 m/s2, brake: 5 m/s2}
    programme: [ramp: {to: 7.9..13.8 m/s}, hold: {until: contact}, stop: {}]
  walker:
    kind: pedestrian
    path: way
    body: {length: 0.4 m, width: 0.5 m}
    limits: {speed: 12 m/s, accelerate: 1.9 m/s2, brake: 4 m/s2, jerk: 23 m/s3}
    start: {station: 0 m}
    programme: [wait: {for: step_out}, ramp: {to: 1.7..FASTEST m/s}, hold: {until: contact}, stop: {}]
triggers:
  step_out: {watch: subject, when: {time to collision: 3.8 s}, to: contact, latency: 100 ms}
encounters:
  contact: {kind: contact, of: subject, with: walker, overlap: 50 %}
"""


def _ramp(to: Span, table: tuple[tuple[float, float], ...], jerk_mps3: float) -> Ramp:
    return Ramp("ramp", None, 1, to, table, jerk_mps3, False, False, None, None, None, None)


def test_no_ramp_between_open_speeds_is_below_the_bounds() -> None:
    rng = np.random.default_rng(5)
    for _ in range(40):
        low, inner, beyond = sorted(rng.uniform(0.5, 30.0, 3))
        least = float(rng.uniform(0.5, 3.0))
        table = ((0.0, least), (12.0, least * float(rng.uniform(0.4, 1.5))), (35.0, least))
        jerk = float(rng.choice([math.inf, rng.uniform(2.0, 20.0)]))
        rows = table if math.isinf(jerk) else table[:1]
        whole = Span(inner, beyond)
        ends = [(Span.at(low), whole), (whole, Span.at(low))]
        whole = Span(low, inner)
        ends += [(Span.at(beyond), whole), (whole, Span.at(beyond))]
        for speed, to in ends:
            start, end = (float(rng.uniform(one.lo, one.hi)) for one in (speed, to))
            driven = profile_of(_ramp(Span.at(end), rows, jerk), start)
            bound = least_of_ramp(speed, _ramp(to, rows, jerk))
            assert driven is not None
            assert bound is not None
            slow, fast = min(speed.lo, to.lo), max(speed.hi, to.hi)
            way, lasts = driven.way_m, driven.duration_s * (1 + 1e-6)
            assert lasts >= bound.time_s
            assert way * (1 + 1e-6) >= bound.way_m
            assert fast * lasts - way >= bound.lost_m * (1 - 1e-6)
            assert way * (1 + 1e-6) - slow * driven.duration_s >= bound.gained_m * (1 - 1e-6)


def test_what_works_at_no_open_speed_is_proved_in_parts() -> None:
    """At 3 m/s the walker makes 8.7 m in 3.7 s: 3 x 3.7 m, less 9 / 3.8 m that it loses while it speeds up."""
    texts = [WALKER.replace("FASTEST", fastest) for fastest in ("3", "3.4")]
    slow, quick = (answer(case_at(loads(t, "walker.yaml", Path()), None)).plan for t in texts)
    assert quick.verdict == "feasible"
    assert slow.verdict == "infeasible"
    assert NEAREST in slow.budgets[0].title
