"""Content laid out for a terminal: tables where they fit, one block a row where they don't."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping

from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.table import Table as RichTable
from rich.text import Text

from choreo.report.content import Content
from choreo.report.sections import Account, Notes, Table
from choreo.words.kinds import Verdict

STYLES: Mapping[Verdict, str] = {
    "feasible": "bold green",
    "infeasible": "bold red",
    "undecided": "bold yellow",
}
# Characters: before a section's content; a narrower terminal is taken for this wide; wider than any table.
INDENT = 2
LEAST_WIDTH = 40
ENDLESS = 10_000
# A longer title would push the verdict off the screen.
MOST_TITLE = 200
CUT = "..."


def print_content(content: Content, console: Console) -> None:
    """Print an answer; nothing is cut at any width and nothing needs colour to be understood."""
    with console.capture() as capture:
        console.print(_head(content))
        console.print(Text(content.summary))
        for section in content.sections:
            console.print()
            console.print(_rendered(section, console))
    # Padding at the ends of lines is noise in a pipe and in a file.
    lines = (line.rstrip() for line in capture.get().splitlines())
    console.file.write("\n".join(lines) + "\n")
    console.file.flush()


def _head(content: Content) -> RenderableType:
    """The verdict and beside it the title, whose further lines stay under its first: none can pass for a verdict."""
    head = RichTable.grid(padding=(0, 2, 0, 0))
    head.add_column(no_wrap=True)
    head.add_column(overflow="fold")
    title = Text(one_line(content.title), style="bold")
    head.add_row(Text(content.headline, style=STYLES[content.verdict]), title)
    return head


def one_line(text: str) -> str:
    """Give an author's text on one line of at most MOST_TITLE characters, without control characters."""
    kept = "".join(" " if unicodedata.category(c) in ("Cc", "Zl", "Zp") else c for c in text)
    line = " ".join(kept.split())
    return line if len(line) <= MOST_TITLE else line[: MOST_TITLE - len(CUT)].rstrip() + CUT


def _rendered(section: Table | Notes | Account, console: Console) -> RenderableType:
    title = Text(section.title, style="bold")
    if isinstance(section, Notes):
        lines = [Padding(Text(line), (0, 0, 0, INDENT)) for line in section.lines]
        return Group(title, *lines)
    if isinstance(section, Account):
        return _account(section, console)
    table = _table(section)
    room = max(console.width - INDENT, LEAST_WIDTH)
    # Measured on an endless line: rich would otherwise report the width that it was given.
    endless = console.options.update(width=ENDLESS)
    if console.measure(table, options=endless).maximum <= room:
        return Group(title, Padding(table, (0, 0, 0, INDENT)))
    return Group(title, *_blocks(section))


def _table(section: Table) -> RichTable:
    table = RichTable(box=None, pad_edge=False, padding=(0, 2, 0, 0), show_edge=False)
    for index, name in enumerate(section.header):
        numeric = index in section.numeric
        table.add_column(
            Text(name, style="dim"), justify="right" if numeric else "left", no_wrap=True
        )
    for row in section.rows:
        table.add_row(*(Text(cell) for cell in row))
    return table


def _blocks(section: Table) -> list[RenderableType]:
    """Each row as its name and `label value` pairs: for narrow terminals, nothing is ever ellipsised."""
    blocks: list[RenderableType] = []
    for row in section.rows:
        blocks.append(Padding(Text(row[0], style="bold"), (0, 0, 0, INDENT)))
        grid = RichTable(box=None, show_header=False, pad_edge=False, padding=(0, 2, 0, 0))
        grid.add_column(no_wrap=True)
        grid.add_column(overflow="fold")
        for label, cell in zip(section.header[1:], row[1:], strict=True):
            if label or cell:
                grid.add_row(Text(label.replace("\n", ", "), style="dim"), Text(cell))
        blocks.append(Padding(grid, (0, 0, 0, 2 * INDENT)))
    return blocks


def _account(section: Account, console: Console) -> RenderableType:
    table = RichTable(box=None, pad_edge=False, padding=(0, 2, 0, 0), show_header=False)
    table.add_column(overflow="fold")
    table.add_column(justify="right", no_wrap=True)
    table.add_column(overflow="fold", style="dim")
    for index, (what, value, place) in enumerate(section.rows):
        last = index == len(section.rows) - 1
        style = "bold" if last else ""
        table.add_row(
            Text(what, style=style),
            Text(f"{value} {section.unit}", style=style),
            Text(_line(place)),
        )
    return Group(Text(section.title, style="bold"), Padding(table, (0, 0, 0, INDENT)))


def _line(place: str) -> str:
    """'lane.yaml:12:3' becomes 'line 12': the file is the one that was asked about."""
    parts = place.rsplit(":", 2)
    return f"line {parts[1]}" if len(parts) == 3 else place
