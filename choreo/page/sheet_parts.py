"""Tables of the run sheet as HTML: heads, rows, and boxes for the crew to fill."""

from __future__ import annotations

from collections.abc import Iterable

from choreo.page.markup import text

# A cell with more characters holds words, not a number.
LONGEST_WORDS = 24
# A longer word than this may break anywhere at the head of a row.
LONGEST_WORD = 16
BLANK = '<td class="blank"></td>'


def table(head: Iterable[str], rows: Iterable[str], kind: str = "") -> str:
    """Give a table; head: HTML already."""
    heads = "".join(f'<th scope="col">{one}</th>' for one in head)
    return f'<table class="{kind}"><thead><tr>{heads}</tr></thead><tbody>{"".join(rows)}</tbody></table>'


def row(first: str, cells: Iterable[str], blanks: int = 0) -> str:
    """Give a row of text cells, then so many blanks to write in."""
    # Long words may break anywhere, so that a table never leaves the paper; numbers never do.
    filled = "".join(
        f'<td class="{"words" if len(cell) > LONGEST_WORDS else "number"}">{text(cell)}</td>'
        for cell in cells
    )
    long = any(len(word) > LONGEST_WORD for word in first.split())
    kind = ' class="words"' if long else ""
    head = f'<th scope="row"{kind}>{text(first)}</th>'
    return f"<tr>{head}{filled}{BLANK * blanks}</tr>"
