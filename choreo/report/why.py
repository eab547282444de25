"""What `choreo why` says: repairs, what can't help, margins, and the region as a picture."""

from __future__ import annotations

from collections.abc import Sequence

from choreo.plans.record import Plan
from choreo.report.content import Content, content_of
from choreo.report.sections import Notes, Section, SectionKey, Table, notes_of
from choreo.scenario import Scenario
from choreo.words.display import quantity

# What an answer says of why there is no plan; repairs come as offers instead.
EXPLAINING: frozenset[SectionKey] = frozenset(
    {
        "failed checks",
        "collisions",
        "obstacles of sights",
        "ground",
        "budget",
        "conflicts",
        "tried",
        "warnings",
    }
)

Offer = tuple[str, str, str, str, str]


def why_content(
    scenario: Scenario,
    plan: Plan,
    offers: Sequence[Sequence[Offer]],
    helpless: Sequence[str],
    kept: Sequence[str],
    margins: Sequence[tuple[str, str, str, str]],
    left: Sequence[str] | None,
    seconds: float,
) -> Content:
    """Put an explanation together.

    offers: per repair its changes (quantity, now, then, change, place). margins: quantity, now, edge, room. left: what
    was not looked at when the `seconds` were up; None where they were not.
    """
    whole = content_of(scenario, plan)
    sections: list[Section] = []
    if plan.verdict != "feasible":
        sections += [section for section in whole.sections if section.key in EXPLAINING]
    if margins:
        header = ("quantity", "now", "can go to", "room")
        sections.append(
            Table(
                "room before the plan breaks, each alone",
                header,
                tuple(margins),
                frozenset({1, 2, 3}),
            )
        )
    if offers:
        sections.append(_offers(offers))
    if plan.verdict != "feasible":
        if not offers and left is None:
            sections.append(
                Notes(
                    "what would help",
                    ("No single change and no pair was found that makes it work.",),
                )
            )
        if helpless:
            sections.append(Notes("can't help alone", (", ".join(helpless),)))
    if left is not None and plan.verdict == "feasible":
        sections.append(Notes("stopped early", (_stopped(left, seconds),)))
    if kept:
        sections.append(
            Notes("kept, as the scenario asks or the ground decides", (", ".join(kept),))
        )
    caution = notes_of(whole.sections, "caution")
    return Content(whole.verdict, whole.headline, whole.title, whole.summary, (*sections, *caution))


def _stopped(left: Sequence[str], seconds: float) -> str:
    rest = f"Not looked at: {', '.join(left)}." if left else "Two changes together may help."
    return (
        f"The search ended after {seconds:g} s. {rest} `--seconds {10 * seconds:g}` looks longer."
    )


def _offers(offers: Sequence[Sequence[Offer]]) -> Table:
    rows = []
    for number, changes in enumerate(offers, start=1):
        for index, change in enumerate(changes):
            rows.append((str(number) if index == 0 else "and", *change))
    title = (
        "any ONE of these makes it work"
        if len(offers[0]) == 1
        else "these TWO together make it work"
    )
    header = ("", "quantity", "now", "then", "change", "line")
    return Table(title, header, tuple(rows), frozenset({2, 3, 4, 5}))


def region_lines(
    first: tuple[str, str, float, float],
    second: tuple[str, str, float, float],
    columns: Sequence[tuple[float | None, float | None, str, str]],
    *,
    height: int = 16,
) -> list[str]:
    """Draw a region: `#` feasible, `.` proven infeasible, `?` undecided.

    first, second: name, unit, low, high (SI). columns: least, most of the second (SI), words for below and above.
    """
    name, unit, low, high = second
    lines = [f"{name}"]
    for row in range(height):
        value = high - (row + 0.5) * (high - low) / height
        cells = "".join(_cell(value, *column) for column in columns)
        label = (
            quantity(high, unit) if row == 0 else quantity(low, unit) if row == height - 1 else ""
        )
        lines.append(f"{label:>14} |{cells}")
    lines.append(" " * 15 + "+" + "-" * len(columns))
    left, right = quantity(first[2], first[1]), quantity(first[3], first[1])
    gap = max(1, len(columns) - len(left) - len(right))
    lines.append(" " * 16 + left + " " * gap + right)
    lines.append(" " * 16 + first[0])
    lines.append("# feasible, verified at its borders   . proven infeasible   ? undecided")
    return lines


def _cell(value: float, least: float | None, most: float | None, below: str, above: str) -> str:
    marks = {"infeasible": ".", "undecided": "?", "": "?"}
    if least is None or most is None:
        return marks[below]
    if value < least:
        return marks[below]
    return "#" if value <= most else marks[above]
