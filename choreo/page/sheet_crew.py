"""What the run sheet says of programmes, places and distances between bumpers."""

from __future__ import annotations

from choreo.page.markup import text
from choreo.page.sheet_parts import row, table
from choreo.plans.crew_record import NamedPlace
from choreo.plans.record import Plan
from choreo.report.crew import Counted, back_words, distance_cells, programme_table
from choreo.words.display import kmh, plain

# A sheet has room for so many lines of a list; all are in the plan document and on the page.
MOST_LINES = 16


def programme_html(name: str, plan: Plan) -> str:
    """Give a mover's legs: what it does, and where, when and how fast it is as it begins to; empty without lists."""
    if plan.crew is None or name not in plan.crew.programmes:
        return ""
    programme = plan.crew.programmes[name]
    listed = programme_table(name, programme)
    counted = Counted.of(programme)
    begins = [*(leg.begins for leg in programme.legs), programme.legs[-1].ends]
    rows = [
        row(phase, (rate or "-", built or "-", time, way, f"{x} / {y}", counted.fast(at.speed_mps)))
        for (phase, rate, built, time, way, x, y, _), at in zip(listed.rows, begins, strict=True)
    ]
    head = (
        "phase", f"rate<br>{counted.units[0]}", "build-up<br>s", "begins<br>s after go",
        f"{counted.place}<br>{counted.units[1]}", "x / y<br>m", "speed",
    )  # fmt: skip
    return table(head, rows[:MOST_LINES], "programme") + _more(len(rows))


def back_html(name: str, plan: Plan) -> str:
    """Give the way back of a mover as a paragraph; empty where none is written."""
    programme = None if plan.crew is None else plan.crew.programmes.get(name)
    if programme is None or programme.back is None:
        return ""
    return f"<p>{text(f'Back to its start mark: {back_words(programme.back)}.')}</p>"


def places_html(plan: Plan) -> str:
    """Give all places by name, mover by mover, with the point that is meant and blanks for what was set; or nothing."""
    if plan.crew is None:
        return ""
    places = [(name, one) for name, p in plan.crew.programmes.items() for one in p.places]
    if not places:
        return ""
    rows = [row(f"{name}: {one.name}", _place_cells(one), 1) for name, one in places]
    head = ("place", "which point", "x / y<br>m", "after go<br>s", "speed", "set")
    return (
        "<section><h2>Places, and which point of the mover is there</h2>"
        + table(head, rows[:MOST_LINES], "places")
        + _more(len(rows))
        + "</section>"
    )


def _place_cells(one: NamedPlace) -> tuple[str, ...]:
    where = f"{plain(one.x_m)} / {plain(one.y_m)}"
    return (one.point, where, plain(one.time_s), kmh(one.speed_mps))


def bumpers_html(plan: Plan) -> str:
    """Give the distances between bumpers with a blank for the measured one; empty where no two share a lane."""
    if plan.crew is None or not plan.crew.distances:
        return ""
    rows = []
    for one in plan.crew.distances:
        moment, time, words, metres = distance_cells(one)
        rows.append(row(words, (metres, moment, time), 1))
    head = ("from bumper to bumper, along the lane", "m", "at", "after go<br>s", "measured<br>m")
    return table(head, rows[:MOST_LINES], "bumpers") + _more(len(rows))


def _more(rows: int) -> str:
    left = rows - MOST_LINES
    return f'<p class="small">{left} more: choreo plan --all</p>' if left > 0 else ""
