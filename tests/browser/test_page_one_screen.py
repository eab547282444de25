"""View, transport and charts are seen together, at every size, and nothing jumps while a plan plays."""

from __future__ import annotations

from typing import Any

import pytest

from tests.browser.conftest import Show
from tests.unit.page.shown import page

WHOLE = (
    "#plan", "#play", "#scrub", "#score svg", "#chart-speed svg", "#chart-accel svg",
    "#chart-room svg",
)  # fmt: skip
BOXES = """(names) => names.map((name) => {
    const box = document.querySelector(name).getBoundingClientRect();
    return [box.left, box.top, box.right, box.bottom];
})"""


def boxes(shown: Any, names: tuple[str, ...]) -> list[list[float]]:
    found: list[list[float]] = shown.evaluate(BOXES, list(names))
    return found


# The last size is the first at 200 %.
@pytest.mark.parametrize(("wide", "high"), [(1440, 900), (1024, 768), (720, 450)])
@pytest.mark.parametrize("name", ["walker-nearside", "braking-lead-time-gap"])
def test_view_transport_and_charts_are_on_the_screen_together(
    name: str, wide: int, high: int, show: Show
) -> None:
    shown = show(page(name), wide, high).page
    for selector, (left, top, right, bottom) in zip(WHOLE, boxes(shown, WHOLE), strict=True):
        assert left >= 0, selector
        assert top >= 0, selector
        assert right <= wide, selector
        assert bottom <= high + 1, selector
    view, strip = boxes(shown, (".stage", ".strip"))
    assert (view[2] - view[0]) / wide == pytest.approx(0.6, abs=0.05)
    assert strip[0] >= view[2]


def test_phone_shows_view_and_transport_and_one_chart_at_a_time(show: Show) -> None:
    shown = show(page("walker-nearside"), 390, 844).page
    charts = ("score", "chart-speed", "chart-accel", "chart-room")

    def seen() -> list[str]:
        return [one for one in charts if shown.locator(f"#{one}").is_visible()]

    assert seen() == ["score"]
    shown.select_option("#chart-of", "chart-speed")
    assert seen() == ["chart-speed"]
    assert shown.locator("#chart-speed svg").bounding_box()["width"] > 300
    plan, play = boxes(shown, ("#plan", "#play"))
    assert plan[1] < 844
    assert play[3] <= 844


# On a phone, where words have less room; on a wide screen every page is looked at where it plays.
@pytest.mark.parametrize(("name", "wide", "high"), [("two-encounters", 390, 844)])
def test_nothing_is_shifted_while_it_plays(name: str, wide: int, high: int, show: Show) -> None:
    names = (*WHOLE[:4], "#break-off-now", "#readout tbody tr:last-child", "#said", "#clock")
    shown = show(page(name), wide, high).page
    before = boxes(shown, names)
    end = shown.evaluate("choreo.end()")
    for step in range(1, 21):
        shown.evaluate(f"choreo.setTime({end * step / 20})")
        after = boxes(shown, names)
        tops = [[round(box[k], 1) for k in (0, 1, 3)] for box in after]
        assert tops == [[round(box[k], 1) for k in (0, 1, 3)] for box in before], step


def test_head_tells_six_figures_of_a_plan(show: Show) -> None:
    shown = show(page("walker-nearside"), 1440, 900).page
    told = shown.eval_on_selector_all(".figures dt", "all => all.map((one) => one.textContent)")
    assert told == ["encounter", "closing", "trigger", "runway", "last call", "room to the edge"]
    values = shown.eval_on_selector_all(
        ".figures dd", "all => all.map((one) => one.firstChild.textContent.trim())"
    )
    assert values == ["10.408 s", "40.0 km/h", "3.955 s", "112.043 m", "9.069 s", "25.519 m"]
