"""The page of a campaign: its matrix as a map of a figure, each variant's marks, and its plan playing."""

from __future__ import annotations

import base64
import json
import zlib
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import field
from typing import Any

from choreo.geometry import Path
from choreo.ground import Ground
from choreo.page.data import data_of, embedded
from choreo.page.document import SIGNS, head_html, script_of_plan
from choreo.page.errors import cloud_data
from choreo.page.markup import about_html, filled, read, section_html, text, told
from choreo.page.sheet import sheet_html
from choreo.plans.record import Plan
from choreo.report.content import Content, content_of
from choreo.report.launches import launch_words
from choreo.scenario import Scenario
from choreo.words.caution import CAUTION
from choreo.words.display import degrees, plain
from choreo.words.records import dataclass

# Deflated as far as it goes: the page is written once and read often.
LEVEL = 9


@dataclass(frozen=True)
class Planned:
    """A variant's plan and what it was planned of. paths: by mover."""

    scenario: Scenario
    plan: Plan
    paths: Mapping[str, Path]
    ground: Ground | None


@dataclass(frozen=True)
class Shown:
    """One variant on the page.

    verdict: 'feasible', 'not clear', 'infeasible', 'undecided', or 'faulty' for values that make no scenario. told: in
    a line. figures: by name, their units in it; words (a staging) are allowed. planned: None where nothing plays.
    """

    name: str
    run: str
    values: Mapping[str, str]
    verdict: str
    told: str
    figures: Mapping[str, float | str] = field(default_factory=dict)
    planned: Planned | None = None


def campaign_page(
    content: Content,
    about: str,
    variants: Sequence[Shown],
    heading: str = "All variants",
    *,
    opens: bool = False,
) -> str:
    """Write the page of a campaign as one HTML file.

    content: what is told of the day, laid out as tables. heading: over the matrix of what can be played. opens: on the
    first variant, ready to play.
    """
    page_style = read("page.css")
    style, script = page_style + read("campaign.css"), read("campaign.js")
    plays = script_of_plan()
    shell = filled(
        "campaign-plan.html",
        style=page_style,
        stage=filled("stage.html"),
        player=filled("player.html"),
        script=plays,
    )
    return filled(
        "campaign.html",
        head=head_html(content.title, (style, page_style), (script, plays)),
        heading=text(heading),
        title=text(content.title),
        verdict=text(content.verdict),
        sign=SIGNS[content.verdict],
        headline=text(content.headline),
        about=about_html(about),
        summary=told(content.summary),
        caution=text(CAUTION),
        tables="".join(section_html(section) for section in content.sections),
        data=embedded(_data(variants, shell) | {"opens": opens}),
        script=script,
    )


def campaign_sheets(content: Content, planned: Sequence[Planned]) -> str:
    """Write the whole day for paper: its timetable and stagings, then the run sheet of every variant."""
    style = read("sheet.css") + read("sheets.css")
    # The caution stands on top of the first page: the tables below it may go on for pages.
    tables = "".join(section_html(one) for one in content.sections if one.key != "caution")
    cover = (
        f'<article class="sheet cover"><header><p class="kind">Day sheet</p><h1>{told(content.title)}</h1>'
        f'<p class="small">{text(content.headline)}. {told(content.summary)}</p>'
        f'<p class="advice"><b>Caution.</b> {text(CAUTION)}</p></header>{tables}</article>'
    )
    sheets = [
        sheet_html(
            one.scenario, one.plan, one.paths, content_of(one.scenario, one.plan), one.ground
        )
        for one in planned
    ]
    return filled(
        "sheet-page.html",
        head=head_html(f"Run sheet: {content.title}", (style,), ()),
        sheet=cover + "".join(sheets),
    )


def _data(variants: Sequence[Shown], shell: str) -> dict[str, Any]:
    """What the page's script needs; plans deflated together."""
    plans = [one.planned for one in variants if one.planned is not None]
    without_errors = {"clouds": cloud_data(())}
    documents = [
        data_of(one.scenario, one.plan, one.paths, one.ground) | without_errors for one in plans
    ]
    packed = zlib.compress(json.dumps(documents, separators=(",", ":")).encode(), LEVEL)
    numbers = {id(one): number for number, one in enumerate(plans)}
    names = list(dict.fromkeys(one.run for one in variants))
    figures = dict.fromkeys(name for one in variants for name in one.figures)
    return {
        "runs": [
            {
                "name": name,
                "names": list(next(one for one in variants if one.run == name).values),
            }
            for name in names
        ],
        "variants": [_variant(one, numbers.get(id(one.planned), -1)) for one in variants],
        "figures": ["verdict", *figures],
        "stagings": sorted(
            {str(one.figures["staging"]) for one in variants if "staging" in one.figures}
        ),
        "counts": dict(Counter(one.verdict for one in variants)),
        "plans": base64.b64encode(packed).decode("ascii"),
        "shell": shell,
    }


def _variant(one: Shown, plan: int) -> dict[str, Any]:
    figures = {name: round(v, 3) if isinstance(v, float) else v for name, v in one.figures.items()}
    return {
        "name": one.name,
        "run": one.run,
        "values": dict(one.values),
        "verdict": one.verdict,
        "told": one.told,
        "figures": figures,
        "plan": plan,
        "marks": [] if one.planned is None else _marks(one.planned.plan),
    }


def _marks(plan: Plan) -> list[list[str]]:
    rows = []
    for name, mover in plan.movers.items():
        start = mover.start
        launch = (
            launch_words(mover, "by trigger {name}, {when} after go") if mover.pieces else "stands"
        )
        place = [plain(start.station_m), plain(start.x_m), plain(start.y_m)]
        rows.append([name, *place, degrees(start.heading_deg), launch])
    return rows
