"""A finding as plain data, for plan documents."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Message:
    """Code, severity, text, advice and place (file:line:column or None)."""

    code: str
    severity: str
    text: str
    advice: str
    place: str | None
