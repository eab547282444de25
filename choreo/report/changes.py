"""What differs between two plans, in a crew's words: verdict, marks, launches, settings, runway, encounters."""

from __future__ import annotations

from collections.abc import Iterator

from choreo.plans.record import MoverPlan, Plan
from choreo.report.content import HEADLINES, Content, caution_notes
from choreo.report.sections import Notes, Section, Table
from choreo.words.display import quantity

# What differs by less (m, s, m/s) is the same to a crew: a millimetre, a millisecond.
SAME = 0.0005
Row = tuple[str, str, str, str]


def changes_content(old: Plan, new: Plan) -> Content:
    """Choose what to say of two plans, the old one first."""
    rows = tuple(changes_of(old, new))
    sections: list[Section] = []
    if old.verdict != new.verdict:
        words = f"{HEADLINES[old.verdict]} before, {HEADLINES[new.verdict]} now"
        sections.append(Notes("verdict", (words,)))
    if old.title != new.title:
        sections.append(Notes("title", (f"before: {old.title}", f"now: {new.title}")))
    if rows:
        header = ("what", "before", "now", "change")
        sections.append(Table("what a crew has to change", header, rows, frozenset({1, 2, 3})))
    same = not sections
    summary = (
        "The same for a crew."
        if same
        else f"{len(rows)} figure{'' if len(rows) == 1 else 's'} changed."
    )
    headline = "NO CHANGE" if same else "CHANGED"
    return Content(new.verdict, headline, new.title, summary, (*sections, caution_notes()))


def changes_of(old: Plan, new: Plan) -> Iterator[Row]:
    """Give what differs: what, before, now, by how much; `-` where one plan has none."""
    for name in dict.fromkeys((*old.movers, *new.movers)):
        before, after = old.movers.get(name), new.movers.get(name)
        for what, unit in (("station_m", "m"), ("x_m", "m"), ("y_m", "m"), ("heading_deg", "deg")):
            values = (None if one is None else getattr(one.start, what) for one in (before, after))
            yield from _row(f"{name}: start mark, {what.rsplit('_', 1)[0]}", unit, *values)
        launches = [
            None if one is None or not one.pieces else one.launch_s for one in (before, after)
        ]
        yield from _row(f"{name}: launch", "s", *launches)
        by = [None if one is None else one.launched_by for one in (before, after)]
        if None not in by and by[0] != by[1]:
            yield (f"{name}: launched by", str(by[0]), str(by[1]), "")
        held = [{} if one is None else speeds_held(one) for one in (before, after)]
        for phase in dict.fromkeys((*held[0], *held[1])):
            yield from _row(f"{name}: speed of {phase}", "m/s", *(one.get(phase) for one in held))
        for what in ("run_up_m", "run_out_m", "required_m"):
            values = (None if one is None else getattr(one.runway, what) for one in (before, after))
            yield from _row(f"{name}: {what.removesuffix('_m').replace('_', '-')}", "m", *values)
    for name in dict.fromkeys((*old.triggers, *new.triggers)):
        first, second = old.triggers.get(name), new.triggers.get(name)
        one = second or first
        kinds = [None if each is None else each.condition for each in (first, second)]
        if None not in kinds and kinds[0] != kinds[1]:
            yield (f"trigger {name}: condition", str(kinds[0]), str(kinds[1]), "")
        elif one is not None:
            settings = (None if each is None else each.setting for each in (first, second))
            yield from _row(f"trigger {name}: {one.condition}", one.setting_unit, *settings)
    for name in dict.fromkeys((*old.encounters, *new.encounters)):
        pair = (old.encounters.get(name), new.encounters.get(name))
        times = (None if each is None else each.time_s for each in pair)
        yield from _row(f"{name}: when it happens", "s", *times)
        speeds = (None if each is None else each.closing_mps for each in pair)
        yield from _row(f"{name}: closing speed", "m/s", *speeds)


def speeds_held(mover: MoverPlan) -> dict[str, float]:
    """Give the speeds (m/s) that a mover's phases hold, by phase."""
    steady = (one for one in mover.pieces if one.accel_mps2 == one.jerk_mps3 == 0.0)
    return {one.phase: one.speed_mps for one in steady if one.speed_mps > 0.0}


def _row(what: str, unit: str, before: float | None, now: float | None) -> Iterator[Row]:
    if before is None and now is None:
        return
    if before is None or now is None:
        shown = ["-" if one is None else quantity(one, unit) for one in (before, now)]
        yield what, shown[0], shown[1], "new" if before is None else "gone"
        return
    change = now - before
    if abs(change) <= SAME:
        return
    sign = "+" if change > 0 else "-"
    yield what, quantity(before, unit), quantity(now, unit), f"{sign}{quantity(abs(change), unit)}"
