"""A rule set as it is written: sections of rules by id, families that name them."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, WithJsonSchema

from choreo.rules.records import Concern, EventName, ImpactOf, Quantity, Role, Signal, Status
from choreo.scenario.written.block import Written
from choreo.scenario.written.fields import Frequency, Time, text_of, wrong
from choreo.scenario.written.matrix import MatrixWritten
from choreo.scenario.written.paths import YesNo
from choreo.words.quantities import quoted

# Sections of rules by id, in which a set changes or adds to the one that it builds on.
SECTIONS = (
    "filters",
    "groups",
    "windows",
    "bands",
    "instants",
    "settles",
    "shapes",
    "between runs",
    "conditions",
    "campaign",
    "onsets",
)
# More runs of one cell were meant otherwise.
MOST_RUNS = 100


def _count(value: object) -> int:
    text = text_of(value)
    if text.isascii() and text.isdigit() and int(text[:9]) <= MOST_RUNS:
        return int(text)
    raise wrong(f"`{quoted(text)}` is no count", f"Write a whole number from 0 to {MOST_RUNS}.")


def _listed(value: Any) -> Any:
    return (value,) if isinstance(value, str) else value


Count = Annotated[int, BeforeValidator(_count), WithJsonSchema({"type": "integer", "minimum": 0})]
Listed = Annotated[tuple[str, ...], BeforeValidator(_listed)]


class SourcedWritten(Written):
    clause: str = ""
    status: Status | None = None
    note: str = ""


class FilterWritten(Written):
    poles: Count
    cut_off: Frequency = Field(alias="cut-off")
    phaseless: YesNo = True


class WindowWritten(SourcedWritten):
    starts: str
    ends: Listed


class BandWritten(SourcedWritten):
    window: str
    of: Role
    signal: Signal
    about: str | None = None
    within: str
    filter: str | None = None


class InstantRuleWritten(SourcedWritten):
    at: str
    of: Role
    signal: Signal
    about: str | None = None
    within: str
    or_else: str | None = Field(default=None, alias="or else")


class SettleWritten(SourcedWritten):
    before: str
    lasting: Time
    bands: Listed = ()


class ShapeWritten(SourcedWritten):
    after: str
    of: Role
    signal: Signal
    reaches: str = "planned"
    in_: Time = Field(alias="in")
    mean: YesNo = False
    holds: Signal | None = None
    within: str | None = None
    until: str


class BetweenRunsWritten(SourcedWritten):
    quantity: Quantity
    within: str
    remedy: str = ""


class ConditionWritten(SourcedWritten):
    of: Concern
    quantity: Quantity
    within: str


class CampaignRuleWritten(SourcedWritten):
    repeats: Count
    extra: Count = 0
    stop: str = ""
    failures: str | None = None


class OnsetWritten(SourcedWritten):
    event: EventName
    of: Role
    signal: Signal
    level: str
    back_to: str | None = Field(default=None, alias="back to")
    filter: str | None = None


class GridWritten(MatrixWritten):
    clause: str = ""
    status: Status | None = None
    note: str = ""


class ImpactSpeedsWritten(SourcedWritten):
    of: ImpactOf
    version: str = ""
    unit: str
    speeds: tuple[str, ...]
    at_most: dict[str, tuple[str, ...]] = Field(alias="at most")


class FamilyWritten(Written):
    _blocks = frozenset({"matrix"})

    title: str = ""
    movers: tuple[Role, ...] = ()
    t0: str | None = Field(default=None, alias="T0")
    rules: tuple[str, ...] = ()
    without: tuple[str, ...] = ()
    matrix: dict[str, GridWritten] = Field(default_factory=dict)
    impact_speeds: ImpactSpeedsWritten | None = Field(default=None, alias="impact speeds")


class RulesWritten(Written):
    """The whole file."""

    _blocks = frozenset({*SECTIONS, "families"})

    choreo_rules: Literal["1"] = Field(alias="choreo rules")
    title: str
    document: str
    version: str = ""
    date: str = ""
    newest: YesNo = True
    status: Status = "seen"
    note: str = ""
    builds_on: str | None = Field(default=None, alias="builds on")
    filters: dict[str, FilterWritten] = Field(default_factory=dict)
    groups: dict[str, tuple[str, ...]] = Field(default_factory=dict)
    windows: dict[str, WindowWritten] = Field(default_factory=dict)
    bands: dict[str, BandWritten] = Field(default_factory=dict)
    instants: dict[str, InstantRuleWritten] = Field(default_factory=dict)
    settles: dict[str, SettleWritten] = Field(default_factory=dict)
    shapes: dict[str, ShapeWritten] = Field(default_factory=dict)
    between_runs: dict[str, BetweenRunsWritten] = Field(default_factory=dict, alias="between runs")
    conditions: dict[str, ConditionWritten] = Field(default_factory=dict)
    campaign: dict[str, CampaignRuleWritten] = Field(default_factory=dict)
    onsets: dict[str, OnsetWritten] = Field(default_factory=dict)
    families: dict[str, FamilyWritten] = Field(default_factory=dict)
