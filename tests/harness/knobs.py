"""Numbers of a case that can be made tight, each between a value that is easy and one that is too hard."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from tests.harness.records import Case


@dataclass(frozen=True)
class Knob:
    """One number of a case: easy lets it be done, hard does not (both are tried first).

    broken: a value that an elementary bound excludes.
    """

    what: str
    unit: str
    put: Callable[[Case, float], Case]
    easy: float
    hard: float
    broken: float | None = None


def start_knob(name: str, contact_m: float, speed: float, top: float) -> Knob:
    """The mover may start only from a station on: its runway."""

    def put(case: Case, value: float) -> Case:
        return case.with_mover(name, start=(value, max(case.mover(name).path.length_m, value)))

    bound = max(0.0, contact_m - 0.9 * speed * speed / 2 / top)
    return Knob(f"{name} start from", "m", put, 0.0, contact_m, round(bound, 6))


def fixed_start_knob(name: str, contact_m: float, speed: float, top: float) -> Knob:
    bound = max(0.0, contact_m - 0.9 * speed * speed / 2 / top)

    def put(case: Case, value: float) -> Case:
        return case.with_mover(name, start=(value, value))

    return Knob(f"{name} start at", "m", put, 0.0, contact_m, round(bound, 6))


def length_knob(name: str, least_m: float, easy_m: float, stop_m: float) -> Knob:
    """The path's length decides on the run-out."""

    def put(case: Case, value: float) -> Case:
        mover = case.mover(name)
        return case.with_mover(name, path=replace(mover.path, length_m=value))

    return Knob(f"{name} path", "m", put, easy_m, least_m, round(least_m + 0.9 * stop_m, 6))


def settle_knob(name: str, index: int, easy: float, hard: float) -> Knob:
    def put(case: Case, value: float) -> Case:
        return case.with_phase(name, index, settle_s=value)

    return Knob(f"{name} settle", "s", put, easy, hard)


def stroke_knob(name: str, way_m: float) -> Knob:
    def put(case: Case, value: float) -> Case:
        return case.with_mover(name, stroke_m=value)

    return Knob(f"{name} stroke", "m", put, 500.0, way_m, round(way_m * 0.99, 6))


def accel_knob(name: str, runway_m: float, speed: float) -> Knob:
    """A constant acceleration limit."""

    def put(case: Case, value: float) -> Case:
        return case.with_mover(name, table=((0.0, value),))

    bound = 0.9 * speed * speed / 2 / runway_m
    return Knob(f"{name} accelerate", "ratio", put, 20.0, bound, round(bound, 6))


def latency_knob(index: int, easy: float, hard: float) -> Knob:
    def put(case: Case, value: float) -> Case:
        return case.with_trigger(index, latency_s=value)

    return Knob("latency", "s", put, easy, hard)


def setting_knob(index: int, unit: str, easy: float, hard: float, broken: float) -> Knob:
    def put(case: Case, value: float) -> Case:
        return case.with_trigger(index, setting=(value, value))

    return Knob("trigger setting", unit, put, easy, hard, round(broken, 6))


def within_knob(name: str, speed: float, top: float) -> Knob:
    def put(case: Case, value: float) -> Case:
        return case.with_phase(name, 1, within_m=value)

    least = speed * speed / 2 / top
    return Knob(f"{name} within", "m", put, 30 * least + 1, least * 0.5, round(least * 0.9, 6))
