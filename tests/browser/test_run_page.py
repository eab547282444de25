"""A recorded run over its plan: both are drawn, what breaks a band is marked, nothing complains."""

from __future__ import annotations

import numpy as np

from choreo.page.run import run_page_of
from choreo.report.content import Content
from choreo.scoring.score import score
from choreo.scoring.showing import seen_run
from choreo.scoring.telling import run_content
from tests.browser.conftest import Show
from tests.unit.page.shown import whole
from tests.unit.scoring.test_scored_by_rules import KMH, PLACE, as_planned, staged, with_subject


def test_a_run_plays_over_its_plan_with_its_bands(show: Show) -> None:
    stage, rules = staged()
    fast = as_planned()
    speed = fast.tracks["subject"].speed_mps + np.where(fast.time_s > 11.0, 1.5 * KMH, 0.0)
    told, run = score(stage, with_subject(fast, speed_mps=speed), PLACE, rules)
    content: Content = run_content(stage.plan.title, told, None)
    seen = seen_run(run, told, content)
    band = next(one for one in seen.data["bands"] if one["key"] == "off" and one["mover"] == 0)
    # 1.5 km/h fast where 1 is allowed: broken from then on to the end of the window.
    (broken,) = band["broken"]
    assert broken[1] == band["until"]
    assert (band["low"], round(band["high"], 6)) == (0.0, 1.0)
    # As if the recording began a little later than the run.
    for one in seen.data["movers"]:
        one |= {key: values[5:] for key, values in one.items()}
    found = whole("walker-by-rules")
    text = run_page_of(found.scenario, stage.plan, found.paths, found.ground, seen)
    watched = show(text)
    shown = watched.page
    assert watched.complaints == []
    assert "INVALID" in shown.locator(".stamp").inner_text()
    assert shown.locator("#chart-accel .broken").count() == 1
    assert shown.locator("#chart-accel .corridor").count() == 2
    assert shown.locator("#chart-room .corridor").count() == 2
    values = "all => all.map((one) => one.textContent)"
    # It opens where the recording begins, with all values.
    assert shown.evaluate("choreo.time()") == seen.data["movers"][0]["t"][0] > 0
    assert "-" not in shown.eval_on_selector_all("text.value", values)
    # Of what was not recorded yet no figure is told.
    shown.evaluate("choreo.setTime(0)")
    told_values = shown.eval_on_selector_all("text.value", values)
    assert "-" in told_values
    assert "NaN" not in told_values
    shown.evaluate("choreo.setTime(9.5)")
    assert watched.complaints == []
    words = shown.locator("#moment").inner_text()
    assert "T0, as run" in words
    assert "as run" in shown.locator("#legend").inner_text()
