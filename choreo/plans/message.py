"""A finding as plain data, for plan documents."""

from __future__ import annotations

from collections.abc import Iterable

from choreo.words import Finding
from choreo.words.kinds import Severity
from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class Message:
    """Code, severity, text, advice and place (file:line:column or None)."""

    code: str
    severity: Severity
    text: str
    advice: str
    place: str | None


def messages_of(findings: Iterable[Finding]) -> tuple[Message, ...]:
    """Give findings as plain data, each once, in their order."""
    found = (
        Message(
            one.code,
            one.severity,
            one.text,
            one.advice,
            None if one.origin is None else str(one.origin),
        )
        for one in findings
    )
    return tuple(dict.fromkeys(found))
