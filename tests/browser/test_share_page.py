"""The page of a shared site: visits are bars over time, nothing plays without a timetable, eight can be told apart."""

from pathlib import Path

from choreo.sharing.planning import plan_share
from choreo.sharing.shown import page_of_share
from tests.browser.conftest import Show

LIFT = """\
choreo share: 1
title: One lift for all
vehicles: {car: {visits: [{at: lift, for: 10 min}], count: COUNT}}
within: WITHIN
"""
# How much of the diagram's canvas has been drawn on.
DRAWN = """() => {
  const c = document.getElementById("lines"), all = c.getContext("2d").getImageData(0, 0, c.width, c.height).data;
  let drawn = 0;
  for (let i = 3; i < all.length; i += 4) drawn += all[i] > 0;
  return drawn / (c.width * c.height);
}"""


def page_of(folder: Path, count: int, within: str) -> str:
    file = folder / "share.yaml"
    file.write_text(LIFT.replace("WITHIN", within).replace("COUNT", str(count)), encoding="utf-8")
    return page_of_share(plan_share(file))


def test_visits_are_bars_and_whoever_comes_after_six_is_hollow(show: Show, tmp_path: Path) -> None:
    watched = show(page_of(tmp_path, 8, "2 h"))
    page = watched.page
    assert page.locator("#lines").is_visible()
    assert not page.locator("#view").is_visible()
    # Eight bars one after the other: an eighth of each row, on seven tenths of its height.
    assert 0.05 < page.evaluate(DRAWN) < 0.2
    names = page.locator("#who tbody th")
    assert names.count() == 8
    assert [int("hollow" in one.get_attribute("class")) for one in names.all()] == [0] * 6 + [1] * 2
    page.evaluate("now = 700; show()")
    assert sorted(page.locator("#who tbody td:nth-child(2)").all_inner_texts())[:2] == [
        "at lift",
        "done",
    ]
    assert watched.complaints == []


def test_without_a_timetable_nothing_plays(show: Show, tmp_path: Path) -> None:
    watched = show(page_of(tmp_path, 2, "15 min"))
    assert "NO TIMETABLE" in watched.page.locator(".stamp").inner_text()
    for part in ("#play", "#lines", "#who"):
        assert not watched.page.locator(part).is_visible()
    assert watched.complaints == []
