"""A page that forbids its run shows where, one click from the message; one without a plan the way that is missing."""

from __future__ import annotations

import pytest

from choreo.case import whole_answer
from choreo.page import page_of
from choreo.scenario import load
from tests.answers import FOLDER
from tests.browser.conftest import Show
from tests.unit.page.shown import page, whole


def _faulty(code: str) -> str:
    found = whole_answer(load(FOLDER / "faulty" / f"{code}.yaml"))
    return page_of(found.scenario, found.plan, found.paths, found.ground)


def test_a_failed_check_leads_to_its_place_and_its_moment(show: Show) -> None:
    watched = show(_faulty("space.stop-touches"), 1440, 900)
    shown = watched.page
    shown.click(".screen .failed .where")
    # By hand: 36 km/h, 0.5 s of reaction and 6 m/s2 are 13.33 m of stop; the front is 3.4 m ahead, the van begins at
    # x = 72.5 m. Stops from x = 55.77 m on reach it; moments are 0.1 s, or 1 m, apart.
    assert shown.evaluate("choreo.view().viewed") == "spot 1"
    (one,) = shown.evaluate("choreo.spots()")
    pose = shown.evaluate("choreo.poses().subject")
    assert shown.evaluate("choreo.time()") == pytest.approx(one["t"])
    assert 55.7 < pose["x_m"] < 56.8
    assert 72.5 - 3.4 - 0.06 < one["pose"][0] < 72.5
    assert 72.4 < one["at"][0] < 73.6
    box = shown.locator("#plan").bounding_box()
    assert 0 < one["pixel"][0] < box["width"]
    assert 0 < one["pixel"][1] < box["height"]
    assert "1: a stop may touch van" in [words for words, _ in shown.evaluate("choreo.labels()")]
    shown = watched.open(_faulty("space.leaves-site"))
    # The site's edge is at x = 100: the zone beyond it is hatched, and the place is told in the message.
    assert min(x for rings in shown.evaluate("choreo.outside()") for x, _ in rings[0]) < 100.1
    shown.click(".screen .failed .where")
    (one,) = shown.evaluate("choreo.spots()")
    assert f"worst at x {one['at'][0]:.2f} m" in shown.inner_text(".screen .failed li")
    assert watched.complaints == []


def test_the_way_that_is_missing_is_drawn(show: Show) -> None:
    name = "impossible/runway-too-short-for-the-trigger"
    (budget,) = [one for one in whole(name).plan.budgets if one.unit == "m"]
    assert budget.lacks_m == (pytest.approx(-budget.short_by), 0.0)
    watched = show(page(name), 1440, 900)
    shown = watched.page
    labels = shown.evaluate("choreo.labels()")
    assert "43.971 m missing" in [words for words, _ in labels]
    shown.click(".budget .where")
    assert shown.evaluate("choreo.view().viewed") == "missing 1"
    assert "edge of drivable ground" in shown.inner_text("#legend")
    assert shown.evaluate("choreo.view().x") == pytest.approx(-budget.short_by / 2, abs=0.1)
    # An edge that is far out of view has no sign among those of what is drawn.
    far = watched.open(page("impossible/belt-stroke-too-short"))
    assert far.inner_text("#legend").split() == ["subject", "walker", "encounter"]
    assert watched.complaints == []
