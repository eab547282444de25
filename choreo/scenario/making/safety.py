"""The margins that a run is judged by, and the rules, as written -> records."""

from __future__ import annotations

from pathlib import Path

from choreo.scenario.making.draft import Draft
from choreo.scenario.records.rules import RulesAsked
from choreo.scenario.records.safety import Safety
from choreo.scenario.written import scenario as w


def safety_of(written: w.SafetyWritten | None) -> Safety:
    """Make the margins: what isn't written keeps its default."""
    given = {} if written is None else written.model_dump(exclude_none=True)
    return Safety(**{f"{name}_m": value for name, value in given.items()})


def rules_of(draft: Draft, written: w.FileWritten, folder: Path) -> RulesAsked | None:
    """Give which rules are asked for; folder: in which a set of the author's own is looked for."""
    asked = written.rules
    if asked is None:
        return None
    own = folder / asked.set
    if own.suffix and own.is_file():
        draft.files.append(str(own))
    return RulesAsked(asked.set, asked.family, str(folder))
