"""Filters, onsets, intervals, budgets and estimators against published or derived values; sources in SOURCES.md.

Derived: arithmetic on seen figures, shown beside each. From memory: told as that.
"""

import math
from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest

from choreo.errors.statistics import chance_of
from choreo.recordings.leap_seconds import gps_ahead_s
from choreo.rules import shapes
from choreo.rules.evaluating import Sampled
from choreo.rules.reading import bundled
from choreo.rules.records import Onset
from choreo.scoring import budgets, chances, estimators, onsets
from choreo.scoring.curves import likeness
from choreo.scoring.series import runs_without_failure
from choreo.scoring.verdicts import Rule, judge

RATE = 100.0
TIME = np.arange(0.0, 6.0, 1.0 / RATE)
FILTER = onsets.LowPass()


def ramp(level: float, lasting_s: float, from_s: float = 2.0) -> np.ndarray:
    """A braking that grows in a straight line and is held."""
    return level * np.clip((TIME - from_s) / lasting_s, 0.0, 1.0)


def onset(accel: np.ndarray, level: float) -> float | None:
    """When a level is first crossed."""
    frontal = bundled("en-fc-1.1").families["stationary lead"]
    (rule,) = frontal.of(Onset)
    return shapes.onset_s(replace(rule, level=level, back_to=None), Sampled(TIME, accel))


def onset_by(
    rule_set: str, accel: np.ndarray, low_pass: onsets.LowPass | None = None
) -> onsets.Found:
    """When automatic braking sets in by a set's own definition."""
    family = next(iter(bundled(rule_set).families.values()))
    (rule,) = (one for one in family.of(Onset) if one.event == "automatic braking")
    values = accel if low_pass is None else low_pass.filtered(accel, RATE)
    return onsets.found_onset(rule, Sampled(TIME, values))


def test_gains_of_the_filter_run_both_ways() -> None:
    """C90, C91, derived: 1/(1 + (tan(pi f/fs)/tan(pi fc/fs))^12), order 6, both passes at 10 Hz."""
    table = {5: 0.99982, 8: 0.94403, 9: 0.79291, 10: 0.5, 11: 0.226, 12: 0.08534, 15: 0.0045}
    assert {f: round(FILTER.gain(f, RATE), 4) for f in table} == {
        f: pytest.approx(one, abs=1e-4) for f, one in table.items()
    }
    at_1000 = {8: 0.93578, 9: 0.7799, 10: 0.5, 12: 0.10069}
    assert {f: FILTER.gain(f, 1000.0) for f in at_1000} == {
        f: pytest.approx(one, abs=1e-4) for f, one in at_1000.items()
    }
    overall = onsets.LowPass(reading="overall")
    assert overall.pass_hz == pytest.approx(10.762, abs=1e-3)
    assert overall.gain(10.0, 1e5) == pytest.approx(math.sqrt(0.5), abs=1e-3)


def test_ramp_crosses_its_levels_when_it_must() -> None:
    """C56: -10 m/s3 from 2.0 s: level / 10 later. Levels seen in EN-FC, EN-LS and 49 CFR 571.127 (0.05 g, 0.15 g)."""
    accel = ramp(-10.0, 1.0)
    levels = {-0.3: 2.03, -0.05 * 9.80665: 2.0490, -1.0: 2.1, -0.15 * 9.80665: 2.1471}
    found = {level: onset(accel, level) for level in levels}
    assert found == {level: pytest.approx(at, abs=1e-4) for level, at in levels.items()}


@pytest.mark.parametrize(
    ("level", "lasting_s", "raw", "filtered"),
    [
        (-8.0, 0.8, (2.1, 2.03), (2.0997, 2.0317)),
        (-9.0, 0.2, (2.0222, 2.0067), (2.0237, 2.0030)),
        (-6.0, 0.5, (2.0833, None), (2.0826, None)),
    ],
)
def test_onsets_raw_and_filtered(
    level: float,
    lasting_s: float,
    raw: tuple[float, float | None],
    filtered: tuple[float, float | None],
) -> None:
    """C57, C58, C59, derived: crossing of -1 and of -0.3 m/s2, the filter of order 6 both ways at 10 Hz."""
    accel = ramp(level, lasting_s)
    for low_pass, (one, third) in ((None, raw), (FILTER, filtered)):
        assert onset_by("en-fc-1.1", accel, low_pass).time_s == pytest.approx(one, abs=1e-3)
        if third is not None:
            assert onset_by("en-ls-1.1", accel, low_pass).time_s == pytest.approx(third, abs=1e-3)


def test_an_earlier_dip_that_recovers_is_no_onset_and_too_little_braking_has_none() -> None:
    """C60: back from the last sample beyond the level; first in the record would be the dip. C61: -2.5 m/s2 only."""
    dip = -3.5 * np.sin(np.pi * (TIME - 0.6) / 0.4) ** 2 * ((TIME > 0.6) & (TIME < 1.0))
    accel = ramp(-8.0, 0.8) + dip
    found = onset_by("en-fc-1.1", accel, FILTER)
    assert found.time_s == pytest.approx(2.0997, abs=1e-3)
    assert len(found.dips) == 1
    assert 0.7 < found.dips[0] < 0.8
    assert onset(FILTER.filtered(accel, RATE), -1.0) == pytest.approx(0.672, abs=0.01)
    weak = ramp(-2.5, 0.5)
    assert onset_by("en-fc-1.1", weak).time_s is None
    assert onset_by("en-ls-1.1", weak).time_s == pytest.approx(2.06, abs=1e-3)


def test_bounds_belong_to_what_is_allowed() -> None:
    """C62: 49.9, 50.0, 51.0, 51.1 km/h at 50 +1/-0; +/- 1.6 km/h takes all. C63: time gaps of 1.0 to 1.1 s. Seen."""

    def rulings(values: list[float], low: float, high: float) -> list[str]:
        rule = Rule("speed", None, low, high, "")
        return [judge(rule, one, None, 0.0).ruling for one in values]

    speeds = [one / 3.6 - 50.0 / 3.6 for one in (49.9, 50.0, 51.0, 51.1)]
    assert rulings(speeds, 0.0, 1.0 / 3.6) == ["invalid", "valid", "valid", "invalid"]
    assert rulings(speeds, -1.6 / 3.6, 1.6 / 3.6) == ["valid"] * 4
    assert rulings([0.99, 1.0, 1.1, 1.11], 1.0, 1.1) == ["invalid", "valid", "valid", "invalid"]


def test_intervals_of_chances_and_runs_that_show_a_reliability() -> None:
    """C98, C99, derived: beta quantiles; by hand 0.025^(1/10) = 0.691503; ln(1 - c)/ln(r)."""
    table = {
        (2, 2): (0.158114, 1.0),
        (5, 7): (0.290421, 0.963307),
        (9, 10): (0.554984, 0.997471),
        (10, 10): (0.691503, 1.0),
        (19, 20): (0.751267, 0.998735),
        (58, 60): (0.884719, 0.995937),
    }
    found = {key: (chance_of(*key).low, chance_of(*key).high) for key in table}
    assert found == {key: pytest.approx(one, abs=1e-6) for key, one in table.items()}
    runs = {
        (0.9, 0.9): 22,
        (0.9, 0.95): 29,
        (0.95, 0.95): 59,
        (0.99, 0.95): 299,
        (0.99, 0.99): 459,
        (0.999, 0.95): 2995,
    }
    assert {key: runs_without_failure(*key) for key in runs} == runs


def test_other_intervals_and_tests_that_go_from_run_to_run() -> None:
    """C100, C101, C102, derived: Beta(9.5, 1.5), z 1.96; 2.2513/0.17185 = 13.1, 2.8904/1.38629 = 2.08; binomial."""
    assert chances.jeffreys(9, 10) == pytest.approx((0.8636, 0.6187, 0.9890), abs=1e-4)
    assert chances.wilson(9, 10) == pytest.approx((0.5958, 0.9821), abs=1e-4)
    wald = chances.Wald()
    assert wald.bounds == pytest.approx((-2.2513, 2.8904), abs=1e-4)
    assert wald.steps == pytest.approx((-0.17185, 1.38629), abs=1e-5)
    assert wald.decide([True] * 20) == ("accepted", 14)
    assert wald.decide([False] * 5) == ("rejected", 3)
    assert wald.decide([True] * 13) == ("goes on", 13)
    found = [chances.at_least(5, 7, chance) for chance in (0.8, 0.9)]
    assert found == pytest.approx([0.85197, 0.97431], abs=1e-5)
    assert chances.at_least(2, 2, 0.9) == pytest.approx(0.81)


def test_budgets_of_uncertainty() -> None:
    """C103: EA-4/02 M:2022 S2 (seen), g. C104: GUM H.1 (from memory, recomputed), nm. C105, C106, C112: derived."""
    weight = [budgets.Part(u) for u in (0.0225, 0.00866, 0.0142, 0.00577, 0.00577)]
    assert budgets.combined(weight) == pytest.approx(0.02915, abs=1e-4)
    assert 2.0 * budgets.combined(weight) == pytest.approx(0.058, abs=1e-3)
    # Calibration of the standard, comparator, two sizes of temperature and expansion.
    gauge = [
        budgets.Part(25.0, 1.0, 18.0),
        budgets.Part(9.7, 1.0, 25.6),
        budgets.Part(2.9, 1.0, 50.0),
        budgets.Part(16.6, 1.0, 2.0),
    ]
    assert budgets.combined(gauge) == pytest.approx(31.67, abs=0.1)
    assert math.floor(budgets.freedom(gauge)) == 16
    speed = 0.1 / 3.6
    for place, velocity, u in (
        (0.03, speed, 0.00856),
        (budgets.rectangular(0.03), budgets.rectangular(speed), 0.00494),
    ):
        parts = [
            budgets.Part(place, 1 / 13.889),
            budgets.Part(place, 1 / 13.889),
            budgets.Part(velocity, 4.0 / 13.889),
        ]
        assert budgets.combined(parts) == pytest.approx(u, abs=1e-5)
    step = 9.0 / 100.0 * 3.6
    assert step == pytest.approx(0.324)
    assert budgets.resolution(step) == pytest.approx(0.0935, abs=1e-4)
    assert budgets.combined(
        [budgets.Part(budgets.resolution(step)), budgets.Part(0.1)]
    ) == pytest.approx(0.137, abs=1e-3)
    assert budgets.guarded(0.1, 0.01173, 2.0) == pytest.approx(0.0765, abs=1e-4)
    assert budgets.triangular(6.0**0.5) == pytest.approx(1.0)
    assert (
        judge(Rule("", "s", -0.1, 0.1, ""), 0.078, None, 0.02346 / 1.65).ruling == "not decidable"
    )


def test_estimators_find_what_was_put_in() -> None:
    """C107, C108, C109, C110, C111, derived; Anscombe's data from memory, least squares widely published."""
    times = np.array([0.5, 1.0, 1.5, 2.0])
    ways = np.array([0.0622428, 0.2840792, 0.6666667, 1.2100051])
    speeds = np.array([0.2829218, 0.6044239, 0.9259259, 1.2474280])
    assert estimators.launch_by_way(times, ways) == pytest.approx((0.060, 0.6430041), abs=1e-6)
    assert estimators.launch_by_speed(times, speeds) == pytest.approx((0.060, 0.6430041), abs=1e-6)
    found = estimators.estimate([58, 61, 59, 63, 60, 62, 57, 140])
    assert (found.mean, found.median) == (70.0, 60.5)
    assert (found.spread, found.robust) == (
        pytest.approx(28.355, abs=1e-3),
        pytest.approx(2.965, abs=1e-3),
    )
    assert estimators.outliers_of([58, 61, 59, 63, 60, 62, 57, 140]) == [7]
    rest = estimators.estimate([58, 61, 59, 63, 60, 62, 57])
    assert rest.spread == pytest.approx(2.1602, abs=1e-4)
    assert (rest.mean_half, rest.next_half) == (
        pytest.approx(1.998, abs=1e-3),
        pytest.approx(5.651, abs=1e-3),
    )
    assert estimators.estimate([1.0, 2.0]).spread is None
    x = np.array([10, 8, 13, 9, 11, 14, 6, 4, 12, 7, 5], dtype=float)
    first = np.array([8.04, 6.95, 7.58, 8.81, 8.33, 9.96, 7.24, 4.26, 10.84, 4.82, 5.68])
    third = np.array([7.46, 6.77, 12.74, 7.11, 7.81, 8.84, 6.08, 5.39, 8.15, 6.42, 5.73])
    assert estimators.line(x, first) == pytest.approx((0.500091, 3.000091), abs=1e-6)
    assert estimators.line(x, third) == pytest.approx((0.499727, 3.002455), abs=1e-6)
    assert estimators.median_line(x, first) == pytest.approx((0.501667, 3.065), abs=1e-3)
    assert estimators.median_line(x, third) == pytest.approx((0.345556, 4.0), abs=1e-2)
    assert estimators.repeated_median_line(x, third) == pytest.approx((0.3455, 4.005), abs=1e-2)
    pulse = np.exp(-0.5 * ((TIME - 2.0) / 0.15) ** 2)
    late = np.exp(-0.5 * ((TIME - 2.037) / 0.15) ** 2)
    assert estimators.delay_s(pulse, late, RATE) == pytest.approx(0.037, abs=1e-4)


@pytest.mark.parametrize(
    ("curve", "parts", "whole"),
    [
        (ramp(-8.0, 0.8, 0.5), (1.0, 1.0, 1.0, 1.0), 1.0),  # C92
        (ramp(-8.0, 0.8, 0.55), (0.9793, 0.8756, 1.0, 1.0), 0.9668),  # C93
        (ramp(-8.0, 0.8, 0.6), (0.8842, 0.7512, 1.0, 1.0), 0.9039),  # C94
        (1.1 * ramp(-8.0, 0.8, 0.5), (0.9051, 1.0, 0.8693, 0.95), 0.9259),  # C95
        (ramp(-7.0, 0.8, 0.5), (0.8552, 1.0, 0.8433, 0.9375), 0.8983),  # C96
    ],
)
def test_likeness_of_curves(
    curve: np.ndarray, parts: tuple[float, float, float, float], whole: float
) -> None:
    """C92 to C96: constants of ISO/TS 18571 second-hand, values DERIVED: corridor, phase, magnitude, slope; whole."""
    found = likeness(curve[:201], ramp(-8.0, 0.8, 0.5)[:201], 1.0 / RATE)
    assert found is not None
    told = (found.corridor, found.phase, found.magnitude, found.slope)
    assert told == pytest.approx(parts, abs=2e-3)
    assert found.whole == pytest.approx(whole, abs=2e-3)
    # A pure delay of 0.1 s still is good: it says nothing of timing.
    assert (found.grade == "excellent") == (whole > 0.94)


def test_corridor_of_a_constant_offset() -> None:
    """C97, derived: ((0.5 - d)/0.45)^2 of offsets of 0.04, 0.1 and 0.3 of the peak."""
    reference = ramp(-8.0, 0.8)
    found = [likeness(reference + 8.0 * d, reference, 1.0 / RATE) for d in (0.04, 0.1, 0.3)]
    corridors = [one.corridor for one in found if one is not None]
    assert corridors == pytest.approx([1.0, 0.7901, 0.1975], abs=1e-4)


def test_gps_time_is_ahead_of_utc() -> None:
    """C113, from memory of IERS Bulletin C."""
    assert gps_ahead_s(datetime(2026, 1, 1, tzinfo=UTC)) == 18.0
    assert gps_ahead_s(datetime(2016, 12, 31, tzinfo=UTC)) == 17.0
