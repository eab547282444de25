"""What is said of scores: signs, digits, units of a table, and which rule is named first."""

import csv
import math

from choreo.report.sections import Table
from choreo.rules.records import SignalUnit
from choreo.scoring.against import Off
from choreo.scoring.correcting import NextRun
from choreo.scoring.rows import table_lines
from choreo.scoring.score import Happened, RunScore
from choreo.scoring.series import series_of
from choreo.scoring.telling import run_content, series_content
from choreo.scoring.verdicts import Judged, Ruling


def judged(rule: str, ruling: Ruling, margin: float, unit: SignalUnit = "m/s") -> Judged:
    return Judged(rule, ruling, None, 0.1, 1.0, -1.0, 1.0, margin, 0.0, "4.3.2", "", "", unit)


RULES = (
    judged("FC-B4: near", "not decidable", 2.9e-8, "rad"),
    judged("FC-B1: speed", "invalid", -0.1),
)


def run(off: float, headed: float | None = None) -> RunScore:
    """A run whose contact came 3 cm to the left, its speed off by so much (m/s)."""
    happened = Happened(
        "contact", "subject", "walker", "front", None, 7.0, 0.03, 0.0, "", "m", headed
    )
    held = Off("speed held", "subject", "hold: speed", 10.0, 10.0 + off, "m/s", "what it holds")
    return RunScore("run.csv", False, "invalid", RULES, (happened,), (held,), (), "go")


def rows(title: str, *scores: RunScore) -> list[tuple[str, ...]]:
    told = series_content("a title", series_of(scores, {"contact": "m"}), scores, None)
    (table,) = (one for one in told.sections if isinstance(one, Table) and one.title == title)
    return [tuple(row) for row in table.rows]


def test_an_invalid_run_names_the_rule_that_made_it_so() -> None:
    ((*_, why),) = rows("runs", run(0.0))
    assert why == "FC-B1: speed"


def test_nothing_is_told_without_a_sign_and_noise_of_numbers_as_nothing() -> None:
    ((_, _, mean, least, most, _),) = rows("against the plan, off by", run(-0.03), run(0.0299))
    assert (mean, least, most) == ("0.00 km/h", "-0.11 km/h", "+0.11 km/h")
    (table, *_) = run_content("a title", run(0.0), None).sections
    assert isinstance(table, Table)
    assert [row[4] for row in table.rows] == ["0 deg", "-0.36 km/h"]


def test_of_a_system_that_acted_the_value_counts_that_was_judged() -> None:
    told = series_content(
        "a title", series_of((run(0.0, 0.01),), {"contact": "m"}), (run(0.0, 0.01),), None
    )
    assert (
        "In 1 run the subject's own system acted: contacts are told as headed for then."
        in told.summary
    )
    assert "open after 1 run." in told.summary
    ((_, _, contact, _),) = rows("runs", run(0.0, 0.01))
    assert contact == "0.010 m"


def test_columns_of_a_table_say_their_units() -> None:
    head, row = csv.reader(table_lines([run(0.1)]))
    found = dict(zip(head, row, strict=True))
    assert found["FC-B1: speed margin m/s"] == "-0.1"
    assert found["FC-B4: near worst rad"] == "0.1"
    assert (found["contact value m"], found["subject hold: speed off m/s"]) == ("0.03", "0.1")
    assert math.isclose(float(found["contact time s"]), 7.0)


def test_a_next_run_without_a_change_claims_nothing_more() -> None:
    after = NextRun(1, 0.5, "feasible", (), (), (("latency of step_out", 0.06, "s"),))
    (words,) = (
        one.lines
        for one in run_content("a title", run(0.0), after).sections
        if one.title == "next run"
    )
    assert words[0] == "no mark and no setting to change"
