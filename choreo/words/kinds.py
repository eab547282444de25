"""The kinds that files, problems, plans and reports share, and the one table of what each of them is.

A kind is a Literal, so that it stays the word of the file and of the plan document. Whoever treats kinds differently
does it in a `match` that ends in `assert_never`, or reads a table below: a new member that somebody forgot to handle
is then an error of the type checker.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal, get_args

from choreo.words.records import dataclass

Verdict = Literal["feasible", "infeasible", "undecided"]
Severity = Literal["error", "warning", "note"]
Prefer = Literal["shortest runway", "gentlest ramps", "quickest run", "smallest error"]
# Which end of an open quantity is wanted.
Which = Literal["highest", "lowest"]
MoverKind = Literal["subject", "vehicle", "motorcycle", "bicycle", "pedestrian", "obstacle"]
PathKind = Literal["pieces", "beside", "surveyed", "course"]
# How the line through a course is found: from middle to middle of its lanes, or driven as well as can be.
LineKind = Literal["centres", "least lateral acceleration", "least jerk"]
PieceKind = Literal["line", "arc", "clothoid", "bend", "shift"]
PhaseKind = Literal["wait", "ramp", "hold", "stop"]
# Whether braking or accelerating and cornering share what a mover can do.
Combined = Literal["none", "ellipse"]
LimitName = Literal["speed", "accelerate", "brake", "jerk", "lateral", "stroke"]
Condition = Literal["station", "distance", "time to collision", "gap", "speed", "time"]
EncounterKind = Literal["contact", "gap", "pass"]
# How an author says where the impact lies.
ContactWay = Literal["overlap", "offset", "side"]
ContactMeasure = Literal["overlap", "side"]
GapMeasure = Literal["distance", "time gap", "time to collision"]
PassMeasure = Literal["distance", "time"]
Measure = Literal["overlap", "side", "distance", "time gap", "time to collision", "time"]
Face = Literal["front", "side"]
ContactPointName = Literal["reference", "front centre", "rear centre"]
Between = Literal["bodies", "reference points"]
# What a polygon of a site's GeoJSON is.
GroundUse = Literal["drivable", "obstacle"]
# What a name alone stands for in an event expression of a file.
NamedKind = Literal["encounter", "trigger", "instant"]
# What an event expression of a file may name.
EventKind = Literal[
    "encounter",
    "trigger",
    "instant",
    "launch",
    "phase start",
    "phase end",
    "mark start",
    "mark end",
]
# What sets a mover off; a trigger's name says which.
LaunchKind = Literal["go", "time", "trigger"]
# Until when a run can be broken off: up to an instant, up to the encounter itself, not at all.
NoReturnState = Literal["until", "always", "never"]
# What happens to one mover of a plan.
PlanEventKind = Literal["launch", "phase end", "trigger", "encounter"]
# Which point of a mover a place on the ground is meant for.
EndName = Literal["front", "rear"]
PointName = Literal["reference point", "front", "rear", "impact point", "cone"]
# What may be off from one run to the next.
ErrorKind = Literal[
    "speed held",
    "speed wander",
    "start along",
    "start beside",
    "path offset",
    "path wander",
    "position",
    "achieved acceleration",
    "achieved braking",
    "launch",
    "latency",
    "sampling",
]
ErrorOwner = Literal["mover", "trigger"]
# How a number that may be off is distributed.
DrawShape = Literal["normal", "uniform"]
# Units of the numbers inside; `repair` and `report` write them as people do.
Unit = Literal["m", "s", "m/s", "m/s2", "m/s3"]

PATH_KINDS: tuple[PathKind, ...] = get_args(PathKind)
PIECE_KINDS: tuple[PieceKind, ...] = get_args(PieceKind)
PHASE_KINDS: tuple[PhaseKind, ...] = get_args(PhaseKind)
GROUND_USES: tuple[GroundUse, ...] = get_args(GroundUse)
ENCOUNTER_KINDS: tuple[EncounterKind, ...] = get_args(EncounterKind)


@dataclass(frozen=True, slots=True)
class ConditionFacts:
    """What a trigger's condition is.

    unit: of its setting. settled: it must be reached while the watched mover holds its speed. to_encounter: it counts
    what is left to an encounter, which the trigger names under `to`. to_mover: it counts what is between the watched
    mover and another, which it names itself under `to`. by_clock: it is a time since go, whatever anybody does.
    anywhere: where its setting is given and no phase, it counts in whatever phase that is reached (of a gap: unless the
    mover has a hold that settles).
    """

    unit: Unit
    settled: bool
    to_encounter: bool
    to_mover: bool = False
    by_clock: bool = False
    anywhere: bool = False


CONDITIONS: Mapping[Condition, ConditionFacts] = {
    "station": ConditionFacts("m", settled=True, to_encounter=False, anywhere=True),
    "distance": ConditionFacts("m", settled=True, to_encounter=True),
    "time to collision": ConditionFacts("s", settled=True, to_encounter=True),
    "gap": ConditionFacts("m", settled=True, to_encounter=False, to_mover=True, anywhere=True),
    "speed": ConditionFacts("m/s", settled=False, to_encounter=False),
    "time": ConditionFacts("s", settled=False, to_encounter=False, by_clock=True),
}

# The unit in which an encounter's value is wanted, predicted and judged (contacts: the offset of the impact point).
MEASURES: Mapping[Measure, Unit] = {
    "overlap": "m",
    "side": "m",
    "distance": "m",
    "time gap": "s",
    "time to collision": "s",
    "time": "s",
}


@dataclass(frozen=True, slots=True)
class EncounterFacts:
    """What an encounter is: whether its two bodies touch."""

    touches: bool


ENCOUNTERS: Mapping[EncounterKind, EncounterFacts] = {
    "contact": EncounterFacts(touches=True),
    "gap": EncounterFacts(touches=False),
    "pass": EncounterFacts(touches=False),
}


@dataclass(frozen=True, slots=True)
class PhaseFacts:
    """What a phase is: whether the mover moves in it, and whether its speed changes."""

    moves: bool
    changes_speed: bool


PHASES: Mapping[PhaseKind, PhaseFacts] = {
    "wait": PhaseFacts(moves=False, changes_speed=False),
    "ramp": PhaseFacts(moves=True, changes_speed=True),
    "hold": PhaseFacts(moves=True, changes_speed=False),
    "stop": PhaseFacts(moves=True, changes_speed=True),
}


@dataclass(frozen=True, slots=True)
class ErrorFacts:
    """What a source of error is.

    unit: of its spread; None for a ratio. owner: whose it is. over: the unit of its correlation where it wanders, None
    where it is one number a run. words: for people, after the owner's name.
    """

    unit: Unit | None
    owner: ErrorOwner
    words: str
    over: Unit | None = None

    @property
    def perfect(self) -> float:
        """Give what it is when nothing is off: the whole of a ratio, else nothing (SI)."""
        return 1.0 if self.unit is None else 0.0


ERRORS: Mapping[ErrorKind, ErrorFacts] = {
    "speed held": ErrorFacts("m/s", "mover", "speed held"),
    "speed wander": ErrorFacts("m/s", "mover", "wandering speed", over="s"),
    "start along": ErrorFacts("m", "mover", "start mark along its path"),
    "start beside": ErrorFacts("m", "mover", "start mark beside its path"),
    "path offset": ErrorFacts("m", "mover", "path offset"),
    "path wander": ErrorFacts("m", "mover", "wandering beside its path", over="m"),
    "position": ErrorFacts("m", "mover", "measured position"),
    "achieved acceleration": ErrorFacts(None, "mover", "achieved acceleration"),
    "achieved braking": ErrorFacts(None, "mover", "achieved braking"),
    "launch": ErrorFacts("s", "mover", "delay of the launch"),
    "latency": ErrorFacts("s", "trigger", "latency"),
    "sampling": ErrorFacts("s", "trigger", "instant of sampling"),
}
