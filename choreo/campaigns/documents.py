"""The rows of a sweep for other programs: CSV and JSON, the same bytes whoever solved them."""

from __future__ import annotations

import csv
import io
import json
from typing import Any

from choreo.campaigns.figures import figures_in, unit_of
from choreo.campaigns.records import Row
from choreo.campaigns.sweeping import Swept

FORMAT = "choreo sweep 1"
# Parts of millimetres and milliseconds are the solver's business.
DIGITS = 6


def to_csv(swept: Swept) -> str:
    """Give a line a variant: name, run, values, verdict, reason, repair, figures (units in their names)."""
    names = list(dict.fromkeys(name for row in swept.rows for name in row.values))
    figures = figures_in(swept.rows)
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    heads = [f"{name.replace(' ', '_')}_{unit_of(name).replace('/', 'p')}" for name in figures]
    writer.writerow(["name", "run", *names, "verdict", "clear", "reason", "repair", *heads])
    for row in swept.rows:
        clear = "" if row.clear is None else "yes" if row.clear else "no"
        values = [row.values.get(name, "") for name in names]
        numbers = [
            f"{row.figures[name]:.{DIGITS}f}" if name in row.figures else "" for name in figures
        ]
        verdict = row.verdict or "faulty"
        writer.writerow(
            [row.name, row.run, *values, verdict, clear, row.reason, row.repair, *numbers]
        )
    return stream.getvalue()


def to_json(swept: Swept) -> dict[str, Any]:
    """Give one document of all variants, numbers in SI; `verdict` is null where values make no scenario."""
    return {
        "format": FORMAT,
        "title": swept.campaign.title,
        "variants": [_plain(row) for row in swept.rows],
    }


def to_text(swept: Swept) -> str:
    """Give that document as text."""
    return json.dumps(to_json(swept), indent=1, ensure_ascii=False)


def _plain(row: Row) -> dict[str, Any]:
    return {
        "name": row.name,
        "run": row.run,
        "values": dict(row.values),
        "fingerprint": row.fingerprint,
        "verdict": row.verdict,
        "clear": row.clear,
        "reason": row.reason,
        "repair": row.repair,
        "figures": {
            name: {"value": round(value, DIGITS), "unit": unit_of(name)}
            for name, value in row.figures.items()
        },
    }
