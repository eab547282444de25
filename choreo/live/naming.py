"""Which files a scenario is read from, as far as its text tells, however faulty it is."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Any

from choreo.scenario.text.document import parse_document, read_text
from choreo.words import ChoreoError

ENDINGS = (".yaml", ".yml", ".csv", ".geojson", ".json", ".tsv", ".txt")
# A site names its survey, no file names more than that.
DEEPEST = 3


def files_named(file: Path, deepest: int = DEEPEST) -> set[str]:
    """Give a scenario file and what it seems to name, whether or not that is there, however faulty it is."""
    found = {str(file)}
    if deepest and file.suffix.lower() in (".yaml", ".yml"):
        try:
            data = parse_document(read_text(file), str(file)).data
        except ChoreoError:
            return found
        for name in _names_in(data):
            found |= files_named(file.parent / name, deepest - 1)
    return found


def _names_in(data: Any) -> Iterable[str]:
    if isinstance(data, str):
        return [data] if data.lower().endswith(ENDINGS) and "\n" not in data else []
    parts = data.values() if isinstance(data, dict) else data if isinstance(data, list) else ()
    return [name for one in parts for name in _names_in(one)]
