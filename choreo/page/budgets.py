"""A budget as bars laid end to end against what there is: what doesn't fit runs past the line."""

from __future__ import annotations

from dataclasses import replace

from choreo.page.markup import heading, text
from choreo.plans.record import Budget, BudgetLine
from choreo.words.display import plain

# Bars end this far (percent of the width) to the right.
ROOM_PERCENT = 96.0


def budget_html(budget: Budget) -> str:
    """Draw one budget: a row a piece, each bar beginning where the one before ended."""
    room, needs = _sides(budget)
    there, needed = sum(line.value for line in room), sum(line.value for line in needs)
    scale = ROOM_PERCENT / (max(needed, there) or 1.0)
    limit = there * scale
    rows, used = [], 0.0
    for line in room:
        bar = _bar("has", used, used + line.value * scale, limit)
        rows.append(_row(line, budget.unit, bar, "there-is"))
        used += line.value * scale
    used = 0.0
    for line in needs:
        rows.append(
            _row(line, budget.unit, _piece(used, used + line.value * scale, limit), "needed")
        )
        used += line.value * scale
    short = BudgetLine("short by", budget.short_by, None)
    rows.append(_row(short, budget.unit, _bar("short", limit, needed * scale, limit), "misfit"))
    return (
        f'<section class="block budget"><h3>{text(heading(budget.title))}</h3>'
        f'<div class="bars">{"".join(rows)}</div></section>'
    )


def _sides(budget: Budget) -> tuple[list[BudgetLine], list[BudgetLine]]:
    """What there is and what is needed, all above zero: a need below zero is room, and the other way round."""
    own = budget.available
    room = [own] if own.value >= 0 else []
    room += [replace(line, value=-line.value) for line in budget.pieces if line.value < 0]
    needs = [] if own.value >= 0 else [replace(own, value=-own.value)]
    needs += [line for line in budget.pieces if line.value >= 0]
    return room, needs


def _row(line: BudgetLine, unit: str, bar: str, kind: str) -> str:
    place = "" if line.place is None else f'<span class="place">{text(_line(line.place))}</span>'
    return (
        f'<div class="bar {kind}"><span class="what">{text(line.what)}</span>'
        f'<span class="value">{text(plain(line.value))} {text(unit)}</span>{place}{bar}</div>'
    )


def _piece(start: float, end: float, limit: float) -> str:
    """The part that fits, and the part beyond the line."""
    parts = ""
    if start < limit:
        parts += _rect("fits", start, min(end, limit))
    if end > limit:
        parts += _rect("over", max(start, limit), end)
    return _svg(parts, limit)


def _bar(kind: str, start: float, end: float, limit: float) -> str:
    return _svg(_rect(kind, start, end), limit)


def _rect(kind: str, start: float, end: float) -> str:
    return f'<rect class="{kind}" x="{start:.2f}%" y="4" width="{end - start:.2f}%" height="16"/>'


def _svg(parts: str, limit: float) -> str:
    line = f'<line class="limit" x1="{limit:.2f}%" x2="{limit:.2f}%" y1="0" y2="24"/>'
    return f'<svg height="24" width="100%" aria-hidden="true">{parts}{line}</svg>'


def _line(place: str) -> str:
    parts = place.rsplit(":", 2)
    return f"line {parts[1]}" if len(parts) == 3 else place


HATCH = (
    '<svg width="0" height="0" aria-hidden="true" class="defs"><defs>'
    '<pattern id="hatch" width="6" height="6" patternUnits="userSpaceOnUse" '
    'patternTransform="rotate(45)"><rect class="hatch-ground" width="6" height="6"/>'
    '<rect class="hatch-line" width="2.5" height="6"/></pattern></defs></svg>'
)
"""The pattern of everything that doesn't fit; once a document, before its first use."""
