"""Charts have a name and say in words what they show, headings come in order, and every mark can be seen."""

from __future__ import annotations

import re
from itertools import pairwise
from typing import Any

import pytest

from tests.browser.conftest import Show
from tests.unit.page.shown import page
from tests.unit.page.test_page_colours import contrast

CHARTS = """() => [...document.querySelectorAll('.time-axis figure svg')].map((one) => [
    one.getAttribute('role'), one.getAttribute('aria-label'),
    document.getElementById(one.getAttribute('aria-describedby')).textContent])"""
HEADINGS = """() => [...document.querySelectorAll('.screen :is(h1, h2, h3, h4)')]
    .map((one) => Number(one.tagName[1]))"""
# What carries a meaning in the charts, by what it is painted with; grids and rules of rows do not.
MARKS = """() => {
    const of = (all, key) => [...document.querySelectorAll(all)].map((one) => getComputedStyle(one)[key]);
    return {
        ground: getComputedStyle(document.querySelector('.strip')).backgroundColor,
        marks: [...of('.time-axis :is(.series, .moment-line, .cursor-line)', 'stroke'),
            ...of('.time-axis :is(.limit-line, .return-line, .block-shape)', 'stroke'),
            ...of('.time-axis :is(.dot, .flag-all, path.f0, path.f1)', 'fill')],
        texts: [...of('.time-axis text', 'fill'), ...of('.strip :is(figcaption, th, td, p)', 'color')],
    };
}"""


def _hexed(colour: str) -> str:
    """'rgb(11, 95, 165)' -> '#0b5fa5'."""
    if colour.startswith("#"):
        return colour
    return "#" + "".join(f"{int(one):02x}" for one in re.findall(r"\d+", colour)[:3])


def _drawn(shown: Any) -> tuple[set[str], set[str]]:
    """Colours of lines and of words in the plan view as drawn; what light comes through is paint under lines."""
    svg = shown.evaluate("choreo.svg()")
    plain = [
        one for one in re.findall(r"<(?:path|rect) [^>]*>", svg) if 'stroke-opacity="1"' in one
    ]
    lines = {found for one in plain for found in re.findall(r' stroke="([^"]+)"', one)}
    words = {
        found
        for one in re.findall(r"<text [^>]*>", svg)
        for found in re.findall(r' fill="([^"]+)"', one)
    }
    return lines - {"none"}, words - {"none"}


@pytest.mark.parametrize("dark", [False, True])
def test_every_mark_and_word_stands_out_and_charts_tell_what_they_show(
    dark: bool, show: Show
) -> None:
    watched = show(page("walker-nearside"), 1440, 900, dark=dark)
    shown = watched.page
    shown.evaluate("choreo.setTime(10.3)")
    found = shown.evaluate(MARKS)
    ground = _hexed(found["ground"])
    assert len(found["marks"]) > 20
    faint = {one for one in found["marks"] if contrast(_hexed(one), ground) < 3.0}
    assert faint == set()
    assert {one for one in found["texts"] if contrast(_hexed(one), ground) < 4.5} == set()
    # The whole run: zone, edges, marks, everybody.
    shown.evaluate("choreo.setTime(0)")
    lines, words = _drawn(shown)
    paint = shown.evaluate(
        """() => ['paper', 'sheet', 'grid'].map((one) =>
            getComputedStyle(document.documentElement).getPropertyValue(`--${one}`).trim())"""
    )
    assert len(lines - set(paint)) >= 5
    for behind in paint[:2]:
        assert [one for one in lines - set(paint) if contrast(one, behind) < 3.0] == []
        assert [one for one in words if contrast(one, behind) < 4.5] == []
    charts = shown.evaluate(CHARTS)
    assert [role for role, _, _ in charts] == ["img"] * 5
    assert "Speed, km/h" in [name for _, name, _ in charts]
    told = {name: words for _, name, words in charts}
    assert told["Speed, km/h"] == "subject: 0.0 to 40.0 km/h. walker: 0.0 to 5.0 km/h"
    assert "contact at 10.41 s" in next(iter(told.values()))
    shown.emulate_media(media="print")
    colours = "getComputedStyle(document.documentElement).getPropertyValue('--ink').trim()"
    assert shown.evaluate(colours) == "#000"


def test_headings_come_in_order_and_what_cannot_be_used_looks_so(show: Show) -> None:
    watched = show(page("steady-circle"), 1440, 900)
    off = watched.page.evaluate(
        """() => {
            const style = getComputedStyle(document.getElementById('near'));
            return [style.opacity, style.borderTopStyle];
        }"""
    )
    assert watched.page.locator("#near").is_disabled()
    assert float(off[0]) < 0.7
    assert off[1] == "dashed"
    for name in ("steady-circle", "impossible/runway-too-short-for-the-trigger"):
        shown = watched.open(page(name))
        levels = shown.evaluate(HEADINGS)
        assert levels[0] == 1
        assert levels.count(1) == 1
        steps = [after - before for before, after in pairwise(levels)]
        assert max(steps) <= 1
        assert shown.locator("main").count() == 1
        assert shown.locator("header.top").count() == 1
