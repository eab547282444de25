"""How much of another one's delay or lead can still be made good: by hand, where the other one holds its speed."""

from pathlib import Path

import pytest

from choreo.case import answer, case_at
from choreo.errors.authority import authorities_of
from choreo.errors.stage import stage_of
from choreo.page.authority import authority_html
from choreo.report.authority import authority_sections
from choreo.report.sections import Table
from choreo.scenario import load


def test_authority_is_what_the_correction_makes_good_until_they_meet() -> None:
    case = case_at(load(Path("scenarios/walker-in-step.yaml")), None)
    plan = answer(case).plan
    (one,) = authorities_of(stage_of(case.scenario, case.paths, plan))
    assert (one.mover, one.lead, one.encounter, one.tolerance_m) == (
        "walker",
        "subject",
        "contact",
        0.05,
    )
    # At 5 km/h the tolerance forgives so much by itself.
    forgiven_s = 0.05 * 3.6 / 5
    holds_s = next(e.time_s for e in plan.movers["subject"].events if e.name == "end of ramp")
    left = [one.meets_s - time for time in one.times_s]
    steady = [i for i, s in enumerate(left) if s > 1.2 and one.times_s[i] > holds_s + 0.1]
    frozen = [i for i, s in enumerate(left) if 0.0 < s < 0.49]
    assert (len(steady), len(frozen)) == (2, 1)
    # At nine tenths of its speed it lets the other one gain a ninth of the time left, at eleven tenths an eleventh: the
    # pace that it has when it is frozen goes on. Near its place it is slower to it.
    late = [left[i] / 9 + forgiven_s for i in steady]
    early = [left[i] / 11 + forgiven_s for i in steady]
    assert [one.late_s[i] for i in steady] == pytest.approx(late, abs=0.02)
    assert [one.early_s[i] for i in steady] == pytest.approx(early, abs=0.02)
    assert [one.late_s[i] for i in frozen] == pytest.approx([forgiven_s], abs=0.004)
    # It is frozen half a second before.
    assert one.meets_s - one.runs_out_s == pytest.approx(0.5, abs=0.4)
    table, note = authority_sections((one,))
    assert isinstance(table, Table)
    assert len(table.rows) == len(one.times_s)
    assert "only 0.040 s are forgiven" in note.lines[0]  # type: ignore[union-attr]
    assert "runs out" in authority_html(one)
