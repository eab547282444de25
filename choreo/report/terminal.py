"""Content laid out for a terminal: tables where they fit, one block a row where they don't."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping

from rich.cells import cell_len
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
# Characters: before a section's content, between columns, the least room that is laid out for, and for the words of
# a budget beside its numbers.
INDENT = 2
GAP = 2
LEAST_ROOM = 12
LEAST_WORDS = 16
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


def print_section(section: Table | Notes | Account, console: Console) -> None:
    """Print one section by itself, as in an answer."""
    with console.capture() as capture:
        console.print(_rendered(section, console))
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
    widths = _widths(section, room_of(console))
    if widths is None:
        return Group(title, *_blocks(section, room_of(console)))
    return Group(title, Padding(_table(section, widths), (0, 0, 0, INDENT)))


def room_of(console: Console) -> int:
    """Give the columns beside the indent."""
    return max(console.width - INDENT, LEAST_ROOM)


def _widths(section: Table, room: int) -> list[int] | None:
    """Columns for each column of a table so that it fits into `room`; None where it can't.

    Words may go on on a further line, numbers and heads stay whole.
    """
    columns = list(zip(*section.rows, strict=True)) or [()] * len(section.header)
    heads = [max(map(cell_len, head.split("\n"))) for head in section.header]
    whole = [max([head, *map(cell_len, cells)]) for head, cells in zip(heads, columns, strict=True)]
    least = [
        size if index in section.numeric else max([heads[index], *map(_longest_word, cells)])
        for index, (size, cells) in enumerate(zip(whole, columns, strict=True))
    ]
    room -= GAP * (len(section.header) - 1)
    if sum(least) > room:
        return None
    widths = list(whole)
    while sum(widths) > room:
        # The widest of those that can still give way does.
        giving = max(
            (i for i, size in enumerate(widths) if size > least[i]), key=lambda i: widths[i]
        )
        widths[giving] -= 1
    return widths


def _longest_word(text: str) -> int:
    return max(map(cell_len, text.split()), default=0)


def _table(section: Table, widths: list[int]) -> RichTable:
    table = RichTable(box=None, pad_edge=False, padding=(0, GAP, 0, 0), show_edge=False)
    for index, (name, width) in enumerate(zip(section.header, widths, strict=True)):
        numeric = index in section.numeric
        table.add_column(
            Text(name, style="dim"),
            justify="right" if numeric else "left",
            no_wrap=numeric,
            width=width,
        )
    for row in section.rows:
        table.add_row(*(Text(cell) for cell in row))
    return table


def _blocks(section: Table, room: int) -> list[RenderableType]:
    """Each row as its name and `label value` pairs: for narrow terminals, nothing is ever ellipsised."""
    blocks: list[RenderableType] = []
    for row in section.rows:
        blocks.append(Padding(Text(row[0], style="bold"), (0, 0, 0, INDENT)))
        pairs = [
            (label.replace("\n", ", "), cell)
            for label, cell in zip(section.header[1:], row[1:], strict=True)
            if cell
        ]
        blocks += [Padding(one, (0, 0, 0, 2 * INDENT)) for one in _pairs(pairs, room - INDENT)]
    return blocks


def _pairs(pairs: list[tuple[str, str]], room: int) -> list[RenderableType]:
    """Labels beside their values, or above them where the longest word of any value would not fit beside them."""
    labels = max((cell_len(label) for label, _ in pairs), default=0)
    if labels + GAP + max((_longest_word(cell) for _, cell in pairs), default=0) > room:
        stacked: list[RenderableType] = []
        for label, cell in pairs:
            if label and cell_len(label) + 1 + cell_len(cell) <= room:
                stacked.append(Text.assemble((label, "dim"), " ", cell))
                continue
            stacked += [Text(label, style="dim")] if label else []
            stacked.append(Padding(Text(cell), (0, 0, 0, INDENT)))
        return stacked
    grid = RichTable(box=None, show_header=False, pad_edge=False, padding=(0, GAP, 0, 0))
    grid.add_column(no_wrap=True, width=labels)
    grid.add_column(overflow="fold")
    for label, cell in pairs:
        grid.add_row(Text(label, style="dim"), Text(cell))
    return [grid]


def _account(section: Account, console: Console) -> RenderableType:
    title = Text(section.title, style="bold")
    amounts = [f"{value} {section.unit}" for _, value, _ in section.rows]
    styles = ["bold" if row is section.rows[-1] else "" for row in section.rows]
    places = [_line(place) for _, _, place in section.rows]
    beside = max(map(cell_len, amounts)) + max(map(cell_len, places)) + 2 * GAP
    if room_of(console) - beside < LEAST_WORDS:
        stacked: list[RenderableType] = []
        for (what, _, _), amount, place, style in zip(
            section.rows, amounts, places, styles, strict=True
        ):
            stacked.append(Padding(Text(what, style=style), (0, 0, 0, INDENT)))
            for text in (amount, place):
                stacked += [Padding(Text(text, style=style), (0, 0, 0, 2 * INDENT))] if text else []
        return Group(title, *stacked)
    table = RichTable(box=None, pad_edge=False, padding=(0, GAP, 0, 0), show_header=False)
    table.add_column(overflow="fold")
    table.add_column(justify="right", no_wrap=True)
    table.add_column(no_wrap=True, style="dim")
    for (what, _, _), amount, place, style in zip(
        section.rows, amounts, places, styles, strict=True
    ):
        table.add_row(Text(what, style=style), Text(amount, style=style), Text(place))
    return Group(title, Padding(table, (0, 0, 0, INDENT)))


def _line(place: str) -> str:
    """'lane.yaml:12:3' becomes 'line 12': the file is the one that was asked about."""
    parts = place.rsplit(":", 2)
    return f"line {parts[1]}" if len(parts) == 3 else place
