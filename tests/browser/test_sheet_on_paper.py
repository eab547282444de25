"""The run sheet as a browser prints it: three pages, large enough to read, filled, nothing cut or parted."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

import pypdfium2 as pdfium
import pytest

from choreo.page.sheet_marks import tapes_html
from tests.browser.conftest import Show
from tests.unit.page.shown import page, sheet, whole

# Of every kind: walkers, laps, cones, obstacles moved for a sight, a rule set, three movers. Two movers without long
# lists take three pages, the others what they need.
THREE = (
    "walker-nearside",
    "stationary-target",
    "parks-backwards",
    "severe-lane-change",
    "junction-crossing",
    "slower-lead",
)
MORE = (
    "two-encounters",
    "walker-by-rules",
    "child-seen-late",
    "door-opens-before-cyclist",
)
# A4 in points, and the margins of the sheet: 10 mm above, 12 mm beside and below.
WIDE, HIGH = 595.0, 842.0
SIDE, TOP, FOOT = 12 * 72 / 25.4, 10 * 72 / 25.4, 12 * 72 / 25.4
# Half a point of rounding.
ROUNDING = 0.5
SIZES = """() => [...document.querySelectorAll('.sheet th, .sheet td')].map((cell) => [
    parseFloat(getComputedStyle(cell).fontSize) * 0.75,
    cell.closest('.calls, .marks, .weighty') !== null,
    cell.closest('thead') !== null,
])"""
PARTED = r"\d (?:km/h|m/s2|m/s|m2|mm|cm|m|ms|s|deg|%)(?![\w/])"


@dataclass(frozen=True)
class Printed:
    """Where text stands on one page, in points from the left and from below: its right edge and its lowest line."""

    right: float
    lowest: float
    first: str

    @property
    def filled(self) -> float:
        """The share of the page within its margins that is used from above."""
        return (HIGH - TOP - self.lowest) / (HIGH - TOP - FOOT)


def printed(pdf: bytes) -> list[Printed]:
    found = []
    document = pdfium.PdfDocument(pdf)
    for number in range(len(document)):
        text = document[number].get_textpage()
        boxes = [text.get_charbox(at) for at in range(text.count_chars())]
        inside = [one for one in boxes if one[1] > FOOT - ROUNDING and one[2] > one[0]]
        words = text.get_text_range()
        found.append(Printed(max(one[2] for one in inside), min(one[1] for one in inside), words))
    return found


def on_paper(show: Show, text: str) -> tuple[Any, list[Printed]]:
    shown = show(text).page
    return shown, printed(shown.pdf(prefer_css_page_size=True))


@pytest.mark.parametrize("name", ["steady-circle", *THREE, *MORE])
def test_sheet_is_filled_legible_and_whole(name: str, show: Show) -> None:
    shown, pages = on_paper(show, sheet(name))
    # One mover without encounters takes two.
    least, most = (3, 3) if name in THREE else (3, 4) if name in MORE else (2, 2)
    assert least <= len(pages) <= most
    assert [one.filled for one in pages[:-1] if one.filled < 0.5] == []
    # Cautions and signatures have no page for themselves.
    assert "People, posts, vehicles" in pages[-1].first
    assert max(one.right for one in pages) <= WIDE - SIDE + ROUNDING
    shown.emulate_media(media="print")
    sizes = shown.evaluate(SIZES)
    assert min(size for size, _, _ in sizes) >= 9.5 - 1e-3
    weighty = [size for size, heavy, head in sizes if heavy and not head]
    assert weighty
    assert min(weighty) >= 11.0 - 1e-3
    assert (
        shown.evaluate("parseFloat(getComputedStyle(document.querySelector('.abort')).fontSize)")
        == 16
    )
    # A number and its unit are one word to the browser.
    words = sheet(name).split("</style>")[1]
    assert re.findall(PARTED, re.sub(r"<[^>]*>", "|", words)) == []
    # No heading is left alone at the foot of a page.
    headings = shown.locator(".sheet h2").all_text_contents()
    assert len(headings) > 5
    last = [one.first.split("page ")[0].strip().splitlines()[-2:] for one in pages[:-1]]
    assert [line for lines in last for line in lines if line.strip() in headings] == []
    assert len(sheet(name).encode()) < 60_000


def test_page_prints_the_same_sheet(show: Show) -> None:
    alone, within = (on_paper(show, one)[1] for one in (sheet(THREE[0]), page(THREE[0])))
    assert [one.first for one in alone] == [one.first for one in within]


def test_a_door_is_told_in_degrees_and_obstacles_have_their_tapes() -> None:
    door = sheet("door-opens-before-cyclist")
    assert "60.0\u00a0deg/s" in door
    assert "+200.0\u00a0deg/s2" in door
    assert "60.00 km/h" not in door
    plan = whole("walker-nearside").plan
    start = plan.movers["walker"].start
    hut = [(start.x_m + 3.0, start.y_m + 4.0), (start.x_m + 9.0, start.y_m + 4.0)]
    # 3-4-5 by hand; nobody tapes half a kilometre.
    assert 'walker to the next corner of hut</th><td class="number">5.000' in tapes_html(
        plan, {"hut": hut}
    )
    far = [(start.x_m + 500.0, start.y_m)]
    assert "next corner" not in tapes_html(plan, {"mast": far})


def test_what_a_crew_looks_for_stands_on_its_page(show: Show) -> None:
    _, (first, second, third) = on_paper(show, sheet("walker-nearside"))
    for words in (
        "Break off",
        "LAST CALL",
        "Go or no-go",
        "Invented straight strip",
        "The run by the clock",
    ):
        assert words in first.first
    for words in (
        "Start marks",
        "Tape distances",
        "Speed gates",
        "Corners of the keep-out zone",
        "longitude",
    ):
        assert words in second.first
    for words in (
        "As run",
        "Conditions",
        "radio channel",
        "emergency number",
        "post 1",
        "subject: id, load",
    ):
        assert words in third.first
