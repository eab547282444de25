"""The quantities of a scenario that a planner may change, each with its name, its place and how to set it."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from choreo.scenario import Contact, Mover, PathSpec, Phase, Scenario, Span

Keys = tuple[str | int, ...]
Set = Callable[[Scenario, float], Scenario]


@dataclass(frozen=True)
class Quantity:
    """One quantity: value in SI, what helps (+1 larger, -1 smaller, both), how far it may go, how to set it.

    put: gives a scenario in which it has another value. keys: where it is written. end: which end of a range is meant
    ('lo', 'hi', or '' for a single value). moves_start: a longer first line also sets the path's start back.
    """

    name: str
    unit: str
    value: float
    helps: tuple[int, ...]
    low: float
    high: float
    keys: Keys
    end: str
    put: Set
    moves_start: bool = False

    @property
    def size(self) -> float:
        """What a change is measured against: the value itself, or a plain one where that is zero."""
        return max(abs(self.value), PLAIN[self.unit])


# A change of a quantity that is zero is measured against these (m, m/s, m/s2, m/s3, s).
PLAIN = {"m": 10.0, "m/s": 5.0, "m/s2": 1.0, "m/s3": 1.0, "s": 1.0}
WIDE = 20.0


def quantities_of(scenario: Scenario) -> list[Quantity]:
    """Give every quantity that could be negotiated, in the author's order."""
    quantities: list[Quantity] = []
    for name, mover in scenario.movers.items():
        if mover.programme:
            quantities += _speeds(name, mover)
            quantities += _runway(scenario, name, mover)
            quantities += _limits(name, mover)
            quantities += _phases(name, mover)
            quantities += _start(name, mover)
    for name, trigger in scenario.triggers.items():
        quantities += _trigger(scenario, name, trigger.setting, trigger.latency_s)
    for name, encounter in scenario.encounters.items():
        if not isinstance(encounter, Contact) and encounter.wanted.fixed:
            unit = "m" if encounter.measure == "distance" else "s"
            put = _putter_encounter(name)
            keys: Keys = ("encounters", name, encounter.measure)
            value = encounter.wanted.lo
            quantities.append(
                Quantity(
                    f"{name} {encounter.measure}",
                    unit,
                    value,
                    (1, -1),
                    0.0,
                    WIDE * value + 10,
                    keys,
                    "",
                    put,
                )
            )
    return quantities


def _speeds(name: str, mover: Mover) -> Iterator[Quantity]:
    ramps = [
        i for i, p in enumerate(mover.programme) if p.kind == "ramp" and p.to.fixed and p.to.lo > 0
    ]
    for index in ramps:
        phase = mover.programme[index]
        label = f"{name} speed" if len(ramps) == 1 else f"{name} speed of {phase.name}"
        top = mover.limits.speed_mps

        def put(scenario: Scenario, value: float, index: int = index) -> Scenario:
            return with_phase(scenario, name, index, to=Span(value, value))

        keys: Keys = ("movers", name, "programme", index, "ramp", "to")
        yield Quantity(label, "m/s", phase.to.lo, (-1, 1), 0.3, top, keys, "", put)


def _runway(scenario: Scenario, name: str, mover: Mover) -> Iterator[Quantity]:
    """More path before the start, and more path after the end, where the path's ends are straight lines."""
    path = scenario.paths.get(mover.path or "")
    if path is None or not path.pieces:
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
    singles = [
        ("acceleration", "accelerate", limits.accelerate[0][1], "m/s2"),
        ("braking", "brake", limits.brake_mps2, "m/s2"),
        ("jerk", "jerk", limits.jerk_mps3, "m/s3"),
        ("lateral acceleration", "lateral", limits.lateral_mps2, "m/s2"),
        ("stroke", "stroke", limits.stroke_m, "m"),
    ]
    for word, key, value, unit in singles:
        if not math.isfinite(value) or (key == "accelerate" and len(limits.accelerate) > 1):
            continue

        def put(scenario: Scenario, value: float, key: str = key) -> Scenario:
            return with_limit(scenario, name, key, value)

        keys: Keys = ("movers", name, "limits", key)
        yield Quantity(
            f"{name} {word}", unit, value, (1,), value / 100, WIDE * value, keys, "", put
        )


def _phases(name: str, mover: Mover) -> Iterator[Quantity]:
    settles = [i for i, p in enumerate(mover.programme) if p.kind == "hold" and p.settle_s > 0]
    for index in settles:
        phase = mover.programme[index]
        label = f"{name} settle" if len(settles) == 1 else f"{name} settle of {phase.name}"
        yield _phase_quantity(name, index, label, "s", "settle_s", "settle", phase.settle_s, (-1,))
    for index, phase in enumerate(mover.programme):
        kind = phase.kind
        for field, key, unit, helps in (
            ("within_m", "within", "m", (1,)),
            ("over_m", "over", "m", (1, -1)),
            ("lasting_s", "lasting", "s", (1, -1)),
            ("build_up_s", "build up", "s", (1, -1)),
            ("accelerate_mps2", "accelerate", "m/s2", (1, -1)),
            ("brake_mps2", "brake", "m/s2", (1, -1)),
        ):
            value = getattr(phase, field)
            if value is not None:
                label = f"{name} {phase.name} {key}"
                yield _phase_quantity(name, index, label, unit, field, key, value, helps, kind)


def _phase_quantity(
    name: str,
    index: int,
    label: str,
    unit: str,
    field: str,
    key: str,
    value: float,
    helps: tuple[int, ...],
    kind: str = "hold",
) -> Quantity:
    def put(scenario: Scenario, new: float) -> Scenario:
        return with_phase(scenario, name, index, **{field: new})

    low = 0.0 if field == "settle_s" else value / 100
    keys: Keys = ("movers", name, "programme", index, kind, key)
    return Quantity(label, unit, value, helps, low, WIDE * value, keys, "", put)


def _start(name: str, mover: Mover) -> Iterator[Quantity]:
    station = mover.start.station
    ends = [("", station.lo)] if station.fixed else [("lo", station.lo), ("hi", station.hi)]
    for end, value in ends:
        if not math.isfinite(value) or mover.stand is not None:
            continue
        helps: tuple[int, ...] = {"": (1, -1), "lo": (-1,), "hi": (1,)}[end]

        def put(scenario: Scenario, new: float, end: str = end) -> Scenario:
            old = scenario.movers[name].start
            span = Span(new, new) if not end else replace(old.station, **{end: new})
            return with_mover(scenario, name, start=replace(old, station=span))

        label = f"{name} start" + {"": "", "lo": ", earliest", "hi": ", latest"}[end]
        yield Quantity(
            label, "m", value, helps, 0.0, math.inf, ("movers", name, "start", "station"), end, put
        )


def _trigger(scenario: Scenario, name: str, setting: Span, latency_s: float) -> Iterator[Quantity]:
    condition = scenario.triggers[name].condition
    unit = {"station": "m", "distance": "m", "speed": "m/s"}.get(condition, "s")
    if latency_s > 0:

        def late(scenario: Scenario, new: float) -> Scenario:
            return with_trigger(scenario, name, latency_s=new)

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
    ends = [("", setting.lo)] if setting.fixed else [("lo", setting.lo), ("hi", setting.hi)]
    for end, value in ends:
        if not math.isfinite(value):
            continue
        helps: tuple[int, ...] = {"": (1, -1), "lo": (-1,), "hi": (1,)}[end]

        def put(scenario: Scenario, new: float, end: str = end) -> Scenario:
            old = scenario.triggers[name].setting
            span = Span(new, new) if not end else replace(old, **{end: new})
            return with_trigger(scenario, name, setting=span)

        label = f"{name} {condition}" + {"": "", "lo": ", least", "hi": ", most"}[end]
        keys: Keys = ("triggers", name, "when", condition)
        yield Quantity(label, unit, value, helps, 0.0, WIDE * value + 10, keys, end, put)


def _putter_encounter(name: str) -> Set:
    def put(scenario: Scenario, value: float) -> Scenario:
        encounter = scenario.encounters[name]
        if isinstance(encounter, Contact):
            return scenario
        moved = replace(encounter, wanted=Span(value, value))
        return replace(scenario, encounters={**scenario.encounters, name: moved})

    return put


def with_mover(scenario: Scenario, name: str, **changes: object) -> Scenario:
    """Give the scenario with some fields of a mover replaced."""
    mover = replace(scenario.movers[name], **changes)  # type: ignore[arg-type]
    return replace(scenario, movers={**scenario.movers, name: mover})


def with_phase(scenario: Scenario, name: str, index: int, **changes: object) -> Scenario:
    """Give the scenario with some fields of one phase replaced."""
    phases: list[Phase] = list(scenario.movers[name].programme)
    phases[index] = replace(phases[index], **changes)  # type: ignore[arg-type]
    return with_mover(scenario, name, programme=tuple(phases))


def with_limit(scenario: Scenario, name: str, key: str, value: float) -> Scenario:
    """Give the scenario with one limit of a mover replaced."""
    fields = {
        "accelerate": {"accelerate": ((0.0, value),)},
        "brake": {"brake_mps2": value},
        "jerk": {"jerk_mps3": value},
        "lateral": {"lateral_mps2": value},
        "stroke": {"stroke_m": value},
    }
    limits = replace(scenario.movers[name].limits, **fields[key])  # type: ignore[arg-type]
    return with_mover(scenario, name, limits=limits)


def with_path(scenario: Scenario, name: str, path: PathSpec) -> Scenario:
    """Give the scenario with one path replaced."""
    return replace(scenario, paths={**scenario.paths, name: path})


def with_trigger(scenario: Scenario, name: str, **changes: object) -> Scenario:
    """Give the scenario with some fields of a trigger replaced."""
    trigger = replace(scenario.triggers[name], **changes)  # type: ignore[arg-type]
    return replace(scenario, triggers={**scenario.triggers, name: trigger})
