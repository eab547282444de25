"""The whole of `why`: what doesn't fit, what would help and what can't, or how much room a plan leaves."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import TypeVar

from choreo.case import Answer, Case, Quantity, glance, glance_at_run
from choreo.case.by_rows import linear_answer
from choreo.case.driven_lines import on_a_line, with_driven_lines
from choreo.case.quantity import Keys
from choreo.plans.message import Message, messages_of
from choreo.plans.record import Plan
from choreo.problem.patience import Patience, TimeUp
from choreo.repair import search
from choreo.repair.changes import Change, Margin, Moves, Repair, confirmed
from choreo.repair.edges import BY_ROWS, BY_RUNS
from choreo.repair.quick import Looks
from choreo.scenario import Scenario
from choreo.scenario.records.edits import with_limit
from choreo.scenario.records.scenario import SpanEnd
from choreo.words import Finding
from choreo.words.display import change as told_change
from choreo.words.records import dataclass

# What the author calls cheap counts as a tenth of its relative size when repairs are sorted.
CHEAP = 0.1
# Looks take no more than this share of the time: the rest is for planning what they found.
LOOKING = 0.8
# Looks are quick, and find more than the solver does, where geometry is asked for so many values of curves in one.
FEW_ASKED = 200
# What a quantity is called that begins a mover's path earlier.
RUN_UP = " run-up path"
# So many repairs stand in a plan document; `why` gives all.
BEST = 3

T = TypeVar("T")


@dataclass(frozen=True)
class Explanation:
    """A plan with its verdict; repairs (or margins when feasible); what can't help alone; what must be kept.

    left: quantities that were not looked at because the time was up. hurried: it was up before all was done.
    """

    plan: Plan
    repairs: tuple[Repair, ...] = ()
    helpless: tuple[str, ...] = ()
    kept: tuple[str, ...] = ()
    margins: tuple[Margin, ...] = ()
    left: tuple[str, ...] = ()
    hurried: bool = False


def explain(
    found: Answer, *, patience: Patience | None = None, most: int | None = None
) -> Explanation:
    """Explain an answer's verdict: what would help, or how much room a feasible plan leaves.

    patience: how long it looks, for ever when left out. most: no more repairs than this are looked for.
    """
    patience = patience or Patience()
    case = found.case
    quantities = negotiable(case)
    if found.feasible:
        room, left = _margins(case, quantities, patience)
        return Explanation(
            found.plan, kept=case.scenario.keep, margins=room, left=left, hurried=patience.over
        )
    looks: Looks | None
    if found.plan.collisions and glance(case).works:
        # Rows and limits can be met: only the simulation knows of the collision.
        looks = Looks(case, glance_at_run(case), patience.part(LOOKING), BY_RUNS)
    else:
        at_first = glance(case)
        quick = at_first.works is False and at_first.asked <= FEW_ASKED
        looks = Looks(case, at_first, patience.part(LOOKING)) if quick else None
    repairs, helpless, left = _repairs(case, quantities, patience, looks, most)
    helps = _line_helps(case, found.plan)
    best = tuple(_message(case.scenario, repair) for repair in repairs[:BEST])
    plan = replace(found.plan, repairs=best, warnings=(*found.plan.warnings, *helps))
    hurried = patience.over or bool(left)
    if hurried:
        plan = replace(plan, warnings=(*plan.warnings, *_ended(patience, left)))
    return Explanation(
        plan, tuple(repairs), helpless, case.scenario.keep, left=left, hurried=hurried
    )


def _line_helps(case: Case, plan: Plan) -> tuple[Message, ...]:
    """That a course which is too tight through the middles of its lanes can be driven on a line of its own.

    Where something else is short too, that such a line is wider.
    """
    other = on_a_line(case.scenario)
    if other is None:
        return ()
    path, scenario = other
    free = scenario
    for name in scenario.movers:
        free = with_limit(free, name, "lateral", math.inf)
    # Only where the lateral limit is at fault is the search for a line worth its time.
    helps = linear_answer(case.changed(free)) is not None
    if helps and linear_answer(case.changed(with_driven_lines(scenario))) is None:
        return ()
    drive = [name for name, mover in scenario.movers.items() if mover.path == path]
    tight = any(one.unit == "m/s2" and one.mover in drive for one in plan.budgets)
    if not (helps or tight):
        return ()
    course = scenario.paths[path].course
    values = {"path": path, "course": "" if course is None else course.name}
    place = scenario.origin("paths", path)
    return messages_of(
        (Finding("plan.line-helps" if helps else "plan.line-wider", "note", place, values),)
    )


def negotiable(case: Case) -> list[Quantity]:
    """Give the quantities that may be changed, each once: all but those under keep:.

    Two names may stand for one place in the file, of a path that two movers share say.
    """
    kept = [_place(one) for one in case.quantities if set(one.names) & set(case.scenario.keep)]
    found: dict[Place, Quantity] = {}
    for one in case.quantities:
        if _place(one) not in kept:
            found.setdefault(_place(one), one)
    return list(found.values())


Place = tuple[Keys, SpanEnd, bool]


def _place(one: Quantity) -> Place:
    """What a quantity is: where it is written, which end of a range, which end of a path."""
    return one.keys, one.end, one.moves_start


def _repairs(
    case: Case,
    quantities: list[Quantity],
    patience: Patience,
    looks: Looks | None,
    most: int | None,
) -> tuple[list[Repair], tuple[str, ...], tuple[str, ...]]:
    """Repairs, least first; quantities that don't help alone; quantities that were not looked at."""
    singles = list(
        looks.moves(quantities) if looks else search.single_moves(case, quantities, patience)
    )
    left = [one.name for one in quantities[len(singles) :]]
    offers = [moves for _, moves in singles if moves is not None]
    offers = _cheapest_first(case.scenario, offers, lambda moves: moves)
    helpless = {one.name for one, moves in singles if moves is None}
    repairs: list[Repair] = []
    for moves in offers[:most]:
        name = moves[0][0].name
        if patience.over:
            left.append(name)
            continue
        patience.step(f"simulating a change: {name}")
        repair = confirmed(case, moves, linear=looks is not None, patience=patience.quiet())
        further = (
            looks.beyond(moves) if repair is None and looks and looks.look is BY_ROWS else None
        )
        if further is not None:
            repair = confirmed(case, further, linear=True, patience=patience.quiet())
        if repair is None and patience.over:
            left.append(name)
        elif repair is None:
            helpless.add(name)
        else:
            repairs.append(repair)
    if not repairs and not patience.over:
        pairs = looks.pairs(quantities) if looks else search.pair_moves(case, quantities, patience)
        repairs += _first_confirmed(case, pairs, patience, linear=looks is not None)
    repairs = _cheapest_first(case.scenario, repairs, _moves)
    return repairs, tuple(q.name for q in quantities if q.name in helpless), tuple(left)


def _first_confirmed(
    case: Case, pairs: Iterable[Moves], patience: Patience, *, linear: bool
) -> list[Repair]:
    for moves in pairs:
        if patience.over:
            break
        repair = confirmed(case, moves, linear=linear, patience=patience.quiet())
        if repair is not None:
            return [repair]
    return []


def _margins(
    case: Case, quantities: list[Quantity], patience: Patience
) -> tuple[tuple[Margin, ...], tuple[str, ...]]:
    """Margins, tightest first, and quantities that were not looked at."""
    found: list[Margin] = []
    at_first = glance(case)
    # Curves between two lanes are asked of geometry, which makes every look dear.
    if not at_first.works or at_first.asked:
        return search.all_margins(case, quantities, patience)
    looks = Looks(case, at_first, patience)
    left: tuple[str, ...] = ()
    for index, one in enumerate(quantities):
        try:
            found += looks.margins(one)
        except TimeUp:
            left = tuple(other.name for other in quantities[index:])
            break
    return tuple(sorted(found, key=lambda margin: margin.tightness)), left


def _ended(patience: Patience, left: tuple[str, ...]) -> tuple[Message, ...]:
    values = {"seconds": f"{patience.seconds:g}", "left": ", ".join(left) or "two changes together"}
    return messages_of((Finding("plan.search-ended", "warning", None, values),))


def _moves(repair: Repair) -> Moves:
    return tuple((change.quantity, change.value) for change in repair.changes)


def _cost(scenario: Scenario, moves: Moves) -> float:
    return sum(
        abs(value - one.value) / one.size * (CHEAP if set(one.names) & set(scenario.cheap) else 1.0)
        for one, value in moves
    )


def _cheapest_first(
    scenario: Scenario, ways: Iterable[T], moves_of: Callable[[T], Moves]
) -> list[T]:
    """Put ways in order: before a path is made longer its mover's start mark is moved, unless the author says else."""
    every = [(moves_of(way), way) for way in ways]
    alone = {moves[0][0].name: _cost(scenario, moves) for moves, _ in every if len(moves) == 1}

    def order(one: tuple[Moves, T]) -> tuple[float, bool]:
        moves, _ = one
        dear = [of for of, _ in moves if of.moves_start and not set(of.names) & set(scenario.cheap)]
        longer = [of.name.removesuffix(RUN_UP) for of in dear]
        marks = [alone.get(f"{mover} start", 0.0) for mover in longer]
        return max(_cost(scenario, moves), *marks, 0.0), bool(longer)

    return [way for _, way in sorted(every, key=order)]


def change_text(change: Change) -> str:
    """'subject speed  80.00 km/h -> 68.03 km/h'."""
    of = change.quantity
    now, then, _ = told_change(of.value, change.value, of.unit)
    return f"{of.name} {now} -> {then}"


def _message(scenario: Scenario, repair: Repair) -> Message:
    text = " and ".join(change_text(change) for change in repair.changes)
    place = scenario.origin(*repair.changes[0].quantity.keys)
    return Message("repair", "note", text, "", str(place))
