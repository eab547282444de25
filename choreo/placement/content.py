"""Which facts a placement tells, in which words and order."""

from __future__ import annotations

import math
from collections.abc import Mapping

from choreo.fit.directions import SECTORS
from choreo.placement.record import FoundPlace, Placement, Rectangle, Resolution
from choreo.report import Content
from choreo.report.room import failed_notes
from choreo.report.sections import Notes, Section, Table
from choreo.words.caution import not_modelled_sentence
from choreo.words.display import degrees, metres, plain
from choreo.words.kinds import Verdict

HEADLINES: Mapping[str, tuple[Verdict, str]] = {
    "found": ("feasible", "PLACED"),
    "none": ("infeasible", "NO PLACE"),
    "undecided": ("undecided", "UNDECIDED"),
}
NO_PLAN = {
    "infeasible": "No plan exists, so there is nothing to place. `choreo why` tells what doesn't fit.",
    "undecided": "No plan was found, so there is nothing to place. `choreo why` tells the nearest miss.",
}
# So many alternatives are shown.
SHOWN = 10
# Alternatives that may be poorer by more than this are only said to be found.
MOST_GAP_M = 2.0


def content_of_placement(answer: Placement) -> Content:
    """Choose what to tell of a placement: the verdict, the pose, the marks, what else would do."""
    if answer.verdict == "no plan":
        return _without_plan(answer.plan_verdict, answer.title)
    verdict, headline = HEADLINES[answer.verdict]
    sections: list[Section] = []
    if answer.best is not None:
        sections += [_pose(answer, answer.best), _starts(answer, answer.best)]
        sections += _others(answer)
    sections += _missing(answer)
    sections += [_search(answer)]
    if answer.warnings:
        sections.append(Notes("warnings and notes", answer.warnings))
    sections.append(_caution(answer))
    if answer.failures:
        headline += ", NOT CLEAR"
        sections.insert(0, failed_notes(answer.failures))
    title = f"{answer.title} on {answer.site}"
    return Content(verdict, headline, title, _summary(answer), tuple(sections))


def content_of_rectangle(answer: Rectangle) -> Content:
    """Choose what to tell of a smallest rectangle."""
    if answer.length_m is None or answer.width_m is None or answer.area_m2 is None:
        return _without_plan(answer.plan_verdict, answer.title)
    summary = (
        f"The smallest rectangle is {plain(answer.length_m, 2)} m by {plain(answer.width_m, 2)} m, "
        f"with {plain(answer.margin_m, 2)} m to all sides of everything swept. {answer.ground}"
    )
    long_deg, subject_deg = answer.long_side_deg or 0.0, answer.subject_deg or 0.0
    rows = (
        ("length", f"{plain(answer.length_m, 2)} m"),
        ("width", f"{plain(answer.width_m, 2)} m"),
        ("area", f"{plain(answer.area_m2, 0)} m2"),
        ("margin on all sides", metres(answer.margin_m)),
        ("heading of the long side, scenario's frame", f"{degrees(long_deg)} deg"),
        ("the subject at the encounter (or its start), against it", f"{degrees(subject_deg)} deg"),
    )
    corners = Table(
        "corners (scenario's frame)",
        ("corner", "x\nm", "y\nm"),
        tuple(
            (str(number), plain(x), plain(y)) for number, (x, y) in enumerate(answer.corners_m, 1)
        ),
        frozenset({1, 2}),
    )
    sections = (Table("the rectangle", ("what", "value"), rows), corners, _caution(answer))
    return Content("feasible", "RECTANGLE", answer.title, summary, sections)


def _without_plan(verdict: Verdict, title: str) -> Content:
    return Content(verdict, verdict.upper(), title, NO_PLAN.get(verdict, ""), ())


def _summary(answer: Placement) -> str:
    least = answer.least_margin_m
    margin = f" with a margin of {plain(least, 2)} m" if least > 0 else ""
    if answer.best is not None:
        return (
            "Everything that is swept, by plan or by a stop from any instant, stays inside the drivable area, "
            f"at least {metres(answer.best.margin_m)} from its edge."
        )
    if answer.verdict == "none":
        return f"No pose of the scenario fits{margin}: all of them were searched."
    return f"None found{margin}{_not_excluded(answer.resolution)}."


def _not_excluded(found: Resolution | None) -> str:
    """Tell why it is not known that there is none."""
    if found is None:
        return ""
    if found.ended_early:
        return "; the search ended early, before all poses were excluded"
    if not found.undecided_m > 0:
        return ", and no proof that there is none"
    return (
        "; not excluded below the resolution of "
        f"{found.undecided_m:.3g} m, {found.undecided_deg:.2g} deg"
    )


def _pose(answer: Placement, best: FoundPlace) -> Notes:
    pose = best.pose
    bearing = "" if best.bearing_deg is None else f", bearing {plain(best.bearing_deg, 1)} deg"
    room = best.least_room
    when, where = (
        ("its start", "the start") if best.at_start else ("the encounter", "the encounter")
    )
    lines = [
        f"The scenario's frame turned by {plain(pose.heading_deg, 4)} deg (counter-clockwise), then its origin put at "
        f"x = {metres(pose.x_m)}, y = {metres(pose.y_m)}.",
        f"The subject heads {_towards(best.direction)} at {when}: heading {plain(best.heading_deg, 1)} deg"
        f"{bearing}; {where} lies in {best.area}.",
        f"The margin is {metres(best.margin_m)}, least at {room.what}, "
        f"x = {plain(room.x_m, 1)} m, y = {plain(room.y_m, 1)} m.",
    ]
    if answer.placed is not None:
        lines.append("To plan, show and export it there, write this line into the scenario:")
        lines.append(answer.placed)
    if answer.as_written_m is not None:
        here = f"As the scenario is written the margin is {metres(answer.as_written_m)}"
        better = answer.as_written_m < best.margin_m
        lines.append(f"{here}." if better else f"{here}: nothing better was found.")
    return Notes("pose", tuple(lines))


def _towards(direction: str) -> str:
    return direction if direction.startswith("towards") else f"to the {direction}"


def _starts(answer: Placement, best: FoundPlace) -> Table:
    on_earth = any(mark.longitude_deg is not None for mark in best.starts.values())
    header: tuple[str, ...] = ("mover", "x\nm", "y\nm", "heading\ndeg")
    if on_earth:
        header = (*header, "bearing\ndeg", "longitude\ndeg", "latitude\ndeg")
    rows = []
    for name, mark in best.starts.items():
        row = [name, plain(mark.x_m), plain(mark.y_m), degrees(mark.heading_deg or 0.0)]
        if mark.longitude_deg is not None and mark.latitude_deg is not None:
            row += [
                plain(mark.bearing_deg or 0.0, 2),
                plain(mark.longitude_deg, 8),
                plain(mark.latitude_deg, 8),
            ]
        rows.append(tuple(row))
    datum = f", {answer.datum}" if on_earth and answer.datum else ""
    title = f"start marks on the site (site frame{datum})"
    return Table(title, header, tuple(rows), frozenset(range(1, len(header))))


def _others(answer: Placement) -> list[Section]:
    if not answer.alternatives:
        return []
    shown = answer.alternatives[:SHOWN]
    rows = tuple(
        (
            one.area,
            one.direction,
            plain(one.margin_m),
            plain(one.pose.x_m),
            plain(one.pose.y_m),
            plain(one.pose.heading_deg, 4),
            one.least_room.what,
        )
        for one in shown
    )
    header = ("area", "direction", "margin\nm", "x\nm", "y\nm", "turned\ndeg", "least at")
    more = len(answer.alternatives) - len(shown)
    gap_m = None if answer.resolution is None else answer.resolution.alternatives_m
    title = "other places found, by area and direction"
    if gap_m is not None and gap_m <= MOST_GAP_M:
        title = "other places, the best of each area and direction "
        title += f"(within {max(math.ceil(10 * gap_m), 10) / 10:.3g} m)"
    if more:
        title += f"; {more} more in --json"
    return [Table(title, header, rows, frozenset({2, 3, 4, 5}))]


def _missing(answer: Placement) -> list[Section]:
    short = answer.shortfall
    if short is None:
        return []
    lines = [
        f"At the best pose found {metres(short.short_m)} is missing: {short.what}.",
        f"The footprint's least rectangle is {plain(short.length_m, 1)} m by {plain(short.width_m, 1)} m.",
    ]
    if short.longest_run_m is not None:
        lines.append(
            f"The longest straight line inside the drivable area is {plain(short.longest_run_m, 1)} m "
            "(over all lines through two of its corners)."
        )
    if short.without_exclusions_m is not None:
        lines.append(
            "Without the directions left out there is a place with a margin of "
            f"{metres(short.without_exclusions_m)}."
        )
    return [Notes("what is missing", tuple(lines))]


def _search(answer: Placement) -> Notes:
    lines = []
    found = answer.resolution
    if answer.margin_bound_m is not None and answer.verdict == "found":
        lines.append(f"No pose has a margin of more than {metres(answer.margin_bound_m)}.")
    if answer.excluded:
        lines.append(f"Left out: {'; '.join(answer.excluded)} ({_subject_where(answer)}).")
    if found is not None:
        lines.append(
            f"All positions and {SECTORS} sectors of direction were searched in {found.boxes} boxes of poses, "
            f"the smallest {found.smallest_m:.2g} m and {found.smallest_deg:.2g} deg wide."
        )
        if found.ended_early:
            lines.append("The search ended early: a better place is not excluded.")
    return Notes("search", tuple(lines))


def _subject_where(answer: Placement) -> str:
    if answer.best is None:
        return "the subject at the encounter, at its start without one"
    return f"the subject at {'its start' if answer.best.at_start else 'the encounter'}"


def _caution(answer: Placement | Rectangle) -> Notes:
    return Notes(
        "caution", (answer.caution, not_modelled_sentence(answer.not_modelled)), key="caution"
    )
