"""What may be allowed of each source of error, in words."""

from __future__ import annotations

from choreo.plans.allowed_record import AllowedPlan, AllowedSource
from choreo.plans.errors_record import SourceTold
from choreo.report.effects import per_cent, small, source_words
from choreo.report.sections import Notes, Section, Table


def allowed_sections(told: AllowedPlan, sources: tuple[SourceTold, ...]) -> list[Section]:
    """Give the table and what follows from it; sources: those that `told` counts by index."""
    rows = tuple(
        (
            source_words(sources[one.source]),
            _size(one.now, sources[one.source]),
            _allowed(one.beside, one, sources[one.source], told, beside=True),
            _allowed(one.alone, one, sources[one.source], told, beside=False),
        )
        for one in told.sources
    )
    wanted = per_cent(told.wanted_ratio)
    title = f"allowed for {wanted} valid runs, as standard deviations"
    header = ("source", "now", "with the others\nas they are", "with the others\nperfect")
    return [
        Table(title, header, rows, frozenset({1, 2, 3}), key="allowed"),
        Notes("all together", _together(told), key="allowed"),
    ]


def _size(value: float, source: SourceTold) -> str:
    return per_cent(value) if source.unit is None else small(value, source.unit)


def _allowed(
    value: float | None, one: AllowedSource, source: SourceTold, told: AllowedPlan, *, beside: bool
) -> str:
    if value is None:
        return f"over {_size(told.most_factor * one.now, source)}"
    if value == 0.0:
        return "not enough if perfect" if beside else "nearly nothing"
    return _size(value, source)


def _together(told: AllowedPlan) -> tuple[str, ...]:
    chance = f"{per_cent(told.chance_ratio)} of {told.runs} runs of their own are valid as it is"
    if told.factor >= told.most_factor:
        return (f"{chance}; all sources may be more than {told.most_factor:g} times as large.",)
    if told.factor == 0.0:
        return (f"{chance}; all sources together must be next to nothing.",)
    verb = "may be" if told.factor >= 1.0 else "must be"
    return (
        f"{chance}; all sources at once {verb} multiplied by {told.factor:.2f} for "
        f"{per_cent(told.wanted_ratio)} (looked for in steps of {per_cent(told.fine_ratio)} of it).",
    )
