"""What one that goes in step can still make good, in words."""

from __future__ import annotations

from choreo.plans.authority_record import Authority
from choreo.report.sections import Notes, Section, Table
from choreo.words.display import plain, seconds


def authority_sections(found: tuple[Authority, ...]) -> list[Section]:
    """Give a table for each mover that goes in step, and when its authority runs out."""
    sections: list[Section] = []
    for one in found:
        rows = tuple(
            (plain(time), plain(one.meets_s - time), *map(_told, (late, late_m, early, early_m)))
            for time, late, late_m, early, early_m in zip(
                one.times_s, one.late_s, one.late_m, one.early_s, one.early_m, strict=True
            )
        )
        header = (
            "after go\ns", f"before\n{one.encounter} s", f"{one.lead}\nlate by s", "or\nm",
            f"{one.lead}\nearly by s", "or\nm",
        )  # fmt: skip
        title = f"authority of {one.mover}: what of {one.lead} it can still make good, if it begins then"
        sections.append(Table(title, header, rows, frozenset(range(6)), key="authority"))
        sections.append(Notes(f"authority of {one.mover}", (runs_out_words(one),), key="authority"))
    return sections


def runs_out_words(one: Authority) -> str:
    """Say when it runs out."""
    before = seconds(one.meets_s - one.runs_out_s)
    return (
        f"It runs out {before} before {one.encounter}: from then on only {plain(one.little_s)} s are forgiven, by the "
        f"tolerance of {plain(one.tolerance_m)} m."
    )


def _told(value: float | None) -> str:
    return "any" if value is None else plain(value)
