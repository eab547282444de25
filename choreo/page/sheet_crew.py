"""What the run sheet says of programmes and of distances between bumpers."""

from __future__ import annotations

from choreo.page.markup import text
from choreo.page.sheet_parts import row, table
from choreo.page.sheet_room import runway_words, stop_words
from choreo.plans.crew_record import Leg
from choreo.plans.record import Plan
from choreo.report.crew import back_words, distance_cells
from choreo.report.launches import in_step_words
from choreo.report.turned import rate_words
from choreo.scenario import Scenario
from choreo.words.display import seconds

# A sheet has room for so many lines of a list; all are in the plan document and on the page.
MOST_LINES = 12


def settings_html(scenario: Scenario, name: str, plan: Plan) -> str:
    """Give what a mover is set to do, its runway and its stop, as a paragraph."""
    mover = plan.movers[name]
    if not mover.pieces:
        return f'<p class="small"><b>{text(name)}</b> stands for the whole run.</p>'
    programme = None if plan.crew is None else plan.crew.programmes.get(name)
    legs = () if programme is None else programme.legs
    listed = legs[:MOST_LINES]
    words = ", ".join(_leg_words(scenario, name, leg) for leg in listed) + (
        ", ..." if len(legs) > len(listed) else ""
    )
    told = "".join(
        f" Tell it {one.phase} at {seconds(one.time_s)}: it moves at {seconds(one.moves_s)}."
        for one in mover.commands
    )
    told += in_step_words(mover)
    said = f"{words}. " if words else ""
    return (
        f'<p class="small"><b>{text(name)}</b>: {text(said)}{text(told)} {text(runway_words(mover))} '
        f"{text(stop_words(name, plan))}</p>"
    )


def _leg_words(scenario: Scenario, name: str, leg: Leg) -> str:
    """'ramp +3.00 m/s2 (built up in 0.750 s)', 'hold'."""
    if leg.rate_mps2 is None:
        return leg.phase
    built = f" (built up in {seconds(leg.build_up_s)})" if leg.build_up_s else ""
    return f"{leg.phase} {rate_words(scenario, name, leg.rate_mps2)}{built}"


def back_html(name: str, plan: Plan) -> str:
    """Give the way back of a mover as a paragraph; empty where none is written."""
    programme = None if plan.crew is None else plan.crew.programmes.get(name)
    if programme is None or programme.back is None:
        return ""
    return f"<p>{text(f'Back to its start mark: {back_words(programme.back)}.')}</p>"


def bumpers_html(plan: Plan) -> str:
    """Give the distances between bumpers with a blank for the measured one; empty where no two share a lane."""
    if plan.crew is None or not plan.crew.distances:
        return ""
    rows = []
    for one in plan.crew.distances[:MOST_LINES]:
        moment, time, words, apart = distance_cells(one)
        rows.append(row(words, (apart, moment, time), 1))
    head = ("from bumper to bumper, along the lane", "m", "at", "after go<br>s", "measured<br>m")
    more = len(plan.crew.distances) - MOST_LINES
    note = f"<p>{more} more stand in the plan document and on the page.</p>" if more > 0 else ""
    return table(head, rows, "bumpers") + note
