"""One type for everything that is found: bad input, impossibility, disagreement, warnings."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import field
from typing import Protocol, TypeVar

from choreo.words.catalogue import CATALOGUE
from choreo.words.display import visible
from choreo.words.kinds import Severity
from choreo.words.origin import Origin
from choreo.words.records import dataclass

Value = str | float | int


@dataclass(frozen=True)
class Finding:
    """A code from the catalogue, how grave it is, where, with which values; related places beside it."""

    code: str
    severity: Severity
    origin: Origin | None
    values: Mapping[str, Value] = field(default_factory=dict)
    related: tuple[Origin, ...] = ()

    @property
    def text(self) -> str:
        """What is wrong, in a sentence of one line, whatever the values are."""
        return visible(CATALOGUE[self.code].template.format(**self.values))

    @property
    def advice(self) -> str:
        """What to write or do instead; may be empty."""
        return visible(CATALOGUE[self.code].advice.format(**self.values))


class Graded(Protocol):
    """What has a severity: a finding, or the message that a plan document makes of it."""

    @property
    def severity(self) -> Severity: ...


One = TypeVar("One", bound=Graded)


def errors_of(found: Iterable[One]) -> tuple[One, ...]:
    """Give those that are errors, in their order."""
    return tuple(one for one in found if one.severity == "error")


def remarks_of(found: Iterable[One]) -> tuple[One, ...]:
    """Give those that are no errors: warnings and notes, in their order."""
    return tuple(one for one in found if one.severity != "error")


class ChoreoError(Exception):
    """The user's fault, as findings; our own faults are never of this type."""

    def __init__(self, findings: tuple[Finding, ...] | list[Finding]) -> None:
        self.findings = tuple(findings)
        super().__init__("; ".join(finding.code for finding in self.findings))
