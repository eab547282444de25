"""Drawn runs over time: as the table of the same seed tells of them, and as the plan where nothing is off."""

import numpy as np
import pytest

from choreo.errors.draws import Draws
from choreo.errors.execution import perform
from choreo.errors.sources import sources_of
from choreo.errors.traces import performed_runs, trace_of
from choreo.track.motion import motion_of
from tests.references.test_published_errors import budget, staged


def test_trace_of_a_run_without_errors_is_the_plan() -> None:
    stage = staged(budget("station"))
    performed = perform(stage, Draws((), np.zeros((1, 0)), 0))
    times = np.linspace(0.0, 8.0, 81)
    trace = trace_of(stage, performed, "walker", 0, times)
    station, speed = motion_of(stage.plan.movers["walker"]).states(times)[:2]
    assert trace.station_m == pytest.approx(station, abs=1e-9)
    assert trace.speed_mps == pytest.approx(speed, abs=1e-9)
    assert trace.y_m == pytest.approx(station - 4.0, abs=1e-9)
    assert trace.heading_rad == pytest.approx(np.pi / 2)
    with pytest.raises(IndexError, match="run 1 of 1"):
        trace_of(stage, performed, "walker", 1, times)


def test_bodies_of_a_trace_touch_where_the_same_run_is_told_to_be_met() -> None:
    stage = staged(budget("station"))
    (performed,) = performed_runs(stage, sources_of(stage.scenario), 20, 1)
    met = performed.met["contact"]
    for run in (0, 7, 19):
        time_s = met.time_s[run : run + 1]
        car = trace_of(stage, performed, "subject", run, time_s)
        walker = trace_of(stage, performed, "walker", run, time_s)
        # Both measured in the frame of the site, where the car drives along x.
        assert walker.y_m - car.y_m == pytest.approx(met.value[run : run + 1], abs=1e-9)
        assert car.measured_m - car.station_m == pytest.approx(
            performed.motions["subject"].position_m[run]
        )
