"""The words that rules are made of: signals, events, roles, quantities, each with its unit."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal, get_args

from choreo.words.records import dataclass

Status = Literal["seen", "second-hand", "from memory", "bracketed"]
# Whose signal it is. `target`: a car or another vehicle, the lead of those that follow.
Role = Literal["subject", "target", "walker", "cyclist", "motorcyclist"]
Signal = Literal[
    "speed",
    "acceleration",
    "lateral deviation",
    "lateral velocity",
    "yaw rate",
    "steering wheel speed",
    "heading",
    "path error",
    "relative speed",
    "distance",
    "time gap",
    "time to collision",
    "crossing time error",
    "impact location",
    "impact offset",
    "start distance",
    "way to speed",
    "pedal force",
    "duration",
]
# `T0` is the family's own start of test. `time to collision` and `nominal headway` have a value: when the time left is
# so long, or the distance is what is driven in so long at the planned closing speed.
EventName = Literal[
    "T0",
    "run starts",
    "run ends",
    "contact",
    "time to collision",
    "nominal headway",
    "automatic braking",
    "warning",
    "intervention",
    "accelerator released",
    "brake pedal",
    "steering begins",
    "arc ends",
    "indicator",
    "lead brakes",
    "lead stops",
    "lead slow",
    "target launched",
    "target steady",
    "subject steady",
    "lane keeping",
    "departure warning",
    "pedal misuse",
    "door operated",
    "assistance on",
    "information",
    "retention starts",
    "retention ends",
    "subject stops",
    "equal speeds",
    "target left the path",
]
# What bounds count from: what the plan has, a constant, the planned path, the middle of the lead, a braking that the
# plan gives.
ReferenceName = Literal["planned", "constant", "path", "lead path", "braking profile"]
# Of what speed allowed impact speeds are: of the subject, or against what it meets.
ImpactOf = Literal["subject speed", "relative speed"]
Quantity = Literal[
    "time since the last run",
    "speed between runs",
    "time since propulsion off",
    "spread of repeats",
    "peak friction",
    "longitudinal slope",
    "lateral slope",
    "lane width",
    "free to the sides",
    "free ahead",
    "no line within",
    "air temperature",
    "wind",
    "light",
    "visibility",
    "load",
    "brake temperature",
    "sample rate",
    "speed accuracy",
    "position accuracy",
    "heading accuracy",
    "acceleration accuracy",
    "yaw rate accuracy",
    "steering wheel speed accuracy",
]
SignalUnit = Literal["m", "s", "m/s", "m/s2", "rad", "rad/s", "1", "N", "Hz", "degC", "lux", "kg"]
# Whom a condition concerns.
Concern = Literal["track", "weather", "subject", "recording"]

EVENTS: tuple[EventName, ...] = get_args(EventName)
# Events that need a value in s.
VALUED: frozenset[EventName] = frozenset({"time to collision", "nominal headway"})


@dataclass(frozen=True, slots=True)
class SignalFacts:
    """What a signal is. between: it is measured between the subject and the role's mover."""

    unit: SignalUnit
    between: bool = False


SIGNALS: Mapping[Signal, SignalFacts] = {
    "speed": SignalFacts("m/s"),
    "acceleration": SignalFacts("m/s2"),
    "lateral deviation": SignalFacts("m"),
    "lateral velocity": SignalFacts("m/s"),
    "yaw rate": SignalFacts("rad/s"),
    "steering wheel speed": SignalFacts("rad/s"),
    "heading": SignalFacts("rad"),
    "path error": SignalFacts("m"),
    "relative speed": SignalFacts("m/s", between=True),
    "distance": SignalFacts("m", between=True),
    "time gap": SignalFacts("s", between=True),
    "time to collision": SignalFacts("s", between=True),
    "crossing time error": SignalFacts("s", between=True),
    "impact location": SignalFacts("1", between=True),
    "impact offset": SignalFacts("m", between=True),
    "start distance": SignalFacts("m"),
    "way to speed": SignalFacts("m"),
    "pedal force": SignalFacts("N"),
    "duration": SignalFacts("s"),
}
QUANTITIES: Mapping[Quantity, SignalUnit] = {
    "time since the last run": "s",
    "speed between runs": "m/s",
    "time since propulsion off": "s",
    "spread of repeats": "s",
    "peak friction": "1",
    "longitudinal slope": "1",
    "lateral slope": "1",
    "lane width": "m",
    "free to the sides": "m",
    "free ahead": "m",
    "no line within": "m",
    "air temperature": "degC",
    "wind": "m/s",
    "light": "lux",
    "visibility": "m",
    "load": "kg",
    "brake temperature": "degC",
    "sample rate": "Hz",
    "speed accuracy": "m/s",
    "position accuracy": "m",
    "heading accuracy": "rad",
    "acceleration accuracy": "m/s2",
    "yaw rate accuracy": "rad/s",
    "steering wheel speed accuracy": "rad/s",
}
