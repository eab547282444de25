"""What differs between two plans, in a crew's words: verdict, marks, launches, settings, runway, encounters."""

from __future__ import annotations

from collections.abc import Iterator

from choreo.plans.record import MoverPlan, Plan
from choreo.plans.room_record import SpacePlan
from choreo.report.content import HEADLINES, Content, caution_notes
from choreo.report.sections import Notes, Section, Table
from choreo.words.display import how_many, quantity

# What differs by less (m, s, m/s) is the same to a crew: a millimetre, a millisecond.
SAME = 0.0005
# Rates are read to a hundredth.
SAME_MPS2 = 0.005
Row = tuple[str, str, str, str]
RUNWAY = {"run_up_m": "run-up", "run_out_m": "run-out", "required_m": "runway required"}


def changes_content(old: Plan, new: Plan) -> Content:
    """Choose what to say of two plans, the old one first."""
    rows = tuple(changes_of(old, new))
    sections: list[Section] = []
    if old.verdict != new.verdict:
        words = f"{HEADLINES[old.verdict]} before, {HEADLINES[new.verdict]} now"
        sections.append(Notes("verdict", (words, *_why(new))))
    if old.title != new.title:
        sections.append(Notes("title", (f"before: {old.title}", f"now: {new.title}")))
    if rows:
        header = ("what", "before", "now", "change")
        sections.append(Table("what a crew has to change", header, rows, frozenset({1, 2, 3})))
    same = not sections
    summary = "The same for a crew." if same else f"{how_many(len(rows), 'figure')} changed."
    headline = "NO CHANGE" if same else "CHANGED"
    return Content(new.verdict, headline, new.title, summary, (*sections, caution_notes()))


def _why(plan: Plan) -> Iterator[str]:
    """What a plan has no room for, or fails."""
    for budget in plan.budgets:
        yield f"now: {budget.title}, short by {quantity(budget.short_by, budget.unit)}"
    if plan.space is not None:
        yield from (f"now: {one.text}" for one in plan.space.failures)


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
        rates = [{} if one is None else hardest_rates(one) for one in (before, after)]
        for phase in dict.fromkeys((*rates[0], *rates[1])):
            both = [one.get(phase) for one in rates]
            yield from _row(f"{name}: rate of {phase}", "m/s2", *both, same=SAME_MPS2)
        for what, words in RUNWAY.items():
            values = (None if one is None else getattr(one.runway, what) for one in (before, after))
            yield from _row(f"{name}: {words}", "m", *values)
    for name in dict.fromkeys((*old.triggers, *new.triggers)):
        first, second = old.triggers.get(name), new.triggers.get(name)
        one = second or first
        kinds = [None if each is None else each.condition for each in (first, second)]
        if None not in kinds and kinds[0] != kinds[1]:
            yield (f"trigger {name}: condition", str(kinds[0]), str(kinds[1]), "")
        elif one is not None:
            settings = (None if each is None else each.setting for each in (first, second))
            yield from _row(f"trigger {name}: {one.condition}", one.setting_unit, *settings)
        if first is not None and second is not None:
            yield from _row(f"trigger {name}: latency", "s", first.latency_s, second.latency_s)
            rates_hz = (first.sampling_hz, second.sampling_hz)
            yield from _row(f"trigger {name}: sampling", "Hz", *rates_hz)
            for what, texts in (
                ("watches", (first.watch, second.watch)),
                ("acts on", (", ".join(first.acts_on), ", ".join(second.acts_on))),
            ):
                if texts[0] != texts[1]:
                    yield (f"trigger {name}: {what}", *texts, "")
    for name in dict.fromkeys((*old.encounters, *new.encounters)):
        pair = (old.encounters.get(name), new.encounters.get(name))
        times = (None if each is None else each.time_s for each in pair)
        yield from _row(f"{name}: when it happens", "s", *times)
        speeds = (None if each is None else each.closing_mps for each in pair)
        yield from _row(f"{name}: closing speed", "m/s", *speeds)
        if pair[0] is not None and pair[1] is not None and pair[0].unit == pair[1].unit:
            found = (pair[0].predicted, pair[1].predicted)
            what = "impact point" if pair[1].kind == "contact" else pair[1].measure
            yield from _row(f"{name}: {what}", pair[1].unit, *found)
            allowed = (pair[0].tolerance, pair[1].tolerance)
            yield from _row(f"{name}: tolerance", pair[1].unit, *allowed)
    if old.space is not None and new.space is not None:
        yield from _room(old.space, new.space)


def _room(old: SpacePlan, new: SpacePlan) -> Iterator[Row]:
    """What the run needs round it: the least clearances, and the ways of a stop."""
    nearest = [{(one.a, one.b): one.least_m for one in space.clearances} for space in (old, new)]
    for pair in dict.fromkeys((*nearest[0], *nearest[1])):
        both = [one.get(pair) for one in nearest]
        yield from _row(f"{pair[0]} and {pair[1]}: least clearance", "m", *both)
    for name in dict.fromkeys((*old.stops, *new.stops)):
        stops = [space.stops.get(name) for space in (old, new)]
        ways = [None if one is None else one.longest_m for one in stops]
        yield from _row(f"{name}: longest stop for safety", "m", *ways)


def hardest_rates(mover: MoverPlan) -> dict[str, float]:
    """Give how hard (m/s2) a mover's phases accelerate or brake at most, braking negative, by phase."""
    found: dict[str, float] = {}
    for one in mover.pieces:
        ends = (one.accel_mps2, one.accel_mps2 + one.jerk_mps3 * one.duration_s)
        hardest = max(*ends, found.get(one.phase, 0.0), key=abs)
        if abs(hardest) > SAME_MPS2:
            found[one.phase] = hardest
    return found


def speeds_held(mover: MoverPlan) -> dict[str, float]:
    """Give the speeds (m/s) that a mover's phases hold, by phase."""
    steady = (one for one in mover.pieces if one.accel_mps2 == one.jerk_mps3 == 0.0)
    return {one.phase: one.speed_mps for one in steady if one.speed_mps > 0.0}


def _row(
    what: str, unit: str, before: float | None, now: float | None, *, same: float = SAME
) -> Iterator[Row]:
    if before is None and now is None:
        return
    if before is None or now is None:
        shown = ["-" if one is None else quantity(one, unit) for one in (before, now)]
        yield what, shown[0], shown[1], "new" if before is None else "gone"
        return
    change = now - before
    if abs(change) <= same:
        return
    sign = "+" if change > 0 else "-"
    yield what, quantity(before, unit), quantity(now, unit), f"{sign}{quantity(abs(change), unit)}"
