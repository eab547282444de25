"""The run sheet: what a crew needs on paper to stage one run and to write down how it went.

Three pages: the run at a glance and how to break it off; what is set, measured and checked; what is written down.
"""

from __future__ import annotations

from collections.abc import Mapping

from choreo.geometry import Path
from choreo.ground import Ground
from choreo.ground.outlines import corners_by_name
from choreo.page.markup import failed_html, filled, named, text, told
from choreo.page.sheet_crew import back_html, bumpers_html, settings_html
from choreo.page.sheet_marks import encounters_of, gates_html, marks_html, tapes_html, triggers_html
from choreo.page.sheet_pages import Block, beside, block, kept_together, laid_out
from choreo.page.sheet_room import breaking_off, corners_html, drawing_of, room_of, zone_words
from choreo.page.sheet_rules import limits_html
from choreo.page.sheet_run import as_run
from choreo.page.sheet_times import times_html
from choreo.plans.record import Plan
from choreo.report.content import Content
from choreo.scenario import Scenario
from choreo.words.display import metres, quantity, seconds

DECIDE = '<span class="box"></span> GO <span class="box"></span> NO-GO &nbsp; decided by <span class="line"></span>'
NO_GO = "NO-GO: checks of this plan have failed."

# In one line: the cautions stand in full on the last page.
ADVICE = "Advice only: the responsible test-safety staff decide. In full on the last page."

# A launch within this time after go (s) is at go.
FIRST_S = 1e-3
# The bearing of an x axis that points east.
EAST_DEG = 90.0
# Heights in mm, for where pages break: of the head, of what failed, of a line of the list of checks.
TOP_MM, FAILED_MM, CHECK_MM = 24.0, 30.0, 4.6


def sheet_html(
    scenario: Scenario,
    plan: Plan,
    paths: Mapping[str, Path],
    content: Content,
    ground: Ground | None,
) -> str:
    """Lay the run sheet of a feasible plan out as one element.

    paths: by mover. ground: None where the site draws none. Figures are the plan's; boxes and blanks are the crew's.
    """
    failed = failed_html(content)
    parts = laid_out(
        (
            _at_a_glance(scenario, plan, paths, ground, FAILED_MM if failed else 0.0),
            _set_up(scenario, plan, paths, ground),
            as_run(scenario, plan, _settings(scenario, plan)),
        )
    )
    return kept_together(
        filled(
            "sheet.html",
            title=named(plan.title),
            fingerprint=text(plan.fingerprint),
            verdict="do not run: checks have failed"
            if plan.fails_checks
            else "feasible, simulated",
            files=text(_bare(scenario.source_files[0]) if scenario.source_files else "-"),
            site=_site(scenario),
            failed=failed,
            parts=parts,
        )
    )


def _at_a_glance(
    scenario: Scenario,
    plan: Plan,
    paths: Mapping[str, Path],
    ground: Ground | None,
    failed_mm: float,
) -> tuple[Block, ...]:
    """Give page 1: the drawing, how to break off, the time line, go or no-go."""
    checks = _checks(scenario, plan)
    listed = "".join(f'<li><span class="box"></span>{told(line)}</li>' for line in checks)
    decide = NO_GO if plan.fails_checks else DECIDE
    lines = sum(1 + len(line) // 52 for line in checks)
    go = f'<ul class="checks">{listed}</ul><p class="decide">{decide}</p>'
    advice = f'<p class="advice"><b>Caution.</b> {ADVICE}</p>'
    drawing, high_mm = drawing_of(scenario, plan, paths, ground)
    return (
        Block("", TOP_MM + failed_mm),
        Block(drawing, high_mm),
        breaking_off(plan),
        block("The run by the clock", times_html(scenario, plan, paths)),
        block("Go or no-go", go + advice, lines * CHECK_MM / 2 + 8.0),
    )


def _set_up(
    scenario: Scenario, plan: Plan, paths: Mapping[str, Path], ground: Ground | None
) -> tuple[Block, ...]:
    """Give page 2: what is set, measured and checked before the run and while it goes."""
    frame = (
        f'<p class="small">Frame: {text(_frame(scenario))}, headings counter-clockwise from x. Marks and stations: '
        f"each mover's reference point. Times: {text(_times(plan))}.</p>"
    )
    obstacles = {} if ground is None else corners_by_name(ground)
    corners = block("Corners of the keep-out zone", corners_html(scenario, plan))
    met = tuple(encounters_of(scenario, plan, dict(paths)))
    return (
        block("Start marks", marks_html(scenario, plan) + frame),
        block(
            "Tape distances between start marks", tapes_html(plan, obstacles) + bumpers_html(plan)
        ),
        block("Triggers", triggers_html(plan, paths)),
        block("Speed gates", gates_html(scenario, plan, paths)),
        *(
            (beside(met[0], corners),)
            if len(plan.encounters) == 1 and corners.html
            else (*met, corners)
        ),
        *room_of(plan),
        block("A run counts with", limits_html(scenario)),
    )


def _settings(scenario: Scenario, plan: Plan) -> Block:
    """Give what each mover is set to do."""
    told = "".join(
        settings_html(scenario, name, plan) + back_html(name, plan) for name in plan.movers
    )
    return block("What each mover does", told)


def _site(scenario: Scenario) -> str:
    if scenario.site is None:
        return "none named"
    return text(scenario.site.title or _bare(scenario.site.file))


def _times(plan: Plan) -> str:
    """What times count from: somebody may wait, or already roll, at go."""
    launches = [mover.launch_s for mover in plan.movers.values() if mover.pieces]
    first_s = min(launches, default=0.0)
    if first_s < FIRST_S:
        return "from go, the first launch"
    return f"from go; the first launch is {seconds(first_s)} later"


def _frame(scenario: Scenario) -> str:
    anchor = None if scenario.site is None else scenario.site.anchor
    if anchor is None or anchor.bearing_deg == EAST_DEG:
        return "x east, y north"
    return f"x bears {anchor.bearing_deg:g} deg (clockwise from north), y to its left"


def _bare(file: str) -> str:
    return file.replace("\\", "/").rsplit("/", 1)[-1]


def _checks(scenario: Scenario, plan: Plan) -> list[str]:
    """What is looked at before go, line by line."""
    moving = {
        n: mover.runway.required_m or mover.runway.total_m
        for n, mover in plan.movers.items()
        if mover.pieces
    }
    zone = "" if plan.space is None else zone_words(plan.space.keep_out)
    return [
        "Site rules read out; the person who says go and the person who may stop the run are named",
        f"Plan on this sheet is {plan.fingerprint}; the scenario file is unchanged (choreo check)",
        *(
            f"Independent stop of {name} tested today; its runway clear for {metres(length)} from its mark"
            for name, length in moving.items()
        ),
        "Start marks measured and written down",
        *(
            f"Trigger {name} set to {quantity(one.setting, one.setting_unit)} and its latency measured "
            f"({seconds(one.latency_s)} in the plan)"
            for name, one in plan.triggers.items()
        ),
        f"Keep-out zone clear of people and everything else ({zone}); everybody accounted for"
        if zone
        else "Nobody and nothing else inside the area; everybody accounted for",
        "Radio check; recorders running; clocks agree",
        "Surface and weather are as the site rules ask"
        if scenario.rules is None
        else "Surface, weather and vehicle are as the rules ask",
    ]
