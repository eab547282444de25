"""The quantities of a scenario that a planner may change, each with its name, its place and how to set it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import assert_never

from choreo.case.phases import (
    END_HELPS,
    LEAST_USUAL_MPS2,
    SETTING_ENDS,
    ends_of,
    phase_quantities,
)
from choreo.case.quantity import WIDE, Keys, Quantity, Set, as_one, put_all
from choreo.courses import LINE_APPROACH_M
from choreo.scenario import Contact, Mover, PathSpec, Scenario, Span
from choreo.scenario.records.edits import (
    with_encounter,
    with_limit,
    with_mover,
    with_path,
    with_speed,
    with_trigger,
)
from choreo.scenario.records.scenario import SpanEnd, Usual
from choreo.words.kinds import CONDITIONS, MEASURES, LimitName, Unit

# Hardly a road tyre holds more in any direction, 1 g (m/s2; common practice, no source): a higher limit is nothing to
# propose.
MOST_GRIP_MPS2 = 9.81


def quantities_of(scenario: Scenario) -> list[Quantity]:
    """Give every quantity that could be negotiated, in the author's order."""
    quantities: list[Quantity] = []
    for name, mover in scenario.movers.items():
        if mover.programme:
            quantities += _speeds(name, mover)
            # A `drive` fits path, start and limits as they are: with others it would be another one.
            if not any(phase.driven for phase in mover.programme):
                quantities += _runway(scenario, name, mover)
                quantities += _limits(name, mover)
                quantities += _usual(name, mover)
                quantities += _start(name, mover)
            quantities += phase_quantities(scenario, name, mover)
            quantities += _drive(name, mover)
    for name, trigger in scenario.triggers.items():
        quantities += _trigger(scenario, name, trigger.setting, trigger.latency_s)
    for name, encounter in scenario.encounters.items():
        if not isinstance(encounter, Contact) and encounter.wanted.fixed:
            put = _putter_encounter(name)
            keys: Keys = ("encounters", name, encounter.measure)
            value = encounter.wanted.lo
            quantities.append(
                Quantity(
                    f"{name} {encounter.measure}",
                    MEASURES[encounter.measure],
                    value,
                    (1, -1),
                    0.0,
                    WIDE * value + 10,
                    keys,
                    "",
                    put,
                )
            )
    return as_one(scenario, quantities, _together, _may_join)


def _may_join(one: Quantity) -> bool:
    return one.end == "" and not one.moves_start


def _together(name: str, driven: tuple[Quantity, ...]) -> Quantity:
    return replace(
        driven[0],
        name=name,
        helps=tuple(dict.fromkeys(way for one in driven for way in one.helps)),
        low=max(one.low for one in driven),
        high=min(one.high for one in driven),
        keys=("values", name),
        put=put_all(driven),
        capped=min(driven, key=lambda one: one.high).capped,
        parts=tuple(one.name for one in driven),
    )


def _speeds(name: str, mover: Mover) -> Iterator[Quantity]:
    # An open ramp is no quantity, but its name is taken: `choices` counts alike.
    ramps = [i for i, p in enumerate(mover.programme) if p.kind == "ramp" and p.follows is None]
    for index in ramps:
        phase = mover.programme[index]
        if not phase.to.fixed or phase.to.lo <= 0 or phase.driven:
            continue
        label = f"{name} speed" if len(ramps) == 1 else f"{name} speed of {phase.name}"
        top = mover.limits.speed_mps

        def put(scenario: Scenario, value: float, index: int = index) -> Scenario:
            return with_speed(scenario, name, index, value)

        keys: Keys = ("movers", name, "programme", index, "ramp", "to")
        yield Quantity(label, "m/s", phase.to.lo, (-1, 1), 0.3, top, keys, "", put, capped=True)


def _runway(scenario: Scenario, name: str, mover: Mover) -> Iterator[Quantity]:
    """More path before the start, and more path after the end, where the path's ends are straight lines."""
    path = scenario.paths.get(mover.path or "")
    if path is None or not path.pieces or path.closed:
        return
    if path.course is not None:
        yield from _run_up_of_course(scenario, name, mover.path or "", path)
        return
    first, last = path.pieces[0], path.pieces[-1]
    if first.kind == "line" and first.length_m and _alone(scenario, name, mover.path or ""):

        def earlier(scenario: Scenario, value: float) -> Scenario:
            return with_path(
                scenario, mover.path or "", _lengthened(path, value - (first.length_m or 0.0))
            )

        keys: Keys = ("paths", mover.path or "", "pieces", 0, "line")
        yield Quantity(
            f"{name} run-up path",
            "m",
            first.length_m,
            (1,),
            0.1,
            WIDE * first.length_m,
            keys,
            "",
            earlier,
            moves_start=True,
        )
    if last.kind == "line" and last.length_m:

        def longer(scenario: Scenario, value: float) -> Scenario:
            piece = replace(last, length_m=value)
            return with_path(
                scenario, mover.path or "", replace(path, pieces=(*path.pieces[:-1], piece))
            )

        keys = ("paths", mover.path or "", "pieces", len(path.pieces) - 1, "line")
        yield Quantity(
            f"{name} run-out path",
            "m",
            last.length_m,
            (1,),
            0.1,
            WIDE * last.length_m,
            keys,
            "",
            longer,
        )


def _run_up_of_course(
    scenario: Scenario, name: str, key: str, path: PathSpec
) -> Iterator[Quantity]:
    """More straight before a course, whose cones stay where they are."""
    first, course = path.pieces[0], path.course
    if first.kind != "line" or not first.length_m or course is None:
        return
    if not _alone(scenario, name, key):
        return
    # A driven line begins before the course: its own pieces are the rest of the run-up.
    length = first.length_m
    run_up = length + (0.0 if course.driven is None else LINE_APPROACH_M)

    def earlier(scenario: Scenario, value: float) -> Scenario:
        more = value - run_up
        longer = _lengthened(path, more)
        sections = tuple((one, low + more, high + more) for one, low, high in path.sections)
        moved = replace(longer, course=course.moved(more), sections=sections)
        return with_path(scenario, key, moved)

    keys: Keys = ("paths", key, "run-up")
    high = WIDE * run_up
    yield Quantity(
        f"{name} run-up path", "m", run_up, (1,), 0.1, high, keys, "", earlier, moves_start=True
    )


def _alone(scenario: Scenario, name: str, path: str) -> bool:
    """Moving a path's beginning moves every station on it: only where no other mover or trigger counts them."""
    others = any(one.path == path for mover, one in scenario.movers.items() if mover != name)
    used = {one.path for one in scenario.movers.values()}
    beside = any(spec.beside == path for key, spec in scenario.paths.items() if key in used)
    stations = any(
        trigger.watch == name and trigger.condition == "station" and trigger.setting.fixed
        for trigger in scenario.triggers.values()
    )
    return not (others or beside or stations)


def _lengthened(path: PathSpec, more_m: float) -> PathSpec:
    """Begin a path more_m earlier along its own beginning."""
    x, y = path.start_m or (0.0, 0.0)
    back = (x - more_m * math.cos(path.heading_rad), y - more_m * math.sin(path.heading_rad))
    first = replace(path.pieces[0], length_m=(path.pieces[0].length_m or 0.0) + more_m)
    return replace(path, start_m=back, pieces=(first, *path.pieces[1:]))


def _limits(name: str, mover: Mover) -> Iterator[Quantity]:
    limits = mover.limits
    singles: list[tuple[str, LimitName, float, Unit]] = [
        ("acceleration", "accelerate", limits.accelerate[0][1], "m/s2"),
        ("braking", "brake", limits.brake_mps2, "m/s2"),
        ("jerk", "jerk", limits.jerk_mps3, "m/s3"),
        ("lateral acceleration", "lateral", limits.lateral_mps2, "m/s2"),
        ("stroke", "stroke", limits.stroke_m, "m"),
    ]
    for word, key, value, unit in singles:
        if not math.isfinite(value) or (key == "accelerate" and len(limits.accelerate) > 1):
            continue

        def put(scenario: Scenario, value: float, key: LimitName = key) -> Scenario:
            return with_limit(scenario, name, key, value)

        keys: Keys = ("movers", name, "limits", key)
        low = max(value / 100, _most_stated(mover, key))
        high = WIDE * value
        if unit == "m/s2":
            high = max(value, min(high, MOST_GRIP_MPS2))
        yield Quantity(f"{name} {word}", unit, value, (1,), low, high, keys, "", put)


def _usual(name: str, mover: Mover) -> Iterator[Quantity]:
    """The rates that it is driven with where its programme gives none; no harder than its limits."""
    usual = mover.usual or Usual()
    hardest = max(rate for _, rate in mover.limits.accelerate)
    for word, key, field, value, most in (
        ("acceleration", "accelerate", "accelerate_mps2", usual.accelerate_mps2, hardest),
        ("braking", "brake", "brake_mps2", usual.brake_mps2, mover.limits.brake_mps2),
    ):
        if value is None:
            continue

        def put(scenario: Scenario, new: float, field: str = field) -> Scenario:
            old = scenario.movers[name]
            rates = replace(old.usual or Usual(), **{field: new})
            return with_mover(scenario, name, replace(old, usual=rates))

        keys: Keys = ("movers", name, "usual", key)
        low = min(LEAST_USUAL_MPS2, value)
        label = f"{name} usual {word}"
        yield Quantity(label, "m/s2", value, (1, -1), low, most, keys, "", put, capped=True)


def _most_stated(mover: Mover, key: LimitName) -> float:
    """The hardest rate that a phase states, or the usual one: its limit is no lower."""
    usual = mover.usual or Usual()
    match key:
        case "accelerate":
            stated = [phase.accelerate_mps2 for phase in mover.programme]
            stated.append(usual.accelerate_mps2)
        case "brake":
            stated = [phase.brake_mps2 for phase in mover.programme]
            stated.append(usual.brake_mps2)
        case "jerk":
            stated = [phase.jerk_mps3 for phase in mover.programme]
        case "speed" | "lateral" | "stroke":
            stated = []
        case _:
            assert_never(key)
    return max((rate for rate in stated if rate is not None), default=0.0)


def _drive(name: str, mover: Mover) -> Iterator[Quantity]:
    """The latencies of a drive."""
    launch_keys: Keys = ("movers", name, "launch", "latency")
    brake_keys: Keys = ("movers", name, "brake latency")

    def launched(scenario: Scenario, new: float) -> Scenario:
        return with_mover(scenario, name, replace(scenario.movers[name], launch_latency_s=new))

    def braked(scenario: Scenario, new: float) -> Scenario:
        return with_mover(scenario, name, replace(scenario.movers[name], brake_latency_s=new))

    for label, value, keys, put in (
        ("launch latency", mover.launch_latency_s, launch_keys, launched),
        ("brake latency", mover.brake_latency_s, brake_keys, braked),
    ):
        if value > 0:
            high = WIDE * value + 1
            yield Quantity(f"{name} {label}", "s", value, (-1,), 0.0, high, keys, "", put)


START_ENDS: Mapping[SpanEnd, str] = {"": "", "lo": ", earliest", "hi": ", latest"}


def _start(name: str, mover: Mover) -> Iterator[Quantity]:
    if mover.stand is not None:
        return
    for end, value in ends_of(mover.start.station):

        def put(scenario: Scenario, new: float, end: SpanEnd = end) -> Scenario:
            old = scenario.movers[name]
            start = replace(old.start, station=old.start.station.with_end(end, new))
            return with_mover(scenario, name, replace(old, start=start))

        label = f"{name} start{START_ENDS[end]}"
        keys: Keys = ("movers", name, "start", "station")
        yield Quantity(label, "m", value, END_HELPS[end], 0.0, math.inf, keys, end, put)


def _trigger(scenario: Scenario, name: str, setting: Span, latency_s: float) -> Iterator[Quantity]:
    condition = scenario.triggers[name].condition
    unit = CONDITIONS[condition].unit
    if latency_s > 0:

        def late(scenario: Scenario, new: float) -> Scenario:
            return with_trigger(scenario, name, replace(scenario.triggers[name], latency_s=new))

        yield Quantity(
            f"{name} latency",
            "s",
            latency_s,
            (-1,),
            0.0,
            WIDE * latency_s + 1,
            ("triggers", name, "latency"),
            "",
            late,
        )
    for end, value in ends_of(setting):

        def put(scenario: Scenario, new: float, end: SpanEnd = end) -> Scenario:
            old = scenario.triggers[name]
            return with_trigger(
                scenario, name, replace(old, setting=old.setting.with_end(end, new))
            )

        label = f"{name} {condition}{SETTING_ENDS[end]}"
        keys: Keys = ("triggers", name, "when", condition)
        yield Quantity(label, unit, value, END_HELPS[end], 0.0, WIDE * value + 10, keys, end, put)


def _putter_encounter(name: str) -> Set:
    def put(scenario: Scenario, value: float) -> Scenario:
        encounter = scenario.encounters[name]
        if isinstance(encounter, Contact):
            return scenario
        return with_encounter(scenario, name, replace(encounter, wanted=Span.at(value)))

    return put
