"""Two plans over one another: both play under one time, the table says what `choreo diff` says, nothing complains."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from choreo.page import Drawn, compared_page
from choreo.report.changes import changes_of
from choreo.track.motion import motion_of
from tests.browser.conftest import Show
from tests.unit.page.shown import whole


def test_the_plan_before_plays_as_outlines_under_the_same_time(show: Show) -> None:
    found = whole("walker-nearside")
    plan = found.plan
    subject = plan.movers["subject"]
    later = replace(
        subject,
        launch_s=subject.launch_s + 1.5,
        pieces=tuple(replace(one, start_s=one.start_s + 1.5) for one in subject.pieces),
    )
    meets = replace(plan.encounters["contact"], time_s=plan.encounters["contact"].time_s + 1.5)
    old = replace(plan, movers=plan.movers | {"subject": later}, encounters={"contact": meets})
    now = Drawn(found.scenario, plan, found.paths, found.ground)
    watched = show(compared_page(replace(now, plan=old), now), 1440, 900)
    shown = watched.page
    times = [0.0, 3.21, 9.0, shown.evaluate("choreo.end()")]
    assert times[-1] == pytest.approx(motion_of(later).end_s)
    for name in ("subject", "walker"):
        for one, drawn in ((plan, "poses"), (old, "before")):
            stations, _ = motion_of(one.movers[name]).states(np.array(times))
            poses = found.paths[name].pose(stations)
            for time_s, x_m, y_m in zip(times, poses.x_m, poses.y_m, strict=True):
                shown.evaluate(f"choreo.setTime({time_s})")
                at = shown.evaluate(f"choreo.{drawn}().{name}")
                told = (at.get("x_m", at.get("x")), at.get("y_m", at.get("y")))
                assert told == pytest.approx((x_m, y_m), abs=1e-3)
    rows = shown.locator("#differences tbody tr").evaluate_all(
        "rows => rows.map((row) => [...row.cells].map((cell) => cell.textContent))"
    )
    assert rows == [list(row) for row in changes_of(old, plan)]
    assert "subject, before" in [words for words, _ in _labels_at(shown, 5.0)]
    assert "before 11.908 s" in shown.locator(".figures").inner_text()
    assert shown.locator(".was").count() == 2
    shown.emulate_media(media="print")
    assert shown.locator("#differences").is_visible()
    shown.set_viewport_size({"width": 390, "height": 844})
    assert shown.evaluate("document.documentElement.scrollWidth") <= 390
    assert watched.complaints == []


def _labels_at(shown: Any, time_s: float) -> list[tuple[str, list[float]]]:
    found: list[tuple[str, list[float]]] = shown.evaluate(
        f"() => {{ choreo.setTime({time_s}); return choreo.labels(); }}"
    )
    return found
