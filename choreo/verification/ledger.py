"""Collects findings and the largest use of any limit while a plan is checked."""

from __future__ import annotations

from dataclasses import field

from choreo.scenario import Scenario
from choreo.words import Finding
from choreo.words.kinds import Severity
from choreo.words.records import dataclass


@dataclass(eq=False)
class Ledger:
    """Findings in the order they are made; worst_limit_use is the largest ratio to a limit so far."""

    scenario: Scenario
    findings: list[Finding] = field(default_factory=list)
    worst_limit_use: float = 0.0

    def error(self, code: str, *keys: str | int, **values: str | float) -> None:
        """Add an error that points at the scenario's entry under keys."""
        self._add("error", code, keys, values)

    def warning(self, code: str, *keys: str | int, **values: str | float) -> None:
        """Add a warning that points at the scenario's entry under keys."""
        self._add("warning", code, keys, values)

    def use(self, ratio: float) -> None:
        """Note how much of a limit is used."""
        self.worst_limit_use = max(self.worst_limit_use, ratio)

    def _add(
        self,
        severity: Severity,
        code: str,
        keys: tuple[str | int, ...],
        values: dict[str, str | float],
    ) -> None:
        origin = self.scenario.origin(*keys)
        self.findings.append(Finding(f"verify.{code}", severity, origin, values, ()))
