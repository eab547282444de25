"""The six figures that stand large at the head of a page."""

from __future__ import annotations

from collections.abc import Sequence

from choreo.page.markup import text
from choreo.plans.record import Plan
from choreo.words.display import kmh, metres, quantity, seconds


def figures_html(plan: Plan, before: Plan | None = None) -> str:
    """Lay out what a team asks first of a feasible plan; nothing for the others. before: what it is compared with."""
    if plan.verdict != "feasible":
        return ""
    was = {} if before is None else {name: value for name, value, _ in figures_of(before)}
    tiles = [
        (name, value, f"before {was[name]}" if was.get(name, value) != value else more)
        for name, value, more in figures_of(plan)
    ]
    return tiles_html(tiles)


def figures_of(plan: Plan) -> list[tuple[str, str, str]]:
    """Give what a team asks first of a feasible plan: name, value, what it is of."""
    return [one for one in _figures(plan) if one is not None]


def tiles_html(told: Sequence[tuple[str, str, str]]) -> str:
    """Lay figures out large, each with its name, its value and what it is of."""
    return f'<dl class="figures" aria-label="In short">{"".join(_tile(*one) for one in told)}</dl>'


def _tile(name: str, value: str, more: str) -> str:
    return f"<div><dt>{text(name)}</dt><dd>{text(value)} <small>{text(more)}</small></dd></div>"


def _figures(plan: Plan) -> list[tuple[str, str, str] | None]:
    return [*_encounter(plan), _trigger(plan), _runway(plan), _last_call(plan), _edge(plan)]


def _encounter(plan: Plan) -> list[tuple[str, str, str] | None]:
    """When the first encounter is, and how fast the two then close."""
    if not plan.encounters:
        return []
    name, one = min(plan.encounters.items(), key=lambda item: item[1].time_s)
    return [
        ("encounter", seconds(one.time_s), f"after go, {name}"),
        ("closing", kmh(one.closing_mps, 1), f"{one.of} on {one.with_}"),
    ]


def _trigger(plan: Plan) -> tuple[str, str, str] | None:
    if not plan.triggers:
        return None
    name, one = next(iter(plan.triggers.items()))
    return "trigger", quantity(one.setting, one.setting_unit), f"{one.condition}, {name}"


def _runway(plan: Plan) -> tuple[str, str, str] | None:
    needed = {
        name: mover.runway.required_m or mover.runway.total_m
        for name, mover in plan.movers.items()
        if mover.pieces
    }
    if not needed:
        return None
    name = max(needed, key=lambda one: needed[one])
    return "runway", metres(needed[name]), name


def _last_call(plan: Plan) -> tuple[str, str, str] | None:
    """The earliest of the last instants at which all together can still break off."""
    if plan.space is None:
        return None
    ends = [one for one in plan.space.no_return if one.by_all and one.time_s is not None]
    if not ends:
        return None
    first = min(ends, key=lambda one: one.time_s or 0.0)
    return "last call", seconds(first.time_s or 0.0), "to break off, all together"


def _edge(plan: Plan) -> tuple[str, str, str] | None:
    site = None if plan.space is None else plan.space.site
    if site is None:
        return None
    return "room to the edge", metres(site.margin_m), f"at {site.edge}"
