"""One HTML file of a recorded run over its plan: both play under one time, signals stand against their bands."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from choreo.geometry import Path
from choreo.ground import Ground
from choreo.page.data import data_of
from choreo.page.document import SIGNS, page_html, screen_html
from choreo.page.figures import tiles_html
from choreo.page.markup import notes_html, section_html, text
from choreo.plans.record import Plan
from choreo.report.content import Content
from choreo.report.sections import notes_of
from choreo.scenario import Scenario
from choreo.words.records import dataclass


@dataclass(frozen=True, eq=False)
class RunSeen:
    """A run as it is shown. figures: name, value, more. data: motions, bands and moments for the script.

    ends_s: until when it plays, in s after go.
    """

    content: Content
    figures: tuple[tuple[str, str, str], ...]
    data: Mapping[str, Any]
    ends_s: float


def run_page_of(
    scenario: Scenario, plan: Plan, paths: Mapping[str, Path], ground: Ground | None, seen: RunSeen
) -> str:
    """Write the page of a run. paths: by mover. ground: the site's, None where it draws none."""
    content = seen.content
    data = data_of(scenario, plan, paths, ground)
    last = notes_of(content.sections, "caution")
    screen = screen_html(
        content,
        plan,
        sign=SIGNS[content.verdict],
        figures=tiles_html(seen.figures),
        tables="".join(section_html(one) for one in content.sections if one not in last),
        notes="".join(notes_html(one) for one in last),
    )
    return page_html(
        plan,
        content.title,
        f"{text(content.verdict)} clear prints-page",
        screen,
        data | {"end": max(data["end"], seen.ends_s), "clouds": [], "run": seen.data},
        parts=("5-run",),
    )
