"""A plan as an open page takes it in: what is on the screen, the run sheet, data for the script."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from choreo.case import Answer
from choreo.page.document import SIGNS, classes_of, data_of_page, foot_of, screen_of
from choreo.page.figures import figures_of
from choreo.page.sheet import sheet_html
from choreo.plans.record import Plan
from choreo.report.content import content_of
from choreo.words import Finding, errors_of
from choreo.words.quantities import quoted

# Without its room a runway has no way yet for a stop by failsafe.
OF_ROOM = "runway"


def picture_of(found: Answer, plan: Plan, *, in_file: bool) -> dict[str, Any]:
    """Give the parts of a page.

    plan: the answer's, with what would help. in_file: it is of the file as it stands; only of such a one there is a
    sheet for the crew, since no other can be looked up again.
    """
    scenario = found.scenario
    content = content_of(scenario, plan, full=True)
    sheet = ""
    if in_file and plan.verdict == "feasible":
        sheet = sheet_html(scenario, plan, found.paths, content, found.ground)
    classes = classes_of(plan)
    return {
        "title": plan.title,
        "classes": classes if sheet else classes.replace("prints-sheet", "prints-page"),
        "screen": screen_of(scenario, plan, content),
        "sheet": sheet,
        "foot": foot_of(plan),
        "data": data_of_page(scenario, plan, found.paths, found.ground),
    }


def glimpse_of(found: Answer, shown: Mapping[str, float]) -> dict[str, Any]:
    """Give what is known of a feasible plan before its room: motion and marks, figures but those that the room decides.

    shown: what the sliders show that it is of.
    """
    plan = found.plan
    content = content_of(found.scenario, plan)
    return {
        "shown": dict(shown),
        "sign": SIGNS[plan.verdict],
        "headline": plan.verdict.upper(),
        "classes": f"{plan.verdict} prints-page",
        "summary": content.summary,
        "fingerprint": plan.fingerprint,
        "figures": [one for one in figures_of(plan) if one[0] != OF_ROOM],
        "data": data_of_page(found.scenario, plan, found.paths, found.ground),
    }


def verdict_of(plan: Plan) -> str:
    """Say in a few words what became of a plan."""
    return f"{plan.verdict}, not clear" if plan.fails_checks else str(plan.verdict)


def faults_of(findings: Iterable[Finding]) -> list[dict[str, str]]:
    """Give the errors among findings as a page tells them: place, what is wrong, what to write instead."""
    return [
        {
            "place": "" if one.origin is None else _place(one),
            "text": _bare(one.text, one),
            "advice": _bare(one.advice, one),
        }
        for one in errors_of(tuple(findings))
    ]


def _bare(words: str, one: Finding) -> str:
    """Words without the folder of the file that they are of: pages know none."""
    if one.origin is None:
        return words
    file = one.origin.file
    folder = file.removesuffix(_name(file))
    words = words.replace(quoted(file), _name(file))
    return words.replace(folder, "") if folder else words


def _name(file: str) -> str:
    return file.replace(chr(92), "/").rsplit("/", 1)[-1]


def _place(one: Finding) -> str:
    """'walker.yaml, line 12': files by their names alone, pages know no folders."""
    origin = one.origin
    assert origin is not None
    return f"{_name(origin.file)}, line {origin.line}"
