"""Ramps found in recorded speeds: what comes before and after them passes the same speeds and is no part of them."""

import numpy as np
import pytest

from choreo.errors.actors import Step
from choreo.scoring.ramps import fit_ramp


def test_ramp_is_not_mixed_with_one_that_comes_back_down_soon_after() -> None:
    """Up to 16 m/s in 8 s, held for 2 s, then down to 10 m/s, where it stays."""
    step = Step(0, "ramp", "ramp", np.array([8.0]), np.array([2.0]), np.zeros(1), 0.0, 16.0)
    times = np.arange(0.0, 24.0, 0.01)
    random = np.random.default_rng(4)
    speeds = np.interp(times, [3.0, 11.25, 13.25, 16.25], [0.0, 16.0, 16.0, 10.0])
    fit = fit_ramp(step, times, speeds + random.normal(0.0, 0.02, len(times)), (0.0, 16.0), 3.0)
    assert fit is not None
    assert fit.starts_s == pytest.approx(3.0, abs=0.01)
    assert fit.achieved_ratio == pytest.approx(8.0 / 8.25, abs=0.002)
