"""Content as HTML; every text that an author could have written passes through text()."""

from __future__ import annotations

import re
from html import escape
from importlib.resources import files
from string import Template

from choreo.report.content import Content
from choreo.report.sections import Account, Notes, Section, Table, notes_of

WRITTEN = re.compile(r"`([^`]+)`")
# A value in a variant's name ('test_speed=10 km/h,'), with its unit; a comma between two values.
VALUE = re.compile(r"(?<=\w=)[-+]?\d+(?:\.\d+)?(?: [A-Za-z%][\w/%^]*)?,?")
BETWEEN = re.compile(r",(?=[^\W\d]\w*=)")


def text(value: object) -> str:
    """Escape for use between tags and inside quoted attributes."""
    return escape(str(value), quote=True)


def told(line: str) -> str:
    """Escape a line of words; what stands in back quotes is something to write, set as that."""
    return WRITTEN.sub(r"<code>\1</code>", named(line))


def named(value: object) -> str:
    """Escape for use between tags; a variant's long name may be broken between its values, never inside one."""
    whole = VALUE.sub(r'<span class="unbroken">\g<0></span><wbr>', text(value))
    return BETWEEN.sub(",<wbr>", whole)


def read(name: str) -> str:
    """Read a file that ships beside this module."""
    return (files("choreo.page") / name).read_text(encoding="utf-8")


def filled(name: str, **parts: str) -> str:
    """Fill a template file; parts are HTML already. Every place must be filled."""
    return Template(read(name)).substitute(parts)


def about_html(about: str) -> str:
    """Write what a file says of itself, if it says anything."""
    return f'<p class="about">{text(about)}</p>' if about else ""


def section_html(section: Section) -> str:
    """Lay one section of an answer out."""
    if isinstance(section, Notes):
        return notes_html(section)
    if isinstance(section, Account):
        return table_html(_as_table(section))
    return table_html(section)


def notes_html(notes: Notes) -> str:
    """Give a heading and a list (one line: a paragraph; a drawing in characters: as it is)."""
    if len(notes.lines) == 1 and "\n" in notes.lines[0]:
        body = f'<pre tabindex="0">{text(notes.lines[0])}</pre>'
    elif len(notes.lines) == 1:
        body = f"<p>{told(notes.lines[0])}</p>"
    else:
        body = "<ul>" + "".join(f"<li>{told(line)}</li>" for line in notes.lines) + "</ul>"
    return f'<section class="block"><h3>{text(heading(notes.title))}</h3>{body}</section>'


def failed_html(content: Content) -> str:
    """Give the checks that failed, for the top of a page; empty when none did."""
    return "".join(
        f'<section class="failed"><h2>{text(section.title)}</h2><ul>'
        + "".join(f"<li>{told(line)}</li>" for line in section.lines)
        + "</ul></section>"
        for section in notes_of(content.sections, "failed checks")
    )


def table_html(table: Table) -> str:
    """Give a table whose cells carry their column's head, so that a phone can stack them."""
    heads = [head.replace("\n", ", ") for head in table.header]
    head = "".join(
        f'<th scope="col"{_numeric(table, i)}>{_two_lines(name)}</th>'
        for i, name in enumerate(table.header)
    )
    rows = "".join(
        "<tr>" + "".join(_cell(table, heads, i, cell) for i, cell in enumerate(row)) + "</tr>"
        for row in table.rows
    )
    return (
        f'<section class="block {_style_class(table)}"><h3>{text(heading(table.title))}</h3>'
        f'<div class="scroll" tabindex="0" role="region" aria-label="{text(table.title)}">'
        f"<table><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table></div></section>"
    )


def _style_class(table: Table) -> str:
    """A class for the style: only ever one of our own words."""
    return "events" if table.key == "events" else "table"


def _two_lines(head: str) -> str:
    return text(head).replace("\n", "<br>")


def _cell(table: Table, heads: list[str], index: int, cell: str) -> str:
    if index == 0:
        return f'<th scope="row">{named(cell)}</th>'
    if index not in table.numeric and VALUE.search(cell):
        # One element: a phone lays a cell's parts side by side.
        return f'<td data-head="{text(heads[index])}" class="name"><span>{named(cell)}</span></td>'
    return f'<td data-head="{text(heads[index])}"{_numeric(table, index)}>{text(cell)}</td>'


def _numeric(table: Table, index: int) -> str:
    return ' class="number"' if index in table.numeric else ""


def _as_table(account: Account) -> Table:
    return Table(
        account.title, ("what", account.unit, "place"), account.rows, frozenset({1}), account.key
    )


def heading(title: str) -> str:
    """'start marks' -> 'Start marks'."""
    return title[:1].upper() + title[1:]
