"""The quantities of phases: their numbers, waits by the clock, and the ends of ranges of rates."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace

from choreo.case.quantity import WIDE, Keys, Quantity
from choreo.scenario import Mover, Phase, Scenario, Span
from choreo.scenario.records.edits import with_phase
from choreo.scenario.records.scenario import SpanEnd
from choreo.words.kinds import Unit
from choreo.words.records import dataclass

# By what a wait that counts from go may be written.
WAIT_KEYS = ("for", "until", "lasting")
# Of each end of a span: what helps (a wider span), and the words for it.
END_HELPS: Mapping[SpanEnd, tuple[int, ...]] = {"": (1, -1), "lo": (-1,), "hi": (1,)}
# Nobody drives gentler than this (m/s2) as a rule.
LEAST_USUAL_MPS2 = 0.1
SETTING_ENDS: Mapping[SpanEnd, str] = {"": "", "lo": ", least", "hi": ", most"}


@dataclass(frozen=True, slots=True)
class _PhaseNumber:
    """A number of a phase: its key in the file, its unit, what helps, how it is read from a phase and put into one."""

    key: str
    unit: Unit
    helps: tuple[int, ...]
    of: Callable[[Phase], float | None]
    put: Callable[[Phase, float], Phase]


SETTLE = _PhaseNumber(
    "settle", "s", (-1,), lambda one: one.settle_s, lambda one, new: replace(one, settle_s=new)
)
PHASE_NUMBERS = (
    _PhaseNumber(
        "within", "m", (1,), lambda one: one.within_m, lambda one, new: replace(one, within_m=new)
    ),
    _PhaseNumber(
        "over", "m", (1, -1), lambda one: one.over_m, lambda one, new: replace(one, over_m=new)
    ),
    _PhaseNumber(
        "lasting",
        "s",
        (1, -1),
        lambda one: one.lasting_s,
        lambda one, new: replace(one, lasting_s=new),
    ),
    _PhaseNumber(
        "at", "m", (1, -1), lambda one: one.rests_m, lambda one, new: replace(one, rests_m=new)
    ),
    _PhaseNumber(
        "build up",
        "s",
        (1, -1),
        lambda one: one.build_up_s,
        lambda one, new: replace(one, build_up_s=new),
    ),
    _PhaseNumber(
        "accelerate",
        "m/s2",
        (1, -1),
        lambda one: one.accelerate_mps2,
        lambda one, new: replace(one, accelerate_mps2=new),
    ),
    _PhaseNumber(
        "brake",
        "m/s2",
        (1, -1),
        lambda one: one.brake_mps2,
        lambda one, new: replace(one, brake_mps2=new),
    ),
)


def ends_of(span: Span) -> list[tuple[SpanEnd, float]]:
    """The ends of a span that are values; one for both where they are the same."""
    if span.fixed:
        return [("", span.lo)]
    ends: list[tuple[SpanEnd, float]] = [("lo", span.lo), ("hi", span.hi)]
    return [(end, value) for end, value in ends if math.isfinite(value)]


def phase_quantities(scenario: Scenario, name: str, mover: Mover) -> Iterator[Quantity]:
    """Give every quantity of a mover's phases but their speeds."""
    yield from _phases(name, mover)
    yield from _stops(name, mover)
    yield from _waits(scenario, name, mover)
    yield from _rate_ranges(name, mover)


def _label(name: str, phase: Phase, word: str) -> str:
    """'lead cut-in over'; of a phase that is called what is meant, its name says it: 'lead brake'."""
    return f"{name} {phase.name}" if phase.name == word else f"{name} {phase.name} {word}"


def _phases(name: str, mover: Mover) -> Iterator[Quantity]:
    settles = [i for i, p in enumerate(mover.programme) if p.kind == "hold" and p.settle_s > 0]
    for index in settles:
        phase = mover.programme[index]
        label = f"{name} settle" if len(settles) == 1 else f"{name} settle of {phase.name}"
        yield _phase_quantity(name, mover, index, phase, label, SETTLE, phase.settle_s)
    for index, phase in enumerate(mover.programme):
        for number in () if phase.driven else PHASE_NUMBERS:
            value = number.of(phase)
            if value is not None:
                label = _label(name, phase, number.key)
                yield _phase_quantity(name, mover, index, phase, label, number, value)


def _phase_quantity(
    name: str,
    mover: Mover,
    index: int,
    phase: Phase,
    label: str,
    number: _PhaseNumber,
    value: float,
) -> Quantity:
    def put(scenario: Scenario, new: float) -> Scenario:
        old = scenario.movers[name].programme[index]
        return with_phase(scenario, name, index, number.put(old, new))

    low = 0.0 if number is SETTLE else value / 100
    limit = _limit_of(mover, number)
    high = WIDE * value if limit is None else max(limit, value)
    keys: Keys = ("movers", name, "programme", index, phase.kind, number.key)
    return Quantity(
        label, number.unit, value, number.helps, low, high, keys, "", put, capped=limit is not None
    )


def _stops(name: str, mover: Mover) -> Iterator[Quantity]:
    """Braking of stops whose rate nobody states, neither there nor as usual: no harder than at the limit."""
    usual = mover.usual is not None and mover.usual.brake_mps2 is not None
    if usual or any(phase.driven for phase in mover.programme):
        return
    most = mover.limits.brake_mps2
    for index, phase in enumerate(mover.programme):
        if phase.kind == "stop" and phase.brake_mps2 is None:

            def put(scenario: Scenario, new: float, index: int = index) -> Scenario:
                old = scenario.movers[name].programme[index]
                return with_phase(scenario, name, index, replace(old, brake_mps2=new))

            keys: Keys = ("movers", name, "programme", index, "stop", "brake")
            low = min(LEAST_USUAL_MPS2, most)
            label = _label(name, phase, "brake")
            yield Quantity(label, "m/s2", most, (-1,), low, most, keys, "", put)


def _waits(scenario: Scenario, name: str, mover: Mover) -> Iterator[Quantity]:
    """Waits until a time after go, by the key that their author used."""
    for index, phase in enumerate(mover.programme):
        if phase.kind != "wait" or not phase.for_s:
            continue
        place: Keys = ("movers", name, "programme", index, "wait")
        key = next((key for key in WAIT_KEYS if (*place, key) in scenario.places), "until")
        number = _PhaseNumber(
            key, "s", (1, -1), lambda one: one.for_s, lambda one, new: replace(one, for_s=new)
        )
        yield _phase_quantity(
            name, mover, index, phase, _label(name, phase, key), number, phase.for_s
        )


def _rate_ranges(name: str, mover: Mover) -> Iterator[Quantity]:
    """The ends of ranges from which a ramp's rate is chosen; what is above the limit is none."""
    limits = {
        "accelerate": max(rate for _, rate in mover.limits.accelerate),
        "brake": mover.limits.brake_mps2,
    }
    for index, phase in enumerate(mover.programme):
        for key, span in (("accelerate", phase.accelerate), ("brake", phase.brake)):
            for end, value in () if span is None else ends_of(span):

                def put(
                    scenario: Scenario,
                    new: float,
                    index: int = index,
                    key: str = key,
                    end: SpanEnd = end,
                ) -> Scenario:
                    old = scenario.movers[name].programme[index]
                    if key == "accelerate" and old.accelerate is not None:
                        changed = replace(old, accelerate=old.accelerate.with_end(end, new))
                    elif key == "brake" and old.brake is not None:
                        changed = replace(old, brake=old.brake.with_end(end, new))
                    else:
                        return scenario
                    return with_phase(scenario, name, index, changed)

                label = f"{_label(name, phase, key)}{SETTING_ENDS[end]}"
                keys: Keys = ("movers", name, "programme", index, "ramp", key)
                high = max(limits[key], value)
                low = value / 100
                yield Quantity(
                    label, "m/s2", value, END_HELPS[end], low, high, keys, end, put, capped=True
                )


def _limit_of(mover: Mover, number: _PhaseNumber) -> float | None:
    """The limit that a phase's rate can't pass."""
    limits = {
        "accelerate": max(rate for _, rate in mover.limits.accelerate),
        "brake": mover.limits.brake_mps2,
    }
    return limits.get(number.key)
