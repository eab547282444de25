"""Rules held against signals: worst value, when, margin; bounds exactly met, samples that are missing."""

import math
from dataclasses import replace

import numpy as np
import pytest

from choreo.rules.evaluating import (
    Judged,
    Run,
    Sampled,
    judge_band,
    judge_instant,
    judge_settle,
    moment,
    window_of,
)
from choreo.rules.reading import bundled
from choreo.rules.records import Band, EventRef, Instant, Onset, Settle, Shape, Window
from choreo.rules.shapes import judge_shape, onset_s

KMH = 1 / 3.6
FRONTAL = bundled("en-fc-1.1").families
FEDERAL = bundled("fmvss-127").families
TIMES = np.linspace(0.0, 10.0, 1001)


def sampled(values: object, times: object = TIMES) -> Sampled:
    at = np.asarray(times, dtype=float)
    return Sampled(at, np.broadcast_to(np.asarray(values, dtype=float), at.shape).copy())


def speed_judged(kmh: float, band: Band, window: Window, most: float = 50.0) -> Judged:
    run = Run(
        {("subject", "speed"): sampled(kmh * KMH)},
        {"T0": 2.0, "warning": 8.0},
        {("subject", "speed"): most * KMH},
    )
    return judge_band(band, window, run)


def test_c62_a_speed_exactly_on_its_bound_is_kept() -> None:
    """C62, SEEN: nominal 50 km/h, +1.0 / -0 km/h (EN-FC v1.1, 4.3.2) and +/- 1.6 km/h (49 CFR 571.127, S7.3.2)."""
    family = FRONTAL["stationary lead"]
    band, window = family.bands["FC-B1"], family.windows["first reaction"]
    found = [speed_judged(kmh, band, window) for kmh in (49.9, 50.0, 51.0, 51.1)]
    assert [one.outcome for one in found] == ["broken", "kept", "kept", "broken"]
    assert found[3].margin == pytest.approx(-0.1 * KMH)
    assert found[2].margin == pytest.approx(0.0, abs=1e-12)
    federal = FEDERAL["stopped lead"].bands["FM-W32-spe"]
    start = Window("w", EventRef("T0"), (), federal.source)
    found = [speed_judged(kmh, federal, start) for kmh in (49.9, 50.0, 51.0, 51.1)]
    assert {one.outcome for one in found} == {"kept"}


def test_c63_the_time_gap_before_braking() -> None:
    """C63, SEEN: 1.0 s, +0.1 / -0 s."""
    family = FRONTAL["braking lead"]
    band, window = family.bands["FC-B10"], family.windows["before braking"]
    outcomes = []
    for gap_s in (0.99, 1.00, 1.10, 1.11):
        signals = {("target", "time gap"): sampled(gap_s)}
        run = Run(signals, {"lead brakes": 6.0}, t0=family.t0)
        found = judge_band(band, window, run)
        assert (found.from_s, found.until_s) == (5.0, 6.0)  # C09: T0 is 1.0 s before the braking
        outcomes.append(found.outcome)
    assert outcomes == ["broken", "kept", "kept", "broken"]


def test_worst_value_its_time_and_interpolated_ends() -> None:
    family = FRONTAL["stationary lead"]
    band, window = family.bands["FC-B2a"], family.windows["first reaction"]
    times = [0.0, 1.0, 2.0, 3.0]
    run = Run(
        {("subject", "lateral deviation"): sampled([0.0, 0.04, 0.02, 0.10], times)},
        {"T0": 0.5, "warning": 2.5},
    )
    found = judge_band(band, window, run)
    # Between 0.02 m and 0.10 m it is 0.06 m at the warning: over 0.05 m although no sample inside is.
    assert (found.outcome, found.time_s) == ("broken", 2.5)
    assert found.value == pytest.approx(0.06)
    assert found.margin == pytest.approx(-0.01)
    earlier = judge_band(band, window, replace(run, events={"T0": 0.5, "warning": 2.2}))
    assert (earlier.outcome, earlier.time_s) == ("kept", 1.0)
    assert earlier.margin == pytest.approx(0.01)


def test_the_first_end_after_the_start_ends_a_window() -> None:
    window = FRONTAL["stationary lead"].windows["first reaction"]
    run = Run(
        {("subject", "speed"): sampled(10.0)}, {"T0": 2.0, "warning": 1.0, "intervention": 7.0}
    )
    assert window_of(window, run) == (2.0, 7.0)
    assert window_of(window, replace(run, events={"T0": 2.0})) == (2.0, 10.0)
    assert window_of(window, replace(run, events={})) is None


def test_start_of_test_from_the_time_left() -> None:
    family = FRONTAL["stationary lead"]
    left = {("target", "time to collision"): sampled(9.0 - TIMES)}
    run = Run(left, {}, t0=family.t0)
    assert moment(EventRef("T0"), run) == pytest.approx(5.0)
    # C66: 111.111 m are 5 s at 80 km/h; driven at 81.6 km/h there are 4.902 s left.
    headway = {("target", "distance"): sampled(160.0 - 81.6 * KMH * TIMES)}
    run = Run(headway, {}, t0=FEDERAL["stopped lead"].t0, closing_mps=80 * KMH)
    at = moment(EventRef("T0"), run)
    assert at is not None
    assert (160.0 - 81.6 * KMH * at) / (81.6 * KMH) == pytest.approx(4.902, abs=1e-3)


@pytest.mark.parametrize(
    ("spoil", "outcome", "why"),
    [
        (lambda one: one.values.__setitem__(500, math.nan), "not decidable", "missing"),
        (lambda one: one.values.__setitem__(slice(None), math.nan), "not decidable", "missing"),
        (lambda one: one.values.__setitem__(600, 60 * KMH), "broken", ""),
    ],
)
def test_unknown_samples_never_make_a_run_valid(spoil, outcome: str, why: str) -> None:
    family = FRONTAL["stationary lead"]
    signal = sampled(50.5 * KMH)
    spoil(signal)
    events = {"T0": 2.0, "warning": 8.0}
    run = Run({("subject", "speed"): signal}, events, {("subject", "speed"): 50 * KMH})
    found = judge_band(family.bands["FC-B1"], family.windows["first reaction"], run)
    assert found.outcome == outcome
    assert why in found.why


def test_what_isnt_known_is_told() -> None:
    family = FRONTAL["stationary lead"]
    band, window = family.bands["FC-B1"], family.windows["first reaction"]
    planned = {("subject", "speed"): 50 * KMH}
    whole = Run({("subject", "speed"): sampled(50.5 * KMH)}, {"T0": 2.0, "warning": 12.0}, planned)
    assert "0.000 s to 10.000 s only" in judge_band(band, window, whole).why
    assert judge_band(band, window, replace(whole, events={})).why == "`T0` isn't known"
    assert "planned speed" in judge_band(band, window, replace(whole, references={})).why
    assert "isn't recorded" in judge_band(band, window, replace(whole, signals={})).why
    times = np.concatenate([TIMES[:400], TIMES[500:]])
    signals = {("subject", "speed"): sampled(50.5 * KMH, times)}
    gappy = Run(signals, {"T0": 2.0, "warning": 8.0}, planned, most_gap_s=0.1)
    assert "a gap of more than 0.1 s" in judge_band(band, window, gappy).why
    assert judge_band(band, window, replace(gappy, most_gap_s=2.0)).outcome == "kept"
    near = judge_band(band, window, replace(gappy, most_gap_s=2.0), 0.6 * KMH)
    assert near.outcome == "not decidable"


def test_an_instant_is_interpolated() -> None:
    rule = next(bundled("en-ls-1.1").families["crossing car"].of(Instant))
    signals = {("target", "impact location"): sampled([0.2, 0.3], [0.0, 1.0])}
    run = Run(signals, {"contact": 0.5})
    found = judge_instant(rule, run)
    assert (found.outcome, found.time_s) == ("kept", 0.5)
    assert found.value == pytest.approx(-0.25)
    assert judge_instant(rule, replace(run, events={"contact": 0.4})).outcome == "broken"
    assert judge_instant(rule, replace(run, events={"contact": 2.0})).outcome == "not decidable"


def test_settle_before_the_lead_brakes() -> None:
    family = FEDERAL["braking lead"]
    rule = next(family.of(Settle))
    speeds = sampled(np.where(TIMES < 3.5, 47.0, 50.0) * KMH)
    planned = 50 * KMH
    run = Run(
        {
            ("subject", "speed"): speeds,
            ("target", "speed"): sampled(planned),
            ("target", "distance"): sampled(40.0),
        },
        {"lead brakes": 6.0},
        {("subject", "speed"): planned, ("target", "speed"): planned},
    )
    found = {one.rule: one.outcome for one in judge_settle(rule, family.bands, run)}
    assert found == {
        "FM-W3s/FM-W3a": "kept",
        "FM-W3s/FM-W3b": "broken",
        "FM-W3s/FM-W3c": "kept",
    }


def test_shape_of_a_braking_lead() -> None:
    """Published build-up (49 CFR 571.127, S7.5.3): the level within 1.5 s, an average from 0.3 g to 0.5 g."""
    rule = next(FEDERAL["braking lead"].of(Shape))
    g = 9.80665
    outcomes = {}
    for build_up_s in (1.2, 1.6):
        accel = -0.4 * g * np.clip((TIMES - 2.0) / build_up_s, 0.0, 1.0)
        run = Run(
            {("target", "acceleration"): sampled(accel)}, {"lead brakes": 2.0, "lead stops": 8.0}
        )
        outcomes[build_up_s] = judge_shape(rule, run)
    reached, mean = outcomes[1.2]
    assert (reached.outcome, mean.outcome) == ("kept", "kept")
    assert reached.value == pytest.approx(0.9)  # 0.3 g of 0.4 g in 1.2 s
    assert mean.value == pytest.approx(-0.4 * g)
    late = [one.outcome for one in judge_shape(replace(rule, within_s=0.5), run)]
    assert late[0] == "broken"


def ramp(rate: float, to: float, until: float = 3.0) -> Sampled:
    times = np.arange(0.0, until, 0.01)
    return sampled(np.maximum(-rate * np.maximum(times - 2.0, 0.0), to), times)


def test_c56_onsets_of_a_ramp() -> None:
    """C56: a ramp of -10 m/s3 from 2.0 s passes -0.3 at 2.0300, 0.05 g at 2.0490, -1 at 2.1000, 0.15 g at 2.1471 s."""
    signal = ramp(10.0, -9.0)
    lows = next(o for o in _onsets("en-ls-1.1", "crossing car") if o.event == "automatic braking")
    front = next(o for o in _onsets("en-fc-1.1", "crossing car"))
    federal = {one.event: one for one in _onsets("fmvss-127", "braking lead")}
    found = [
        onset_s(one, signal)
        for one in (lows, federal["lead brakes"], front, federal["automatic braking"])
    ]
    assert found == pytest.approx([2.0300, 2.0490, 2.1000, 2.1471], abs=1e-4)


def _onsets(name: str, family: str):
    return list(bundled(name).families[family].of(Onset))


def test_c58_c59_onsets_unfiltered() -> None:
    """C57 to C59, raw: 2.1000 and 2.0300 s; 2.0222 and 2.0067 s; 2.0833 s."""
    front, low = _onsets("en-fc-1.1", "crossing car")[0], _onsets("en-ls-1.1", "crossing car")[0]
    assert onset_s(front, ramp(10.0, -8.0)) == pytest.approx(2.1000, abs=1e-4)
    assert onset_s(low, ramp(10.0, -8.0)) == pytest.approx(2.0300, abs=1e-4)
    assert onset_s(front, ramp(45.0, -9.0)) == pytest.approx(2.0222, abs=1e-4)
    assert onset_s(low, ramp(45.0, -9.0)) == pytest.approx(2.0067, abs=1e-4)
    assert onset_s(front, ramp(12.0, -6.0)) == pytest.approx(2.0833, abs=1e-4)


def test_c60_c61_an_earlier_dip_and_a_weak_braking() -> None:
    """C60: the nearest crossing backwards counts, not that of an earlier dip; C61: -2.5 m/s2 is no braking of EN-FC."""
    front, low = _onsets("en-fc-1.1", "crossing car")[0], _onsets("en-ls-1.1", "crossing car")[0]
    signal = ramp(10.0, -8.0)
    times = signal.times_s
    dip = (times >= 0.6) & (times <= 1.0)
    signal.values[dip] -= 3.5 * np.sin((times[dip] - 0.6) / 0.4 * np.pi) ** 2
    assert onset_s(front, signal) == pytest.approx(2.1000, abs=1e-4)
    weak = ramp(10.0, -2.5)
    assert onset_s(front, weak) is None
    assert onset_s(low, weak) == pytest.approx(2.0300, abs=1e-4)
