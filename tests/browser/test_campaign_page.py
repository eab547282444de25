"""The page of a campaign: a map of all variants; a click shows the marks of one and plays its plan, without network."""

from functools import cache
from typing import Any

from choreo.page import Planned, Shown, campaign_page, campaign_sheets
from choreo.report.content import Content
from choreo.report.sections import Table
from tests.answers import whole
from tests.browser.conftest import Show

EVIL = '</script><img src=x onerror="window.evil=1"><script>window.evil=2</script>'
CONTENT = Content(
    "feasible", "FITS", EVIL, "All fits.", (Table("timetable", ("go",), (("08:00",),)),)
)


def _planned(name: str) -> Planned:
    answer = whole(name)
    return Planned(answer.scenario, answer.plan, answer.paths, answer.ground)


@cache
def _page(copies: int = 1, *, opens: bool = False) -> str:
    one, other = _planned("walker-nearside"), _planned("cut-in")
    shown = [
        Shown(
            "a/speed=1", "a", {"speed": "1", "gap": EVIL}, "feasible", "x", {"runway, m": 1.0}, one
        ),
        Shown("a/speed=2", "a", {"speed": "2", "gap": EVIL}, "infeasible", "short by 3 m"),
        *(
            Shown(f"b/{k}", "b", {"speed": str(k)}, "feasible", "x", {"runway, m": 9.0 + k}, other)
            for k in range(copies)
        ),
    ]
    return campaign_page(CONTENT, "", shown, opens=opens)


def _playing(page: Any) -> Any:
    """Give the frame once its plan is laid out."""
    for _ in range(400):
        for frame in page.frames[1:]:
            if frame.evaluate("Boolean(window.choreo && window.choreo.end)"):
                return frame
        page.wait_for_timeout(25)
    raise AssertionError("no plan was laid out")


def test_a_page_that_opens_on_its_first_variant_plays_it_without_a_click(show: Show) -> None:
    watched = show(_page(opens=True))
    watched.page.frame_locator("#plays").locator("#play").wait_for()
    assert watched.page.locator("#name").inner_text() == "a/speed=1"
    assert watched.page.locator("button[aria-pressed='true']").count() == 1
    assert watched.complaints == []


def test_a_click_shows_the_marks_and_plays_the_plan(show: Show) -> None:
    for dark in (False, True):
        watched = show(_page(), dark=dark)
        page = watched.page
        assert page.locator("#runs button").count() == 3
        page.select_option("#figure", "runway, m")
        assert page.locator("button[aria-label='b/0: 9.00']").count() == 1
        page.click("button[aria-label^='a/speed=1']")
        marks = page.locator("#marks tbody tr")
        assert marks.count() == 2
        assert "walker" in marks.nth(1).inner_text()
        frame = _playing(page)
        end = frame.evaluate("window.choreo.end()")
        frame.evaluate(f"window.choreo.setTime({end})")
        plan = _planned("walker-nearside").plan
        at = frame.evaluate("window.choreo.poses().subject.station_m")
        assert abs(at - plan.movers["subject"].events[-1].station_m) < 1e-3
        page.click("button[aria-label^='a/speed=2']")
        assert page.locator("#plays").is_hidden()
        assert page.locator("#told").inner_text() == "short by 3 m"
        assert watched.complaints == []
        assert [url for url in watched.asked if not url.startswith(("file:", "about:"))] == []
        assert page.evaluate("window.evil") is None


def test_narrow_screens_never_scroll_sideways_and_sheets_have_their_pages(show: Show) -> None:
    watched = show(_page(), 375, 740)
    watched.page.click("button[aria-label^='a/speed=1']")
    assert watched.page.evaluate("document.documentElement.scrollWidth") <= 375
    sheets = campaign_sheets(CONTENT, [_planned("walker-nearside")])
    pdf = show(sheets).page.pdf(prefer_css_page_size=True)
    assert pdf.count(b"/Type /Page\n") + pdf.count(b"/Type /Page ") >= 4


def test_plans_are_packed_small() -> None:
    """Each of a hundred plans takes less than 3 kB, so that 500 stay under 2 MB."""
    assert (len(_page(101)) - len(_page())) / 100 < 3000
