"""Errors on the page: drawn without a complaint, where the numbers say, legible in the dark and on a phone."""

from __future__ import annotations

import pytest

from choreo.page import page_of
from choreo.page.errors import Seen
from choreo.plans.authority_record import Authority
from choreo.plans.errors_record import Cloud
from tests.browser.conftest import Show
from tests.unit.page.shown import whole
from tests.unit.report.told_by_hand import TOLD

POSES = tuple((446.35, 0.01 * index, 0.0) for index in range(-5, 6))
OTHERS = tuple((450.0, 0.02 * index, 1.5708) for index in range(-5, 6))
CLOUD = Cloud("contact", "subject", "walker", POSES, OTHERS)
TIMES = (6.0, 7.0, 8.0)
AUTHORITY = Authority(
    "walker", "subject", "contact", 8.0, 0.05, TIMES, (None, 0.4, 0.0), (0.5, 0.3, 0.0),
    (None, 4.0, 0.0), (5.0, 3.0, 0.0), 0.04, 7.6,
)  # fmt: skip
WIDTHS = """(kind) => [...document.querySelectorAll('.errors-drawn .' + kind)]
    .map((one) => one.getBoundingClientRect()).map((box) => [box.left, box.right])"""


@pytest.mark.parametrize(("width", "dark"), [(1366, False), (390, True)])
def test_impacts_shares_poses_and_authority_are_drawn(show: Show, width: int, dark: bool) -> None:
    found = whole("walker-nearside")
    text = page_of(
        found.scenario,
        found.plan,
        found.paths,
        found.ground,
        errors=Seen(TOLD, (CLOUD,), (AUTHORITY,)),
    )
    watched = show(text, width=width, dark=dark)
    shown = watched.page
    assert watched.complaints == []
    assert shown.evaluate("document.documentElement.scrollWidth") <= width
    assert shown.locator(".errors-drawn").count() == 4
    band = shown.evaluate(WIDTHS, "band")[0]
    inside = shown.evaluate(WIDTHS, "inside")
    outside = shown.evaluate(WIDTHS, "outside")
    assert len(inside) == 10
    assert all(band[0] - 1 <= left and right <= band[1] + 1 for left, right in inside)
    assert len(outside) > 20
    assert all(right <= band[0] + 1 or left >= band[1] - 1 for left, right in outside)
    # The largest share has the longest bar.
    bars = [right - left for left, right in shown.evaluate(WIDTHS, "share")]
    assert bars == sorted(bars, reverse=True)
    assert shown.locator(".errors-drawn .with").count() == len(OTHERS)
