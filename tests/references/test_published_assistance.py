"""Assistance that is on soon enough before a stationary car: recorded runs as planned, and when it was switched on."""

from functools import cache
from pathlib import Path

import numpy as np
import pytest

from choreo.case import answer, case_of
from choreo.errors.recorded import clock_of, tracks_of
from choreo.errors.stage import Stage, stage_of
from choreo.errors.traces import performed_runs
from choreo.recordings.record import Recording
from choreo.rules.applied import Rules, rules_of
from choreo.scenario import loads
from choreo.scoring.score import score
from choreo.words import Origin
from tests.references.scenario_texts import CAR, FILE, LANE, TARGET


@cache
def driven(speed: int) -> tuple[Stage, Rules, Recording]:
    """A car that nears a stationary one for 12 s, as planned."""
    case = case_of(
        loads(
            f"""\
choreo: 1
title: Stationary car
rules: {{set: en-va-1.1, family: stationary lead}}
paths:
{LANE}
movers:
  subject:
    path: lane
{CAR}
    programme: [{{ramp: {{to: {speed} km/h}}}}, {{hold: {{settle: 12 s, until: contact}}}}]
  target:
    path: lane
{TARGET}
    start: {{station: 1.5 km}}
encounters:
  contact: {{kind: contact, of: subject, with: target, overlap: 50 %, tolerance: 0.1 m}}
""",
            FILE,
            Path(),
        )
    )
    stage, rules = stage_of(case.scenario, case.paths, answer(case).plan), rules_of(case.scenario)
    assert rules is not None
    (performed,) = performed_runs(stage, (), 1, 1)
    times = clock_of(stage, performed, 0, 100.0)
    tracks = dict(tracks_of(stage, performed, 0, times))
    return stage, rules, Recording("run", times - times[0], tracks)


# C71: EN-VA v1.1, SEEN: on before the lower of 10 s to collision and 250 m; 6.923 s at 130 km/h, 10 s at 60 km/h. Both
# are the same at 90 km/h.
@pytest.mark.parametrize(("speed", "left_m"), [(130, 250.0), (90, 250.0), (60, 166.667)])
@pytest.mark.parametrize(("sooner_m", "ruling"), [(0.5, "valid"), (-0.5, "invalid")])
def test_assistance_is_on_before_the_lower_of_10_s_and_250_m(
    speed: int, left_m: float, sooner_m: float, ruling: str
) -> None:
    assert min(speed / 3.6 * 10.0, 250.0) == pytest.approx(left_m, abs=1e-3)
    stage, rules, recording = driven(speed)
    contact = stage.plan.encounters["contact"].time_s
    at = contact - (left_m + sooner_m) / (speed / 3.6)
    # Go is the launch, from which a recording without a channel of it counts.
    go = float(np.flatnonzero(recording.tracks["subject"].speed_mps > 0.0)[0] - 1) / 100.0
    events = {"assistance_on": go + at}
    run = Recording(recording.name, recording.time_s, recording.tracks, events)
    told, _ = score(stage, run, Origin("recording.yaml", 1, 1), rules)
    (one,) = (one for one in told.judged if one.rule.startswith("VA-1"))
    assert one.ruling == ruling
    assert told.ruling == ruling
