"""What a campaign is, and what comes of it: runs, their variants, a row of figures for each."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import field

from choreo.campaigns.day.spec import DaySpec
from choreo.campaigns.varying import Varying
from choreo.scenario import Scenario
from choreo.words.kinds import Verdict
from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class Variant:
    """One scenario of a campaign: which run, with which values, as written; repeats: how often it is to be driven."""

    run: str
    values: Mapping[str, str]
    repeats: int = 1

    @property
    def name(self) -> str:
        """A name that stays the same whatever is added to the campaign, `near/test_speed=40 km/h,overlap=25 %`."""
        varied = ",".join(f"{name}={value}" for name, value in self.values.items())
        return f"{self.run}/{varied}" if varied else self.run


@dataclass(frozen=True)
class Run:
    """One scenario with what is varied of it. varying: makes the scenario of each variant."""

    name: str
    varying: Varying
    repeats: int = 1

    @property
    def most(self) -> int:
        """How many variants there are before any is left out."""
        return self.varying.matrix.most

    @property
    def sides(self) -> tuple[str, ...]:
        """The varied names that a map can have as its sides: lists of several values, crossed with others."""
        lists = self.varying.matrix.vary
        return tuple(name for name, values in lists.items() if len(values) > 1)

    def variants(self) -> Iterator[Variant]:
        """Give every variant, in the order of the matrix."""
        for values in self.varying.matrix.combinations():
            yield Variant(self.name, values, self.repeats)


@dataclass(frozen=True)
class Campaign:
    """Runs by name, in the author's order. files: all that were read for it. day: None where the file has none."""

    title: str
    runs: Mapping[str, Run]
    files: tuple[str, ...]
    about: str = ""
    day: DaySpec | None = None

    @property
    def most(self) -> int:
        """How many variants there are before any is left out."""
        return sum(run.most for run in self.runs.values())

    def variants(self) -> Iterator[Variant]:
        """Give every variant, run by run; they are made as they are asked for."""
        for run in self.runs.values():
            yield from run.variants()

    def scenario_of(self, variant: Variant) -> Scenario:
        """Make the scenario of a variant, checked. Raises ChoreoError: faults that its values bring."""
        return self.runs[variant.run].varying.scenario(variant.values)


@dataclass(frozen=True, slots=True)
class Row:
    """What became of one variant.

    verdict: None where its values make no scenario. clear: whether no check of its room fails, None where its room was
    not looked at. reason: why it isn't feasible or clear, or how it is driven otherwise than usual, in a line. repair:
    the change that makes it feasible, where it was asked for. asked: a hash of all that the answer leans on, where it
    is kept; fingerprint: as in the plan. figures: by name, in SI (solving.figures_of). document: the plan document,
    compressed by zlib; empty for none.
    """

    name: str
    run: str
    values: Mapping[str, str]
    asked: str
    fingerprint: str
    verdict: Verdict | None
    clear: bool | None = None
    reason: str = ""
    repair: str = ""
    figures: Mapping[str, float] = field(default_factory=dict)
    document: bytes = b""
