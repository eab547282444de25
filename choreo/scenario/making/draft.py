"""What a file's records are made on: the names that its parts may refer to, and the faults found on the way."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import field
from typing import TypeVar

from choreo.scenario.text.document import MOST_FAULTS, Document, Keys
from choreo.words import Finding
from choreo.words.findings import Value
from choreo.words.kinds import NamedKind, Severity
from choreo.words.nearest import suggestion
from choreo.words.quantities import quoted
from choreo.words.records import dataclass

Choice = TypeVar("Choice", bound=str)
Chosen = TypeVar("Chosen")


@dataclass(frozen=True)
class Landmarks:
    """The names inside one mover that events can refer to; whole: False when a faulty part may hide some."""

    phases: Sequence[str] = ()
    marks: Sequence[str] = ()
    whole: bool = True


@dataclass()
class Draft:
    """One file while its records are made; faults are gathered, not raised.

    names: of encounters, triggers and instants, with their kind. paths, movers: every name that is written,
    faulty ones too, so that a reference to a faulty entry is not reported as unknown. files: read for it.
    """

    document: Document
    names: dict[str, NamedKind] = field(default_factory=dict)
    movers: dict[str, Landmarks] = field(default_factory=dict)
    paths: list[str] = field(default_factory=list)
    paths_known: bool = True
    files: list[str] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)

    def named(self, kind: NamedKind) -> list[str]:
        """Give every written name of a kind, faulty entries too, in the order of the file."""
        return [name for name, one in self.names.items() if one == kind]

    def fault(
        self,
        code: str,
        keys: Keys,
        /,
        severity: Severity = "error",
        related: Iterable[Keys] = (),
        **values: Value,
    ) -> None:
        """Add a finding at the place of a key path."""
        places = tuple(self.document.origin(other) for other in related)
        self.findings.append(Finding(code, severity, self.document.origin(keys), values, places))

    def unknown(
        self, keys: Keys, what: str, name: str, known: Iterable[str], more: str = ""
    ) -> None:
        """Add a finding for a name that refers to nothing, with the nearest that does, and more advice."""
        # Beyond what is shown anyway, the search for the nearest name would only cost time.
        advice = f"{suggestion(name, known)} {more}" if len(self.findings) < MOST_FAULTS else more
        self.fault(
            "scenario.unknown-name", keys, what=what, name=quoted(name), suggestion=advice.strip()
        )

    def one_of(
        self, keys: Keys, where: str, choices: Mapping[Choice, Chosen | None]
    ) -> tuple[Choice, Chosen] | None:
        """Give the one choice that is set, by its name and value; a fault when none or several are."""
        chosen = [(name, value) for name, value in choices.items() if value is not None]
        if len(chosen) == 1:
            return chosen[0]
        words = ", ".join(f"`{name}`" for name in choices)
        count = "none" if not chosen else f"{len(chosen)}"
        self.fault("scenario.one-of", keys, where=where, count=count, choices=words)
        return None
