"""Ways of releasing a mover in words: the best first, what each needs, and what the scenario's own costs."""

from __future__ import annotations

from choreo.plans.releases_record import Release, Releases
from choreo.report.sections import Notes, Section, Table
from choreo.words.display import plain, quantity

# A chance that differs by less is the same, as far as the runs tell.
SAME_RATIO = 0.005


def releases_sections(found: tuple[Releases, ...]) -> list[Section]:
    """Give a table for each mover that something releases, and what its own way costs; a note where nothing is."""
    if not found:
        line = "Nobody is released by a trigger or by another one's progress."
        return [Notes("releases compared", (line,), key="releases")]
    sections: list[Section] = []
    for one in found:
        rows = tuple(_cells(way, one) for way in one.ways)
        title = f"releases of {one.mover} compared, on the same runs: {one.encounter}"
        header = ("released by", "set to", "spread", "valid\n%", "needs, of " + one.watched)
        sections.append(Table(title, header, rows, frozenset({1, 2, 3}), key="releases"))
        sections.append(Notes(f"release of {one.mover}", (_loss(one),), key="releases"))
    return sections


def _cells(way: Release, one: Releases) -> tuple[str, ...]:
    name = f"{way.name} (as written)" if way.own else way.name
    if way.chance is None:
        return name, "-", "-", "-", f"not possible: {way.why_not}"
    set_to = "-" if way.setting is None or way.unit is None else quantity(way.setting, way.unit)
    spread = "-" if way.spread is None else _spread(way.spread, one.unit)
    return name, set_to, spread, plain(100.0 * way.chance.ratio, 1), way.needs


def _spread(value: float, unit: str) -> str:
    return f"{plain(100.0 * value, 1)} cm" if unit == "m" else f"{plain(value)} {unit}"


def _loss(one: Releases) -> str:
    own = next(way for way in one.ways if way.own)
    best = one.ways[0]
    if one.loss_ratio < SAME_RATIO:
        return f"{own.name}, as it is written, is as good as the best."
    lost = plain(100.0 * one.loss_ratio, 1)
    return (
        f"{own.name}, as it is written, costs {lost} % of the runs against {best.name}: every way is set to release "
        "at the same moment by plan."
    )
