"""What `choreo rules` shows and writes."""

from __future__ import annotations

import json
import textwrap
from pathlib import Path

import click
from rich.console import Console

from choreo.commands.screen import screen
from choreo.export.files import is_standard_output, write_whole
from choreo.report import print_section
from choreo.report.sections import Notes, Table
from choreo.rules.campaign import campaign_of
from choreo.rules.events import told_event
from choreo.rules.numbers import told
from choreo.rules.reading import bundled, bundled_names, family_of, rule_set
from choreo.rules.records import Family, ImpactSpeeds, RuleSet
from choreo.rules.table import data_of, rows_of, unsure_of
from choreo.words import ChoreoError, Finding
from choreo.words.display import how_many
from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class Asked:
    """What is asked for. name: of a bundled set, or a file; family: of it."""

    name: str | None
    family: str | None
    matrix: bool
    output: Path | None
    as_json: bool


def show_rules(asked: Asked, width: int | None) -> None:
    """Print sets, families or rules, or give a matrix. Raises ChoreoError: no such set or family, its faults."""
    console = screen(width)
    if asked.name is None:
        sets = [bundled(name) for name in bundled_names()]
        if asked.as_json:
            click.echo(json.dumps({"sets": [data_of(one) for one in sets]}, indent=2))
        else:
            _print_sets(sets, console)
        return
    rules = rule_set(asked.name, Path())
    family = None if asked.family is None else family_of(rules, asked.family)
    if asked.matrix and family is not None:
        _give_matrix(rules, family, asked.name, asked.output)
    elif asked.as_json:
        click.echo(json.dumps(data_of(rules, family), indent=2, allow_nan=False))
    elif family is None:
        _print_families(rules, console)
    else:
        _print_rules(rules, family, console)


def _give_matrix(rules: RuleSet, family: Family, name: str, output: Path | None) -> None:
    """name: of the set, as scenarios name it."""
    if not family.matrix:
        values = {"family": family.name, "set": rules.name}
        raise ChoreoError([Finding("rules.no-matrix", "error", None, values)])
    text = campaign_of(rules, family, name)
    if output is None or is_standard_output(output):
        click.echo(text, nl=False)
        return
    write_whole(output, text, rules.source_files)
    click.echo(f"campaign with {how_many(family.cells, 'cell')} saved to {output}", err=True)


def _print_sets(sets: list[RuleSet], console: Console) -> None:
    rows = tuple(
        (
            one.name,
            one.named,
            one.title,
            str(len(one.families)),
            str(unsure_of(one)),
            "yes" if one.newest else "no",
        )
        for one in sets
    )
    header = ("set", "document", "about", "families", "not sure", "newest")
    print_section(Table("rule sets", header, rows, frozenset({3, 4})), console)
    lines = (
        "Not sure: rules that are second-hand, from memory, or provisional in the document itself.",
        "`choreo rules SET` lists its families, `choreo rules SET FAMILY` its rules with clauses.",
    )
    console.print()
    print_section(Notes("more", lines), console)


def _print_families(rules: RuleSet, console: Console) -> None:
    _print_head(rules, console)
    rows = tuple(
        (
            one.name,
            one.title,
            "" if one.t0 is None else told_event(one.t0),
            str(one.cells or ""),
            str(len(one.rules)),
        )
        for one in rules.families.values()
    )
    header = ("family", "about", "T0", "cells", "rules")
    print_section(Table("families", header, rows, frozenset({3, 4})), console)


def _print_rules(rules: RuleSet, family: Family, console: Console) -> None:
    _print_head(rules, console)
    rows = tuple(
        (
            row.id,
            row.what or row.kind,
            row.bound,
            row.when,
            row.clause,
            row.status,
        )
        for row in rows_of(family)
    )
    title = f"{family.name}: {family.title}"
    header = ("rule", "what", "bound", "when", "clause", "status")
    print_section(Table(title, header, rows), console)
    notes = tuple(f"{row.id}: {row.note}" for row in rows_of(family) if row.note)
    if notes:
        console.print()
        print_section(Notes("notes", notes), console)
    if family.impact is not None:
        _print_impact(family.impact, console)
    if not family.matrix:
        return
    cells = tuple(
        (grid.name, str(grid.cells), grid.source.clause, grid.source.status)
        for grid in family.matrix
    )
    console.print()
    columns = ("published matrix", "cells", "clause", "status")
    print_section(Table(how_many(family.cells, "cell"), columns, cells, frozenset({1})), console)


def _print_impact(impact: ImpactSpeeds, console: Console) -> None:
    rows = tuple(
        (told(speed, "m/s"), *(told(one[k], "m/s") for one in impact.at_most_mps.values()))
        for k, speed in enumerate(impact.speeds_mps)
    )
    console.print()
    title = f"impact speeds at most, {impact.source.words} ({impact.source.status})"
    columns = (impact.of, *impact.at_most_mps)
    print_section(Table(title, columns, rows, frozenset(range(len(columns)))), console)
    if impact.source.note:
        console.print(impact.source.note)


def _print_head(rules: RuleSet, console: Console) -> None:
    dated = f", {rules.date}" if rules.date else ""
    on = f", on top of {rules.builds_on}" if rules.builds_on else ""
    console.print(f"{rules.title}: {rules.named}{dated}{on}")
    if not rules.newest:
        console.print("This is not the newest version.")
    elif not rules.on_newest:
        console.print(f"{rules.builds_on}, on which it builds, is not the newest version.")
    for line in textwrap.wrap(rules.note.strip(), console.width):
        console.print(line)
    console.print()
