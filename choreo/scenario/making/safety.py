"""The margins as written -> Safety."""

from __future__ import annotations

from choreo.scenario.records.safety import Safety
from choreo.scenario.written import scenario as w


def safety_of(written: w.SafetyWritten | None) -> Safety:
    """Make the margins: what isn't written keeps its default."""
    given = {} if written is None else written.model_dump(exclude_none=True)
    return Safety(**{f"{name}_m": value for name, value in given.items()})
