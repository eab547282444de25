"""What measured marks make of a plan: judged by the encounters' values and by what else breaks."""

from pathlib import Path

import pytest

from choreo.measured.as_staged import check_staged, simulated
from choreo.measured.file import Measurements, load_measured
from tests.unit.page.shown import FOLDER, whole


def test_contact_as_wanted_but_earlier_than_planned_is_nothing_that_breaks(tmp_path: Path) -> None:
    case, plan = whole("walker-nearside").case, whole("walker-nearside").plan
    # The trigger watches the subject: from a mark farther on all happens earlier, with less time to settle.
    ahead_m = plan.movers["subject"].start.station_m + 2.0
    file = tmp_path / "marks.csv"
    file.write_text(f"name,quantity,value\nsubject,station,{ahead_m:.4f} m\n", encoding="utf-8")
    staged = check_staged(case, plan, load_measured(file, case.scenario))
    assert [one.within for one in staged.encounters] == [True]
    assert {one.code for one in staged.broken} == {"verify.trigger-unsettled"}


def test_marks_rounded_to_what_a_tape_shows_pass_for_every_bundled_scenario() -> None:
    found = {}
    for file in sorted(FOLDER.glob("*.yaml")):
        first = whole(file.stem)
        for digits in (4, 3):
            marks = {n: round(o.start.station_m, digits) for n, o in first.plan.movers.items()}
            encounters, broken = simulated(first.case, first.plan, Measurements(marks, {}, {}))
            out = [one.name for one in encounters if not one.within]
            found[file.stem, digits] = out + [one.code for one in broken]
    assert len(found) > 40
    assert {name: said for name, said in found.items() if said} == {}


@pytest.mark.parametrize(("ahead_m", "well"), [(0.001, True), (0.2, False)])
def test_a_millimetre_is_rounding_and_a_mark_that_costs_settling_is_moved_back(
    ahead_m: float, well: bool
) -> None:
    first = whole("walker-nearside")
    at = first.plan.movers["subject"].start.station_m
    staged = check_staged(first.case, first.plan, Measurements({"subject": at + ahead_m}, {}, {}))
    assert staged.within is well
    whats = [one.what for one in staged.corrections]
    if well:
        assert (whats, staged.marks_kept) == ([], True)
    else:
        assert (whats, staged.marks_moved) == (["start mark of subject"], ("subject",))
        assert staged.corrections[0].corrected == pytest.approx(at, abs=1e-3)


def test_a_slower_trigger_is_set_anew_as_far_as_settling_lets_and_moved_marks_are_named() -> None:
    first = whole("walker-nearside")
    staged = check_staged(first.case, first.plan, Measurements({}, {}, {"step_out": 0.19}))
    assert not staged.within
    # The planned setting uses settling up: 130 ms earlier needs a longer way before it, so one mark moves, no other.
    assert staged.marks_moved == ("subject",)
    setting, mark = staged.corrections
    assert setting.corrected - setting.planned == pytest.approx(0.13, abs=1e-3)
    assert mark.corrected - mark.planned == pytest.approx(-0.13 * 40 / 3.6, abs=1e-2)
