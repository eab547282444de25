"""What `choreo guide` does: list the pages, set one for reading on a terminal."""

from __future__ import annotations

import io
import json
import re
import sys
from textwrap import wrap
from typing import ClassVar

import click
from rich import box
from rich.console import Console, ConsoleOptions, RenderResult
from rich.markdown import CodeBlock, Heading, Markdown, MarkdownElement, TableElement
from rich.padding import Padding
from rich.table import Table
from rich.text import Text
from rich.theme import Theme

from choreo.commands.screen import screen
from choreo.guide.pages import all_pages, page_of

# Lines longer than this are hard to follow; tables gain nothing by it either.
WIDEST = 100
INDENT = " " * 4
BLANK_LINES = re.compile(r"\n{3,}")
# No backgrounds: they must be read on dark terminals and on light ones.
THEME = Theme(
    {
        "markdown.code": "cyan",
        "markdown.code_block": "none",
        "markdown.h1": "bold",
        "markdown.h2": "bold",
        "markdown.h3": "bold",
        "markdown.table.border": "none",
        "markdown.table.header": "bold",
        "markdown.item.bullet": "none",
    }
)
# What a terminal that lacks these characters is shown instead.
PLAIN_CHARACTERS = str.maketrans({"\u2500": "-", "\u2022": "*"})


def print_list(*, as_json: bool, width: int | None) -> None:
    """List the pages, a line each."""
    found = all_pages()
    if as_json:
        entries = [{"name": one.name, "title": one.title, "summary": one.summary} for one in found]
        click.echo(json.dumps({"pages": entries}, indent=2))
        return
    lines = ["The guide. `choreo guide PAGE` shows a page.", ""]
    widest = max(len(one.name) for one in found)
    for one in found:
        head = f"  {one.name:<{widest}}  "
        lines += wrap(
            one.summary, screen(width).width, initial_indent=head, subsequent_indent=" " * len(head)
        )
    click.echo("\n".join(lines))


def show_page(name: str, *, plain: bool, width: int | None) -> None:
    """Show a page: set for reading on a terminal, as Markdown elsewhere. Raises ChoreoError: guide.no-such-page."""
    page = page_of(name)
    on_terminal = sys.stdout.isatty()
    if plain or not (on_terminal or width):
        click.echo(page.text, nl=False)
        return
    shown = set_page(page.text, width or min(screen(None).width, WIDEST), colours=on_terminal)
    if not (sys.stdout.encoding or "").lower().startswith("utf"):
        shown = shown.translate(PLAIN_CHARACTERS)
    if on_terminal:
        click.echo_via_pager(shown)
    else:
        click.echo(shown, nl=False)


def set_page(text: str, width: int, *, colours: bool) -> str:
    """Set Markdown for reading in a terminal of that width."""
    console = Console(
        file=io.StringIO(),
        width=width,
        force_terminal=colours,
        theme=THEME,
        emoji=False,
        highlight=False,
    )
    with console.capture() as captured:
        console.print(_Set(text, hyperlinks=False))
    lines = [line.rstrip() for line in captured.get().splitlines()]
    return BLANK_LINES.sub("\n\n", "\n".join(lines)).strip("\n") + "\n"


class _Heading(Heading):
    """Headings at the margin, underlined by rank."""

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        self.text.justify = "left"
        if self.tag != "h1":
            yield Text("")
        yield self.text
        if self.tag in ("h1", "h2"):
            yield Text(("=" if self.tag == "h1" else "-") * min(len(self.text), options.max_width))


class _Code(CodeBlock):
    """Code and output as they are, set in; what is too long for a line goes on in the next, set in deeper."""

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        lines: list[str] = []
        for line in str(self.text).rstrip().split("\n"):
            deeper = " " * (len(line) - len(line.lstrip()) + len(INDENT))
            lines += wrap(line, options.max_width - len(INDENT), subsequent_indent=deeper) or [""]
        yield Padding(Text("\n".join(lines), style="markdown.code_block"), (0, 0, 0, len(INDENT)))


class _Table(TableElement):
    """Tables with a line below the head only."""

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        for drawn in super().__rich_console__(console, options):
            if isinstance(drawn, Table):
                drawn.box = box.SIMPLE
                drawn.padding = (0, 1, 0, 0)
                for column in drawn.columns:
                    column.overflow = "fold"  # a word that is too long is never cut off
            yield drawn


class _Set(Markdown):
    elements: ClassVar[dict[str, type[MarkdownElement]]] = {
        **Markdown.elements,
        "heading_open": _Heading,
        "fence": _Code,
        "code_block": _Code,
        "table_open": _Table,
    }
