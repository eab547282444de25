"""Two plans over one another on one page: the one before as outlines, and a table of what a crew has to change."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from choreo.geometry import Path
from choreo.ground import Ground
from choreo.page.data import encounter_data, mover_data
from choreo.page.document import Beside, classes_of, data_of_page, page_html, screen_of
from choreo.page.markup import section_html, text
from choreo.plans.record import Plan
from choreo.report.changes import changes_content
from choreo.report.content import content_of, headline_of
from choreo.report.sections import Section
from choreo.scenario import Scenario
from choreo.track.motion import motion_of
from choreo.words.records import dataclass

# A saved plan is drawn on a path that leads through its events, give or take this much (m).
SAME_PATH_M = 0.01


@dataclass(frozen=True)
class Drawn:
    """A plan and what it is drawn with. paths: by mover. ground: None where the site draws none.

    A plan from a document may be drawn with a scenario that it was not planned of, as far as paths agree.
    """

    scenario: Scenario
    plan: Plan
    paths: Mapping[str, Path]
    ground: Ground | None


def off_path(one: Drawn) -> tuple[str, ...]:
    """Name the movers of a plan that can't be drawn with its scenario: not in it, or planned on another path."""
    return tuple(name for name in one.plan.movers if not _on_path(one, name))


def _on_path(one: Drawn, name: str) -> bool:
    if name not in one.scenario.movers:
        return False
    planned = one.plan.movers[name]
    told = [(planned.start.station_m, planned.start.x_m, planned.start.y_m)]
    told += [(event.station_m, event.x_m, event.y_m) for event in planned.events]
    s_m, x_m, y_m = np.array(told).T
    poses = one.paths[name].pose(s_m)
    return bool(np.hypot(poses.x_m - x_m, poses.y_m - y_m).max() <= SAME_PATH_M)


def compared_page(before: Drawn, now: Drawn) -> str:
    """Write the page of a plan over one before it, as one HTML file."""
    plan, content = now.plan, content_of(now.scenario, now.plan, full=True)
    changes = changes_content(before.plan, plan)
    missing = off_path(before)
    beside = Beside(
        before.plan,
        _note(before, changes.summary, missing),
        _differences([one for one in changes.sections if one.key != "caution"]),
    )
    data = data_of_page(now.scenario, plan, now.paths, now.ground)
    ends = [motion_of(mover).end_s for mover in before.plan.movers.values()]
    return page_html(
        plan,
        f"{plan.title}, compared",
        classes_of(plan).replace("prints-sheet", "prints-page"),
        screen_of(now.scenario, plan, content, beside=beside),
        data
        | {
            "end": max(data["end"], *ends, 0.0),
            "before": _ghosts(before, list(now.scenario.movers)),
        },
        parts=("5-before",),
    )


def _ghosts(one: Drawn, names: list[str]) -> dict[str, Any]:
    """Movers and encounters of the plan before, for the script. names: of the movers of the page's own plan."""
    drawn = [name for name in one.plan.movers if name not in off_path(one)]
    known = [*names, *(name for name in drawn if name not in names)]
    return {
        "movers": [mover_data(name, one.scenario, one.plan, one.paths[name]) for name in drawn],
        "as": [known.index(name) for name in drawn],
        "encounters": [
            encounter_data(name, met, drawn)
            for name, met in one.plan.encounters.items()
            if met.of in drawn and met.with_ in drawn
        ],
    }


def _note(before: Drawn, summary: str, missing: tuple[str, ...]) -> str:
    plan = before.plan
    lacks = ", ".join(missing)
    words = (
        f" Not drawn of it: {lacks}, on a path that this scenario doesn't have." if missing else ""
    )
    return (
        f'<p class="compared">Over <strong>{text(plan.title)}</strong> (plan <code>{text(plan.fingerprint)}</code>, '
        f"{text(headline_of(plan))}), which is drawn as dashed outlines. {text(summary)} "
        f'<a href="#differences">What differs</a>.{text(words)}</p>'
    )


def _differences(sections: list[Section]) -> str:
    told = "".join(section_html(one) for one in sections) or "<p>The same for a crew.</p>"
    return (
        f'<section class="differences" id="differences" aria-label="What differs">{told}</section>'
    )
