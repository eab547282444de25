"""The rows of a sweep as lines for a terminal: each run with its counts, its variants, a map of two varied names."""

from __future__ import annotations

import itertools
import textwrap
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence

from choreo.campaigns.figures import told
from choreo.campaigns.leaving_out import without_of, written
from choreo.campaigns.records import Row
from choreo.campaigns.sweeping import Swept
from choreo.words.display import how_many

# A run with more variants is summed up, unless all are asked for; of those that don't work so many are told.
MOST_TOLD = 60
MOST_FAILING = 20
LEAST_REASON = 24
MARKS = {"feasible": "#", "infeasible": ".", "undecided": "?", None: "!"}
LEGEND = "# feasible   . proven infeasible   ? undecided   ! faulty   x its room fails a check"
# A map of more columns is no picture any more.
MOST_COLUMNS = 160

# Figures of whole variants and what they are called: the least way is that of all movers together.
FIGURES = {"runway": "way of all", "duration": "duration"}


def table_of(swept: Swept, width: int, *, full: bool = False) -> Iterator[str]:
    """Give the lines of all runs, not wider than so many columns where that is possible."""
    count = len(swept.rows)
    yield f"{swept.campaign.title}: {how_many(count, 'variant')}, {_verdicts(swept.rows)}"
    for run, group in itertools.groupby(swept.rows, lambda row: row.run):
        rows = list(group)
        yield ""
        yield f"{run}: {how_many(len(rows), 'variant')}, {_verdicts(rows)}{_ranges(rows)}"
        if full or len(rows) <= MOST_TOLD:
            yield from _told(rows, width)
            yield from _faulty(rows, width)
            continue
        failing = [row for row in rows if mark_of(row) != MARKS["feasible"]]
        unusual = [row for row in rows if row.reason and mark_of(row) == MARKS["feasible"]]
        yield from _told([*failing, *unusual][:MOST_FAILING], width)
        if len(failing) > MOST_FAILING:
            yield f"  and {len(failing) - MOST_FAILING} more that aren't feasible"
        if unusual and len(failing) + len(unusual) > MOST_FAILING:
            number = len(unusual) - max(MOST_FAILING - len(failing), 0)
            yield f"  and {number} more that are driven otherwise than usual"
        yield "  --all tells every variant"
        yield from _faulty(rows, width)
    if any(row.clear is None and row.verdict == "feasible" for row in swept.rows):
        yield ""
        yield "Feasible: planned and verified by simulation. The room that runs take wasn't looked at: --room does."


def _faulty(rows: Sequence[Row], width: int) -> Iterator[str]:
    """What the file may say so that variants that are no scenarios aren't among the others."""
    exclusions = without_of(rows)
    if exclusions:
        sound = any(row.verdict is not None for row in rows)
        line = "faulty: none of these values makes a scenario. Mend what their reason names, or leave the run out."
        if sound:
            line = f"faulty: these values make no scenario together. To leave them out: {written(exclusions)}."
        yield from textwrap.wrap(
            line, max(width - 2, LEAST_REASON), initial_indent="  ", subsequent_indent="  "
        )


def maps_of(swept: Swept, figure: str = "") -> Iterator[str]:
    """Give a map of each run that crosses two names or more: the last two are its sides, a map for each of the others.

    figure: the name of a figure that the map tells; empty for verdicts.
    """
    for run, group in itertools.groupby(swept.rows, lambda row: row.run):
        rows = list(group)
        sides = swept.campaign.runs[run].sides
        if len(sides) < 2:
            continue
        down, across = sides[-2:]
        others = [name for name in rows[0].values if name not in (down, across)]
        parts: dict[tuple[str, ...], list[Row]] = {}
        for row in rows:
            parts.setdefault(tuple(row.values[name] for name in others), []).append(row)
        for part, cells in parts.items():
            where = ", ".join(f"{name} {value}" for name, value in zip(others, part, strict=True))
            yield ""
            yield f"{run}{', ' + where if where else ''}{': ' + figure if figure else ''}"
            yield from _map(cells, down, across, figure)
    if not figure:
        yield ""
        yield LEGEND


def mark_of(row: Row) -> str:
    """Give the character that tells what became of a variant."""
    return "x" if row.clear is False else MARKS[row.verdict]


def _map(rows: Sequence[Row], down: str, across: str, figure: str) -> Iterator[str]:
    cells = {(row.values[down], row.values[across]): row for row in rows}
    columns = list(dict.fromkeys(row.values[across] for row in rows))
    lines = list(dict.fromkeys(row.values[down] for row in rows))
    aside = max(len(down), *(len(one) for one in lines))
    spelt = {key: _spelt(row, figure) for key, row in cells.items()}
    wide = max(len(one) for one in spelt.values())
    dense = len(columns) > 20 and wide == 1
    if not dense:
        wide = max(wide, *(len(one) for one in columns))
    if (wide + 2) * len(columns) + aside > MOST_COLUMNS and wide > 1:
        wide, dense = max(len(one) for one in spelt.values()), True
    apart = "" if wide == 1 and dense else "  "
    if dense:
        yield f"  {down:>{aside}}  {across}: {columns[0]} to {columns[-1]}"
    else:
        yield f"  {down:>{aside}}  {across}"
        yield f"  {'':>{aside}}  " + apart.join(f"{one:>{wide}}" for one in columns)
    for line in lines:
        told_cells = apart.join(f"{spelt.get((line, one), ''):>{wide}}" for one in columns)
        yield f"  {line:>{aside}}  {told_cells}".rstrip()


def _spelt(row: Row, figure: str) -> str:
    return told(figure, row.figures[figure]) if figure in row.figures else mark_of(row)


def _told(rows: Sequence[Row], width: int) -> Iterator[str]:
    """A line a variant, its reason in lines below one another."""
    if not rows:
        return
    names = list(rows[0].values)
    heads = [*names, "verdict", *FIGURES.values()]
    lines = [
        [
            *row.values.values(),
            _verdict(row),
            *(_figure(row, one) for one in FIGURES),
        ]
        for row in rows
    ]
    widths = [max(len(cell) for cell in column) for column in zip(heads, *lines, strict=True)]
    left = max(width - sum(widths) - 2 * len(widths) - 2, LEAST_REASON)
    yield _line(heads, widths)
    for row, cells in zip(rows, lines, strict=True):
        reason = f"{row.reason}; {row.repair} would do" if row.repair else row.reason
        first, *rest = textwrap.wrap(reason, left) or [""]
        yield _line([*cells, first], [*widths, 0])
        for more in rest:
            yield _line(["" for _ in cells] + [more], [*widths, 0])


def _line(cells: Iterable[str], widths: Iterable[int]) -> str:
    told_cells = (f"{cell:<{wide}}" for cell, wide in zip(cells, widths, strict=True))
    return f"  {'  '.join(told_cells)}".rstrip()


def _verdict(row: Row) -> str:
    if row.clear is False:
        return "feasible, but not clear"
    return row.verdict or "faulty"


def _figure(row: Row, name: str) -> str:
    return told(name, row.figures[name]) if name in row.figures else ""


def _verdicts(rows: Sequence[Row]) -> str:
    counts = Counter(_verdict(row) for row in rows)
    told_counts = (f"{number} {verdict}" for verdict, number in sorted(counts.items()))
    return "all feasible" if set(counts) == {"feasible"} else ", ".join(told_counts)


def _ranges(rows: Sequence[Row]) -> str:
    """The least and the greatest runway and duration."""
    words = []
    for name, head in FIGURES.items():
        found = [row.figures[name] for row in rows if name in row.figures]
        if found:
            low, high = told(name, min(found)), told(name, max(found))
            words.append(f"; {head} {low}" if low == high else f"; {head} {low} to {high}")
    return "".join(words)
