"""Whole files: templates, style and script put together, and a policy that lets nothing else run."""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Mapping, Sequence
from typing import Any

from choreo.geometry import Path
from choreo.ground import Ground
from choreo.page.budgets import HATCH, budget_html
from choreo.page.data import data_of, embedded
from choreo.page.errors import Seen, cloud_data, errors_html
from choreo.page.figures import figures_html
from choreo.page.markup import (
    about_html,
    failed_html,
    filled,
    notes_html,
    read,
    section_html,
    table_html,
    text,
)
from choreo.page.sheet import sheet_html
from choreo.plans.record import Plan
from choreo.report.content import Content, content_of
from choreo.report.sections import Account, Notes, SectionKey, Table, notes_of
from choreo.scenario import Scenario
from choreo.words.caution import CAUTION
from choreo.words.display import KMH_PER_MPS, plain, quantity
from choreo.words.kinds import Verdict
from choreo.words.records import dataclass

# Parts of the script of every plan; they run in the order of their names, with those that a page has beside them.
SCRIPT = (
    "1-motion", "2-camera", "3-scene", "4-room", "4-spots", "5-charts", "6-time", "7-frames", "7-save", "8-controls",
)  # fmt: skip
# These notes belong to the tables; the others stand at the top or at the end.
NOTES_AMONG_TABLES: tuple[SectionKey, ...] = (
    "preferred",
    "triggers",
    "held",
    "relative",
    "returns",
    "obstacles of sights",
    "ground",
)
PRINT = '<button type="button" id="print">Print run sheet</button>'
SIGNS: Mapping[Verdict, str] = {"feasible": "\u2713", "infeasible": "\u2717", "undecided": "?"}


@dataclass(frozen=True, eq=False)
class Beside:
    """A plan that the page's own is compared with. note: HTML under the title; table: of what differs."""

    plan: Plan
    note: str
    table: str


def page_of(
    scenario: Scenario,
    plan: Plan,
    paths: Mapping[str, Path],
    ground: Ground | None = None,
    *,
    errors: Seen | None = None,
) -> str:
    """Write the page that plays a plan, or shows why there is none.

    paths: by mover. ground: the site's, None where it draws none. errors: what many runs of the plan gave.
    Returns the text of one HTML file.
    """
    content = content_of(scenario, plan, full=True)
    return page_html(
        plan,
        plan.title,
        classes_of(plan),
        screen_of(scenario, plan, content, errors),
        data_of_page(scenario, plan, paths, ground, errors),
        sheet_html(scenario, plan, paths, content, ground) if _runs(plan) else "",
    )


def page_html(
    plan: Plan,
    title: str,
    classes: str,
    screen: str,
    data: Mapping[str, Any],
    sheet: str = "",
    parts: Sequence[str] = (),
) -> str:
    """Put a page of a plan together. classes: of its body; screen, sheet: HTML; data, parts: for and of its script."""
    style, script = style_of_plan() + foot_of(plan), script_of_plan(*parts)
    return filled(
        "page.html",
        head=head_html(title, (style,), (script,)),
        classes=classes,
        screen=screen,
        sheet=sheet,
        data=embedded(data),
        script=script,
    )


def data_of_page(
    scenario: Scenario,
    plan: Plan,
    paths: Mapping[str, Path],
    ground: Ground | None,
    errors: Seen | None = None,
) -> dict[str, Any]:
    """Give what the script draws. paths: by mover; ground, errors: as page_of."""
    clouds = cloud_data(() if errors is None else errors.clouds)
    return data_of(scenario, plan, paths, ground) | {"clouds": clouds}


def classes_of(plan: Plan) -> str:
    """What the style asks of a page: its verdict, whether a check failed, what it prints."""
    clear = "not-clear" if plan.fails_checks else "clear"
    return f"{text(plan.verdict)} {clear} {'prints-sheet' if _runs(plan) else 'prints-page'}"


def screen_of(
    scenario: Scenario,
    plan: Plan,
    content: Content,
    errors: Seen | None = None,
    beside: Beside | None = None,
) -> str:
    """Write all of a page that stands on the screen. content: of the plan, full. beside: of another plan."""
    return screen_html(
        content,
        plan,
        sign=SIGNS["infeasible"] if plan.fails_checks else SIGNS[plan.verdict],
        about=about_html(scenario.about) + ("" if beside is None else beside.note),
        failed=failed_html(content),
        reasons=_reasons(plan, content),
        print=PRINT if _runs(plan) and beside is None else "",
        figures=figures_html(plan, None if beside is None else beside.plan),
        errors="" if errors is None else errors_html(scenario, plan, errors),
        differences="" if beside is None else beside.table,
        tables="".join(_tables(plan, content)),
        notes="".join(_last_words(content)),
    )


def screen_html(content: Content, plan: Plan, **blocks: str) -> str:
    """Fill what stands on the screen; blocks: HTML by its place in the template, nothing where none is given."""
    none = dict.fromkeys(("about", "failed", "reasons", "print", "errors", "differences"), "")
    return filled(
        "screen.html",
        title=text(content.title),
        headline=text(content.headline),
        summary=text(content.summary),
        fingerprint=text(plan.fingerprint),
        caution=text(CAUTION),
        stage=filled("stage.html"),
        player=filled("player.html") if plan.movers else "",
        keys=filled("keys.html") if plan.movers else "",
        plays="plays" if plan.movers else "stands",
        **{**none, **blocks},
    )


def _runs(plan: Plan) -> bool:
    return plan.verdict == "feasible"


def sheet_of(
    scenario: Scenario, plan: Plan, paths: Mapping[str, Path], ground: Ground | None = None
) -> str:
    """Write the run sheet of a feasible plan as one HTML file for paper. paths: by mover; ground as page_of."""
    style = read("sheet.css") + foot_of(plan)
    return filled(
        "sheet-page.html",
        head=head_html(f"Run sheet: {plan.title}", (style,), ()),
        sheet=sheet_html(scenario, plan, paths, content_of(scenario, plan), ground),
    )


def style_of_plan() -> str:
    """The style of every page that plays, but for what is printed at its foot."""
    return read("page.css") + read("sheet.css")


def script_of_plan(*more: str) -> str:
    """The script's parts in their order, in one scope of their own. more: parts beside those of every plan."""
    parts = "\n".join(read(f"script/{name}.js") for name in sorted((*SCRIPT, *more)))
    return f'"use strict";\n(() => {{\n{parts}}})();\n'


def head_html(title: str, styles: Sequence[str], scripts: Sequence[str]) -> str:
    """Write the head of a file: title, its first style, and a policy that lets nothing else run."""
    return filled("head.html", policy=policy(styles, scripts), title=text(title), style=styles[0])


def policy(styles: Sequence[str], scripts: Sequence[str]) -> str:
    """Only these styles and scripts, by their hashes: what an author wrote can never run."""
    script = " ".join(_hash(one) for one in scripts) or "'none'"
    style = " ".join(_hash(one) for one in styles)
    return (
        f"default-src 'none'; script-src {script}; style-src {style}; "
        "base-uri 'none'; form-action 'none'"
    )


def _hash(inline: str) -> str:
    digest = hashlib.sha256(inline.encode("utf-8")).digest()
    return f"'sha256-{base64.b64encode(digest).decode('ascii')}'"


def foot_of(plan: Plan) -> str:
    """Every printed page says which plan it belongs to."""
    mark = re.sub(r"[^0-9A-Za-z-]", "", plan.fingerprint)
    return (
        f'@page {{ @bottom-left {{ content: "plan {mark}"; font: 8pt sans-serif; }} '
        '@bottom-right { content: "page " counter(page) " of " counter(pages); font: 8pt sans-serif; } }\n'
    )


def _reasons(plan: Plan, content: Content) -> str:
    """What stands before everything else when there is no plan to run: budgets and the nearest miss."""
    if plan.verdict == "feasible":
        return ""
    parts = [HATCH, *(budget_html(budget) for budget in plan.budgets)]
    parts += [notes_html(section) for section in notes_of(content.sections, "collisions")]
    parts += [notes_html(section) for section in notes_of(content.sections, "conflicts")]
    if plan.repairs:
        lines = tuple(f"{one.text} {one.advice}".strip() for one in plan.repairs)
        parts.append(notes_html(Notes("what would make it work", lines)))
    return (
        f'<div class="reasons"><h2 class="unseen">Why there is no plan</h2>{"".join(parts)}</div>'
    )


def _tables(plan: Plan, content: Content) -> list[str]:
    """The terminal's tables, then every event by time, then the checks."""
    tables = [
        section_html(section)
        for section in content.sections
        if isinstance(section, Table)
        or (isinstance(section, Notes) and section.key in NOTES_AMONG_TABLES)
    ]
    if plan.verdict == "feasible":
        tables += [section_html(s) for s in content.sections if isinstance(s, Account)]
    if plan.movers:
        tables.append(table_html(_events(plan)))
    return [*tables, *_checks(plan)]


def _events(plan: Plan) -> Table:
    events = [(event, name) for name, mover in plan.movers.items() for event in mover.events]
    rows = tuple(
        (
            plain(event.time_s), name, event.name, plain(event.station_m), plain(event.x_m),
            plain(event.y_m), plain(event.speed_mps * KMH_PER_MPS, 2),
        )
        for event, name in sorted(events, key=lambda pair: (pair[0].time_s, pair[1]))
    )  # fmt: skip
    header = ("after go\ns", "mover", "event", "station\nm", "x\nm", "y\nm", "speed\nkm/h")
    return Table("events", header, rows, frozenset({3, 4, 5, 6}), key="events")


def _checks(plan: Plan) -> list[str]:
    check = plan.verification
    if check is None:
        return []
    units = {name: one.unit for name, one in plan.encounters.items()}
    rows = [
        ("simulation agrees", "yes" if check.agrees else "NO"),
        *(
            [
                (
                    "worst encounter error",
                    f"{100 * check.worst_encounter_error:.1f} % of its tolerance (10 % allowed)",
                )
            ]
            if plan.encounters
            else []
        ),
        ("worst use of a limit", f"{100 * check.worst_limit_use:.1f} %"),
        *(
            (
                f"{name}, by the moment of detection",
                f"{plain(low)} .. {quantity(high, units.get(name, ''))}",
            )
            for name, (low, high) in check.spread.items()
        ),
        ("method", check.method),
    ]
    return [table_html(Table("checks", ("check", "found"), tuple(rows)))]


def _last_words(content: Content) -> list[str]:
    last = notes_of(content.sections, "warnings", "chain", "caution")
    return [notes_html(section) for section in last]
