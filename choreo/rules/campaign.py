"""The published matrix of a family as the text of a campaign, for the user's own scenarios."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from choreo.rules.records import BetweenRuns, CampaignRule, Family, Grid, RuleSet
from choreo.words.display import how_many

# What a value's place in the user's scenario is called, for the names of a published matrix.
PLACES: Mapping[str, str] = {
    "subject speed": "test_speed",
    "target speed": "target_speed",
    "impact location": "overlap",
    "impact side": "side",
    "overlap": "overlap",
    "headway": "headway",
    "target braking": "target_braking",
    "time to collision": "time_to_collision",
    "lateral velocity": "lateral_velocity",
}
SCENARIO = "YOUR-SCENARIO.yaml"


def campaign_of(rules: RuleSet, family: Family, name: str) -> str:
    """Give the text of a campaign file with every cell of a family's matrix. name: of the set, as scenarios name it.

    Raises ValueError: it has none.
    """
    if not family.matrix:
        raise ValueError(f"no cells of {family.name} are known")
    return "\n".join([*_head(rules, family, name), "runs:", *_runs(family), *_day(family)]) + "\n"


def values_of(family: Family) -> dict[str, str]:
    """Give the named values that the user's scenario needs, each with the first value of the matrix."""
    found: dict[str, str] = {}
    for grid in family.matrix:
        for name, values in {**grid.vary, **grid.together}.items():
            found.setdefault(place_of(name), values[0])
    return found


def place_of(name: str) -> str:
    """Give the name of a scenario's value for a name of the matrix."""
    return PLACES.get(name, "".join(c if c.isalnum() else "_" for c in name))


def _head(rules: RuleSet, family: Family, name: str) -> Iterator[str]:
    named = rules.named
    values = ", ".join(f"{name}: {value}" for name, value in values_of(family).items())
    yield f"# {family.title}: the published matrix of {named}, {how_many(family.cells, 'cell')}."
    yield f"# Put your own scenario in place of {SCENARIO}. It needs these values, used as $NAME:"
    yield f"#   values: {{{values}}}"
    yield f"#   rules: {{set: {name}, family: {_quoted(family.name)}}}"
    if not rules.newest or not rules.on_newest:
        old = named if not rules.newest else rules.builds_on
        yield f"# {old} is not the newest version."
    yield "choreo campaign: 1"
    yield f"title: {_quoted(f'{family.title}, {named}')}"


def _runs(family: Family) -> Iterator[str]:
    repeats = max((rule.repeats for rule in family.of(CampaignRule)), default=1)
    for grid in family.matrix:
        words = [grid.source.clause, grid.source.status, grid.source.note]
        yield f"  # {how_many(grid.cells, 'cell')}; " + "; ".join(one for one in words if one)
        yield f"  {_name(grid)}:"
        yield f"    scenario: {SCENARIO}"
        for section, lists in (("vary", grid.vary), ("together", grid.together)):
            if lists:
                yield f"    {section}:"
            for name, values in lists.items():
                yield f"      {place_of(name)}: [{', '.join(values)}]"
        if repeats > 1:
            yield f"    repeats: {repeats}"


def _day(family: Family) -> Iterator[str]:
    for rule in family.of(BetweenRuns):
        if rule.quantity == "time since the last run" and rule.lower is not None:
            most = "" if rule.upper is None else f"..{rule.upper:g} s"
            yield "day:"
            yield f"  between runs: {rule.lower:g} s{most}    # {rule.source.words}"
            return


def _name(grid: Grid) -> str:
    """A run's name: letters, digits and dashes."""
    words = "".join(c if c.isalnum() else " " for c in grid.name).split()
    name = "-".join(words)
    return name if name[:1].isalpha() else f"r-{name}"


def _quoted(text: str) -> str:
    return f'"{text}"' if any(c in text for c in ",:#{}[]") else text
