"""What a campaign is, and what comes of it: runs, their variants, a row of figures for each."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from choreo.campaigns.varying import Varying
from choreo.scenario import Scenario
from choreo.words.kinds import Verdict


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

    def variants(self) -> Iterator[Variant]:
        """Give every variant, in the order of the matrix."""
        for values in self.varying.matrix.combinations():
            yield Variant(self.name, values, self.repeats)


@dataclass(frozen=True)
class Campaign:
    """Runs by name, in the author's order. files: all that were read for it."""

    title: str
    runs: Mapping[str, Run]
    files: tuple[str, ...]
    about: str = ""

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

    verdict: None where its values make no scenario. reason: why it isn't feasible, in a line. fingerprint: of
    what was asked. figures: by the name of each, in SI: `runway` (m, all movers), `duration` (s, go to the last rest),
    `start of MOVER` (m, its station). document: the plan document as JSON text; empty for none.
    """

    name: str
    run: str
    values: Mapping[str, str]
    fingerprint: str
    verdict: Verdict | None
    reason: str = ""
    figures: Mapping[str, float] = field(default_factory=dict)
    document: str = ""
