"""What the smallest error gains and costs, in words, and the plans between it and the shortest runway."""

from __future__ import annotations

from choreo.plans.steadiest_record import Spreading, Steadiest
from choreo.report.effects import per_cent, small
from choreo.report.sections import Notes, Section, Table
from choreo.words.display import plain, quantity

# So many plans of the frontier are shown: its ends, and even steps between them.
MOST_SHOWN = 7


def steadiest_notes(told: Steadiest) -> Notes:
    """Give what the least spread gains against the shortest runway, and what it costs."""
    least, shortest = told.least, told.shortest
    if least == shortest:
        first = f"{_spread(least)}: the shortest runway has the smallest error that was found"
    else:
        cost = least.runway_m - shortest.runway_m
        first = (
            f"{_spread(least)}, on {plain(least.runway_m, 1)} m of runway; the shortest runway takes "
            f"{plain(cost, 1)} m less, and there {_spread(shortest)}"
        )
    lines = [f"{first}.", f"It is the least of {told.looked} plans that were looked at."]
    if told.assumed:
        lines.append(
            "Usual errors stand in for those that the file doesn't have: `choreo stress` lists them."
        )
    return Notes("smallest error", tuple(lines), key="preferred")


def frontier_sections(told: Steadiest) -> list[Section]:
    """Give the plans that no other one beats in both, as a table."""
    rows = tuple(
        (
            plain(one.runway_m, 1),
            one.encounter,
            small(one.spread, one.unit),
            per_cent(one.ratio),
            ", ".join(f"{each.name} {quantity(each.value, each.unit)}" for each in one.chosen)
            or "-",
        )
        for one in _shown(told.frontier)
    )
    header = (
        "runway\nm",
        "worst encounter",
        "its spread",
        "of its\ntolerance",
        "what is open, there",
    )
    title = "shorter runway or smaller error"
    return [Table(title, header, rows, frozenset({0, 2, 3}), key="frontier"), steadiest_notes(told)]


def _spread(one: Spreading) -> str:
    return f"{one.encounter} spreads {small(one.spread, one.unit)}, {per_cent(one.ratio)} of its tolerance"


def _shown(every: tuple[Spreading, ...]) -> list[Spreading]:
    if len(every) <= MOST_SHOWN:
        return list(every)
    last = len(every) - 1
    return [every[round(last * step / (MOST_SHOWN - 1))] for step in range(MOST_SHOWN)]
