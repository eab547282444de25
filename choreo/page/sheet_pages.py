"""Where the pages of a run sheet break: parts begin on a page of their own where that leaves none half empty."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from itertools import product

from choreo.words.records import dataclass

# Of A4 within the margins, in mm; a part begins on a new page where the last one is filled by about this much. Above it
# may be fuller than is thought, and what didn't fit stands alone on the next one: there the part goes on below that.
PAGE_MM = 274.0
ENOUGH, FULL = 0.68, 0.88
# Heights count for so much more where pages are saved: one that is too many is worse than a break less.
CAREFUL = 1.04
# About how high things are printed, in mm: a heading, a table's head, a row of one line, a line of text.
HEADING_MM, HEAD_MM, ROW_MM, LINE_MM = 9.0, 9.5, 5.6, 4.4
# More rows than these may go on on the next page, below a head of their own.
LONGEST = 16
# A caption that has half the width is so much higher (mm).
CAPTION_MM = 15.0
# A row with a cell of more characters than this has two lines.
ONE_LINE = 34
# A number and its unit never part at the end of a line.
UNITS = "km/h|deg/s2|deg/s|m/s2|m/s|m2|mm|cm|m|ms|s|deg|%|min|Hz|kg|g|lux|degC"
WITH_UNIT = re.compile(rf"(?<=\d) (?=(?:{UNITS})(?![\w/]))")
TAGS = re.compile(r"<[^>]*>")


@dataclass(frozen=True, slots=True)
class Block:
    """A piece of a sheet that stays together, as HTML; about how high it is printed, in mm."""

    html: str
    mm: float


def block(heading: str, body: str, mm: float | None = None) -> Block:
    """Give a section under a heading (plain words that we wrote); mm: of its body where that isn't a table."""
    if not body:
        return Block("", 0.0)
    height = HEADING_MM + (_tables_mm(body) if mm is None else mm)
    kind = ' class="long"' if body.count("</tr>") > LONGEST else ""
    return Block(f"<section{kind}><h2>{heading}</h2>{body}</section>", height)


def beside(left: Block, right: Block) -> Block:
    """Put two blocks side by side."""
    html = f'<div class="beside">{left.html}{right.html}</div>'
    return Block(html, max(left.mm + CAPTION_MM, right.mm))


def lines_mm(words: str, in_line: int = 114) -> float:
    """Give about how high words are printed, in mm."""
    return LINE_MM * (1 + len(TAGS.sub("", words)) // in_line)


def laid_out(parts: Iterable[Sequence[Block]]) -> str:
    """Put parts one after the other, each on a page of its own where that leaves the one before filled enough.

    Where it would take a page more than without, parts go on below one another.
    """
    listed = list(parts)
    choices = list(product((True, False), repeat=max(len(listed) - 1, 0)))
    allowed = [one for one in choices if _filled_enough(listed, one)]
    fresh = (False, *min(allowed, key=lambda one: (len(_pages(listed, one, CAREFUL)), -sum(one))))
    return "".join(
        f'<div class="part{" fresh" if new else ""}">{"".join(one.html for one in part)}</div>'
        for part, new in zip(listed, fresh, strict=True)
    )


def _filled_enough(parts: Sequence[Sequence[Block]], fresh: Sequence[bool]) -> bool:
    """Whether each page that a part leaves to begin on the next one is filled; without such parts it is so."""
    left = [
        _pages(parts[:number], fresh[: number - 1])[-1]
        for number in range(1, len(parts))
        if fresh[number - 1]
    ]
    return all(ENOUGH <= used / PAGE_MM <= FULL for used in left)


def _pages(
    parts: Sequence[Sequence[Block]], fresh: Sequence[bool], careful: float = 1.0
) -> list[float]:
    """About how far (mm) each page is filled; fresh: which of the parts after the first begin a page."""
    pages = [0.0]
    for part, new in zip(parts, (False, *fresh), strict=True):
        if new:
            pages.append(0.0)
        for one in part:
            high = careful * one.mm
            if pages[-1] + high <= PAGE_MM:
                pages[-1] += high
                continue
            pages += [PAGE_MM] * int(high // PAGE_MM) + [high % PAGE_MM]
    return pages


def kept_together(html: str) -> str:
    """Give HTML in which no number is parted from its unit."""
    return WITH_UNIT.sub("\u00a0", html)


def _tables_mm(html: str) -> float:
    """About how high tables and paragraphs are."""
    heads = html.count("<thead>")
    rows = re.findall(r"<tr[^>]*><th scope=\"row\".*?</tr>", html)
    long = sum(
        any(len(TAGS.sub("", cell)) > ONE_LINE for cell in re.findall(r"<td[^>]*>(.*?)</td>", one))
        for one in rows
    )
    words = re.findall(r"<p[^>]*>(.*?)</p>", html)
    return heads * HEAD_MM + (len(rows) + long) * ROW_MM + sum(map(lines_mm, words))
