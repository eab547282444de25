"""The sheet's last page: what the crew writes down of the day and of each run, and whom to call."""

from __future__ import annotations

from collections.abc import Sequence

from choreo.page.markup import text, told
from choreo.page.sheet_pages import Block, block, lines_mm
from choreo.page.sheet_parts import BLANK, row, table
from choreo.page.sheet_rules import conditions_html
from choreo.plans.record import Plan
from choreo.scenario import Scenario
from choreo.words.caution import CAUTIONS
from choreo.words.display import quantity

ATTEMPTS = 5
# Heights in mm: of a row to write in, of one of an attempt, and of what stands below the tables.
WRITING_MM, ATTEMPT_MM, SIGNED_MM = 5.9, 6.6, 5.0
# The cautions and what stands above them stay together where that is no higher than this (mm): about half a page.
TOGETHER_MM = 150.0
USUAL = ("surface", "wind", "air temperature", "light")
PEOPLE = ("run leader, says go", "may stop the run", "test safety", "driver or operator")


def as_run(scenario: Scenario, plan: Plan, settings: Block) -> tuple[Block, ...]:
    """Give the rows for five attempts, conditions of the day, people and posts, and the cautions in full.

    settings: what each mover is set to do, which stands before the cautions.
    """
    people = [(one, "") for one in PEOPLE] + [(f"{name}: id, load", "") for name in plan.movers]
    called = [("radio channel", ""), ("emergency number", ""), ("first aid, fire", "")]
    called += [(f"post {number}: who, where", "") for number in (1, 2, 3)]
    cautions = "".join(f"<p>{told(line)}</p>" for line in CAUTIONS)
    caution_mm = sum(map(lines_mm, CAUTIONS))
    pairs = max(len(people), len(called))
    signed = Block(
        f'<section><div class="cautions"><h2>Caution</h2>{cautions}</div>'
        '<table class="signatures"><tbody><tr><td><span></span>planner</td>'
        "<td><span></span>run leader</td><td><span></span>test safety</td></tr></tbody></table></section>",
        caution_mm + SIGNED_MM,
    )
    return (
        block("As run", _attempts(plan), 6.0 + ATTEMPTS * ATTEMPT_MM),
        _conditions_of_the_day(scenario),
        *_never_alone(
            (
                block("People, posts, vehicles", _two(people, called), pairs * WRITING_MM),
                settings,
                signed,
            )
        ),
    )


def _never_alone(blocks: Sequence[Block]) -> tuple[Block, ...]:
    """Keep what ends the sheet in one piece: no page carries cautions and signatures alone."""
    whole_mm = sum(one.mm for one in blocks)
    if whole_mm > TOGETHER_MM:
        return tuple(blocks)
    return (Block(f'<div class="together">{"".join(one.html for one in blocks)}</div>', whole_mm),)


def _conditions_of_the_day(scenario: Scenario) -> Block:
    html = _conditions(scenario)
    listed = html.startswith('<table class="people">')
    return block("Conditions", html, html.count("<tr>") * WRITING_MM if listed else None)


def _attempts(plan: Plan) -> str:
    """A row an attempt: when, what came of each encounter, whether it counts."""
    met = [
        f"{text(name)}<br>+/- {text(quantity(one.tolerance, one.unit))}"
        for name, one in list(plan.encounters.items())[:3]
    ]
    head = (
        "no.",
        "time of day",
        "marks,<br>triggers set",
        *met,
        "speeds<br>in?",
        "counts?",
        "remarks, recording",
    )
    rows = [
        f'<tr><th scope="row">{n}</th>{BLANK * (len(head) - 1)}</tr>'
        for n in range(1, ATTEMPTS + 1)
    ]
    return table(head, rows, "attempts")


def _listed(scenario: Scenario) -> list[tuple[str, str]]:
    """The scenario's own conditions first, then those that every crew writes down."""
    own = [(name, words) for name, words in scenario.conditions.items()]
    said = " ".join(name for name, _ in own)
    usual = USUAL if scenario.rules is None else USUAL[:1]
    return own + [(name, "-") for name in usual if name.split()[-1] not in said]


def _conditions(scenario: Scenario) -> str:
    listed = _listed(scenario)
    if not scenario.conditions and scenario.rules is None:
        # Nothing is planned of them: there is only what is measured, and two go side by side.
        blanks = [(f"{name}, at", "") for name, _ in listed]
        half = (len(blanks) + 1) // 2
        return _two(blanks[:half], blanks[half:])
    rows = [row(name, (words,), 2) for name, words in listed]
    own = table(("condition", "by plan", "as measured", "at"), rows, "conditions")
    return own + conditions_html(scenario)


def _two(left: Sequence[tuple[str, str]], right: Sequence[tuple[str, str]]) -> str:
    """Two lists to write in, side by side."""
    rows = []
    for number in range(max(len(left), len(right))):
        cells = "".join(
            f'<th scope="row">{text(one[number][0])}</th>{BLANK}'
            if number < len(one)
            else "<td></td><td></td>"
            for one in (left, right)
        )
        rows.append(f"<tr>{cells}</tr>")
    return f'<table class="people"><tbody>{"".join(rows)}</tbody></table>'
