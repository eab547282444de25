"""Runs that don't count although they meet: speeds, paths, limits and strokes that are not kept."""

import math
from dataclasses import replace

import numpy as np
import pytest

from choreo.errors.drawing import draw
from choreo.errors.outcomes import VALID, run
from choreo.errors.stage import Stage
from choreo.errors.statistics import normal_inside
from choreo.scenario import ErrorSource, Spread
from choreo.words.kinds import ErrorKind
from tests.references.test_published_errors import KMH, budget, staged

RUNS = 4000
CAR = "    programme:\n      - ramp: {to: 50 km/h}"
WALKER_START = "    start: {station: 0 m}"


def with_tolerances(subject: str = "", walker: str = "", more: str = "") -> Stage:
    text = budget("time to collision").replace("tolerance: 0.15 m", "tolerance: 2 m")
    if subject:
        text = text.replace(CAR, f"    tolerances: {subject}\n{CAR}")
    if walker:
        text = text.replace(WALKER_START, f"    tolerances: {walker}\n{WALKER_START}")
    return staged(text + more)


def chance(stage: Stage, condition: str, *sources: ErrorSource) -> float:
    """How often a condition fails first, of runs with these errors alone; nothing else fails."""
    found = run(stage, draw(sources, RUNS, 3)).failed
    code = stage.conditions.index(condition)
    assert set(np.unique(found)) <= {VALID, code}
    return float(np.mean(found == code))


def normal(kind: ErrorKind, owner: str, size: float, over: float | None = None) -> ErrorSource:
    middle = 1.0 if kind.startswith("achieved") else 0.0
    return ErrorSource(kind, owner, Spread("normal", middle, size), over)


def near(expected: float) -> object:
    return pytest.approx(expected, abs=4 * math.sqrt(expected * (1 - expected) / RUNS))


def test_speed_of_a_settled_hold_counts_as_often_as_a_normal_number_is_outside() -> None:
    # One side is tighter: UN and NCAP ask for `0..1 km/h`.
    stage = with_tolerances(subject="{speed: -0.2..0.5 km/h}")
    expected = 1 - normal_inside(0.0, 0.3, -0.2, 0.5)
    assert chance(
        stage, "subject off its speed", normal("speed held", "subject", 0.3 * KMH)
    ) == near(expected)


def test_speed_that_wanders_leaves_its_tolerance_more_often_the_longer_it_counts() -> None:
    wanders = normal("speed wander", "subject", 0.2 * KMH, over=3.0)
    at_once, settled, long = (
        chance(with_tolerances(subject=one, more=more), "subject off its speed", wanders)
        for one, more in (
            ("{speed: 0.5 km/h, from: contact}", ""),
            ("{speed: 0.5 km/h}", ""),
            ("{speed: 0.5 km/h, from: T0}", "instants: {T0: {before: contact, by: 4 s}}\n"),
        )
    )
    assert at_once == near(2 * (1 - normal_inside(0.0, 0.2, -math.inf, 0.5)))
    assert at_once < settled < long


def test_walker_without_a_settle_is_held_to_its_speed_when_it_is_met() -> None:
    stage = with_tolerances(walker="{speed: 0.2 km/h}")
    found = chance(stage, "walker off its speed", normal("speed held", "walker", 0.1 * KMH))
    assert found == near(1 - normal_inside(0.0, 0.1, -0.2, 0.2))


def test_path_is_left_as_often_as_its_offset_is_outside() -> None:
    stage = with_tolerances(subject="{beside: 0.05 m}")
    expected = 1 - normal_inside(0.0, 0.03, -0.05, 0.05)
    beside = "subject too far beside its path"
    assert chance(stage, beside, normal("path offset", "subject", 0.03)) == near(expected)
    wandering = chance(stage, beside, normal("path wander", "subject", 0.03, over=20.0))
    assert wandering > expected


def test_limit_that_is_used_up_is_passed_by_a_drive_that_achieves_more() -> None:
    # The car's ramp uses all of its acceleration.
    stage = with_tolerances(subject="{limits: 2 %}")
    drive = normal("achieved acceleration", "subject", 0.01)
    assert chance(stage, "subject over its limits", drive) == near(
        1 - normal_inside(0.0, 0.01, -math.inf, 0.02)
    )


def test_stroke_ends_where_it_ends_whatever_is_off() -> None:
    stage = with_tolerances()
    walker = stage.actors["walker"]
    way_m = stage.plan.movers["walker"].pieces[-1].station_m + 0.5
    limits = replace(walker.mover.limits, stroke_m=way_m)
    actors = {**stage.actors, "walker": replace(walker, mover=replace(walker.mover, limits=limits))}
    short = replace(stage, actors=actors)
    words = "walker comes to the end of its stroke"
    found = chance(short, words, normal("speed held", "walker", 0.3 * KMH))
    assert 0.0 < found < 1.0
    assert words not in stage.conditions or chance(stage, words) == 0.0
