"""Rates that are left to be chosen, and usual ones: decided by closed forms."""

from dataclasses import replace
from pathlib import Path

import pytest

from choreo.case import Answer, answer, case_of
from choreo.case.departures import with_departures
from choreo.case.left_open import nothing_left
from choreo.linear import chosen, decide
from choreo.scenario import Phase, Span, loads
from choreo.solve import solve_linear
from choreo.verification import verify
from choreo.words import ChoreoError

KMH = 1 / 3.6
# The lead is at 10 m/s after 5 s and 25 m. The subject's ramp to 50 km/h, whose mean speed is 25 km/h, lasts T: the gap
# at its end is 180 - 1 + 25 + 10 (T - 5) - (150 + 3 + 25/3.6 T) = 1 + (10 - 25/3.6) T.
TEXT = """choreo: 1
title: two launched at go
paths:
  lane: {start: [0 m, 0 m], heading: 0 deg, pieces: [{line: 900 m}]}
movers:
  subject:
    path: lane
    body: {length: 4 m, width: 1.8 m, front overhang: 3 m}
    limits: {speed: 130 km/h, accelerate: 3 m/s2, brake: 6 m/s2}
    USUAL
    start: {station: 150 m, at: go}
    programme: [{ramp: {to: SPEED, RATE}}, {hold: {until: contact}}, {stop: {}}]
  lead:
    path: lane
    body: {length: 4 m, width: 1.8 m, front overhang: 3 m}
    limits: {speed: 130 km/h, accelerate: 3 m/s2, brake: 6 m/s2}
    start: {station: 180 m, at: go}
    programme: [{ramp: {to: 36 km/h, accelerate: 2 m/s2}}, {hold: {for: 60 s}}, {stop: {}}]
encounters:
  gap: {kind: gap, of: subject, with: lead, distance: GAP, at: end of subject.ramp}
  contact: {kind: contact, of: subject, with: lead, overlap: 50 %}
"""
USUAL = "usual: {accelerate: 1.5 m/s2, brake: 2 m/s2}"


def told(gap_m: float, *, rate: str = "", usual: str = "", speed: str = "50 km/h") -> Answer:
    """What choreo says of the two."""
    text = TEXT.replace("GAP", f"{gap_m} m").replace("USUAL", usual).replace("SPEED", speed)
    text = text.replace(", RATE", f", {rate}" if rate else "")
    return answer(case_of(loads(text, "rates.yaml", Path())))


def rate_at(gap_m: float) -> float:
    """The one rate at which the gap is as asked, in m/s2."""
    return 50 * KMH * (10 - 25 * KMH) / (gap_m - 1)


def peak(found: Answer) -> float:
    """The largest acceleration of the subject."""
    return found.plan.movers["subject"].peak.accel_mps2


def departures(found: Answer) -> list[str]:
    """Warnings of ramps that are not driven as nobody asked them to."""
    return [one.text for one in found.plan.warnings if one.code == "plan.gentler"]


@pytest.mark.parametrize("rate", ["accelerate: free", "accelerate: 1..3 m/s2"])
def test_a_rate_left_to_be_chosen_is_the_one_that_fits(rate: str) -> None:
    found = told(20, rate=rate)
    assert found.plan.verdict == "feasible"
    assert peak(found) == pytest.approx(rate_at(20), rel=1e-6)
    assert departures(found) == []


@pytest.mark.parametrize("rate", ["2.5..3 m/s2", "1..2 m/s2", "free, within: 40 m"])
def test_without_a_rate_in_its_range_it_is_proven_impossible(rate: str) -> None:
    """It takes 2.23 m/s2 over 43.2 m."""
    found = told(20, rate=f"accelerate: {rate}")
    assert found.plan.verdict == "infeasible"
    assert found.plan.budgets


def test_a_conflict_proves_only_where_every_way_to_drive_was_looked_at() -> None:
    """Not past a curve, where a chosen rate is bounded, nor under a table, of which only shares are tried."""
    text = TEXT.replace("GAP", "20 m").replace("USUAL", "").replace("SPEED", "50 km/h")
    text = text.replace("RATE", "accelerate: 2.5..3 m/s2")
    curved = text.replace("{line: 900 m}", "{line: 155 m}, {arc: {radius: 15 m, angle: 30 deg}}")
    curved = curved.replace("30 deg}}]", "30 deg}}, {line: 700 m}]")
    curved = curved.replace("brake: 6 m/s2}", "brake: 6 m/s2, lateral: 3 m/s2}")
    tables = text.replace("accelerate: 3 m/s2", "accelerate: {0 km/h: 3 m/s2, 50 km/h: 2.6 m/s2}")
    found = {}
    for words in (text, curved, tables):
        case = case_of(loads(words, "rates.yaml", Path()))
        problem = case.staging.problem
        decision = decide(case.staging, {}, solve_linear, freed=chosen(problem))
        assert decision is not None
        assert decision.conflict
        found[words] = (nothing_left(problem), decision.passed_over)
    assert found == {text: (True, False), curved: (True, True), tables: (False, False)}


def test_a_range_holds_beside_an_open_speed() -> None:
    found = told(20, rate="accelerate: 1..2 m/s2", speed="40..60 km/h")
    assert found.plan.verdict == "feasible"
    assert 1 <= peak(found) <= 2 + 1e-6


def test_a_usual_rate_is_driven_and_changed_only_where_it_has_no_plan() -> None:
    as_usual = told(1 + (10 - 25 * KMH) * 50 * KMH / 1.5, usual=USUAL)
    assert (as_usual.plan.verdict, departures(as_usual)) == ("feasible", [])
    assert peak(as_usual) == pytest.approx(1.5, rel=1e-6)
    for gap_m in (20, 35):  # harder than usual, and gentler
        found = told(gap_m, usual=USUAL)
        assert found.plan.verdict == "feasible"
        assert peak(found) == pytest.approx(rate_at(gap_m), rel=1e-6)
        (text,) = departures(found)
        assert f"{rate_at(gap_m):.2f} m/s2 instead of 1.50 m/s2: at its usual rate" in text


def test_who_drives_up_to_one_that_stands_on_its_path_does_so_at_its_usual_rate() -> None:
    """It holds for longer: the contact is where the other one stands, and what comes after it isn't planned."""
    text = TEXT.replace("USUAL", USUAL).replace("SPEED, RATE", "50 km/h")
    stands = text.index("    start: {station: 180 m"), text.index("encounters:")
    text = text[: stands[0]] + "    start: {station: 700 m}\n" + text[stands[1] :]
    text = "".join(line for line in text.splitlines(True) if "kind: gap" not in line)
    found = answer(case_of(loads(text, "stands.yaml", Path())))
    assert (found.plan.verdict, departures(found)) == ("feasible", [])
    assert peak(found) == pytest.approx(1.5, rel=1e-6)


def test_an_unusual_rate_is_found_beside_an_open_speed() -> None:
    found = told(20, usual=USUAL, speed="49..51 km/h")
    assert found.plan.verdict == "feasible"
    assert peak(found) > 2.2
    assert len(departures(found)) == 1


def test_a_rate_that_nobody_states_is_told_of_a_plan_of_the_nonlinear_stage_too() -> None:
    chosen_rate = told(20, rate="accelerate: 1..3 m/s2")
    assert chosen_rate.solved is not None
    text = TEXT.replace("GAP", "20 m").replace("USUAL", "").replace("SPEED", "50 km/h")
    unstated = case_of(loads(text.replace(", RATE", ""), "rates.yaml", Path()))
    plan = with_departures(unstated, chosen_rate.plan, chosen_rate.solved)
    assert [one.code for one in plan.warnings][:1] == ["plan.gentler"]
    gentlest = case_of(
        loads(text.replace(", RATE", "") + "prefer: gentlest ramps\n", "rates.yaml", Path())
    )
    assert with_departures(gentlest, plan, chosen_rate.solved) is plan


def test_a_stop_has_its_usual_rate_too() -> None:
    assert told(35, usual=USUAL).plan.movers["subject"].peak.brake_mps2 == pytest.approx(2)


def test_the_simulation_holds_a_chosen_rate_to_its_range() -> None:
    """Scenarios whose ranges don't hold the rate that was driven, 2.23 m/s2."""
    found = told(20, rate="accelerate: 1..3 m/s2")
    subject = found.scenario.movers["subject"]
    for rates, code in ((Span(2.3, 3.0), "rate-least"), (Span(1.0, 2.2), "phase-cap")):
        ramp: Phase = replace(subject.programme[0], accelerate=rates)
        other = replace(subject, programme=(ramp, *subject.programme[1:]))
        scenario = replace(found.scenario, movers={**found.scenario.movers, "subject": other})
        codes = {one.code for one in verify(scenario, found.paths, found.plan).findings}
        assert codes == {f"verify.{code}"}


@pytest.mark.parametrize(
    ("rate", "usual", "code"),
    [
        ("accelerate: 4..5 m/s2", "", "scenario.rate-over-limit"),
        ("", "usual: {brake: 7 m/s2}", "scenario.rate-over-limit"),
        ("accelerate: free, over: 40 m", "", "scenario.not-together"),
        ("brake: free", "", "scenario.wrong-rate"),
        ("accelerate: 0 m/s2", "", "scenario.bad-value"),
    ],
)
def test_rates_that_say_nothing_or_too_much_are_refused(rate: str, usual: str, code: str) -> None:
    with pytest.raises(ChoreoError) as caught:
        told(20, rate=rate, usual=usual)
    assert {one.code for one in caught.value.findings if one.severity == "error"} == {code}
