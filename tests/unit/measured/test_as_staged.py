"""What measured marks make of a plan: judged by the encounters' values and by what else breaks."""

from pathlib import Path

from choreo.measured.as_staged import check_staged
from choreo.measured.file import load_measured
from tests.unit.page.shown import whole


def test_contact_as_wanted_but_earlier_than_planned_is_nothing_that_breaks(tmp_path: Path) -> None:
    case, plan = whole("walker-nearside").case, whole("walker-nearside").plan
    # The trigger watches the subject: from a mark farther on all happens earlier, with less time to settle.
    ahead_m = plan.movers["subject"].start.station_m + 2.0
    file = tmp_path / "marks.csv"
    file.write_text(f"name,quantity,value\nsubject,station,{ahead_m:.4f} m\n", encoding="utf-8")
    staged = check_staged(case, plan, load_measured(file, case.scenario))
    assert [one.within for one in staged.encounters] == [True]
    assert {one.code for one in staged.broken} == {"verify.trigger-unsettled"}
