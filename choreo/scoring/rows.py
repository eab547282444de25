"""Scores as a table for spreadsheets, a row a run."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from choreo.scoring.score import RunScore


def table_lines(scores: Sequence[RunScore]) -> Iterator[str]:
    """Give a CSV table, a row a run, SI: ruling, each rule's worst value and margin, encounters, what was off."""
    units = {rule.rule: rule.rule_unit or rule.unit for one in scores for rule in one.judged}
    rules = list(units)
    offs = list(dict.fromkeys((off.owner, off.what, off.unit) for one in scores for off in one.off))
    encounters = [(one.encounter, one.unit) for one in scores[0].happened] if scores else []
    columns = ["run", "simulated", "ruling"]
    columns += [
        f"{rule} {what}{_unit(units[rule])}" for rule in rules for what in ("worst", "margin")
    ]
    for name, unit in encounters:
        columns += [f"{name} value{_unit(unit)}", f"{name} time s"]
    columns += [f"{owner} {what} off {unit or 'ratio'}" for owner, what, unit in offs]
    yield ",".join(f'"{one}"' for one in columns) + "\n"
    for score in scores:
        judged = {one.rule: one for one in score.judged}
        off = {(one.owner, one.what, one.unit): one.off for one in score.off}
        cells = [f'"{score.name}"', str(int(score.simulated)), score.ruling]
        for rule in rules:
            one = judged.get(rule)
            cells += [
                _cell(None if one is None else one.worst),
                _cell(None if one is None else one.margin),
            ]
        for happened in score.happened:
            cells += [
                _cell(happened.value),
                _cell(happened.time_s if math.isfinite(happened.value) else None),
            ]
        cells += [_cell(off.get(key)) for key in offs]
        yield ",".join(cells) + "\n"


def _unit(unit: str | None) -> str:
    return f" {unit}" if unit else ""


def _cell(value: float | None) -> str:
    return "" if value is None or not math.isfinite(value) else f"{value:.6g}"
