"""Standing starts inside an envelope, late targets, and a walker who is overtaken while she sets off."""

from pathlib import Path

import pytest

from choreo.case import case_at
from choreo.measured.as_staged import check_staged
from choreo.measured.file import load_measured
from choreo.plans.record import Plan
from choreo.scenario import loads
from tests.references.scenario_texts import CAR, FILE, LANE, TARGET, WALKER, planned


def standing_start(programme: str) -> Plan:
    """A car that starts 2.9 m before a line, and goes on as far."""
    return planned(f"""\
choreo: 1
title: Standing start
paths:
  way: {{start: [0 m, 0 m], heading: 0 deg, pieces: [{{line: 2.9 m, name: first}}, {{line: 50 m}}]}}
movers:
  subject:
    path: way
{CAR}
    start: {{station: 0 m}}
    programme:
{programme}
      - stop: {{}}
instants:
  there: {{before: end of subject.first, by: 0 s}}
""")


@pytest.mark.parametrize(
    ("programme", "there_s", "there_mps"),
    [
        # C81: the envelope of CA102, SEEN: at most 1 m/s2 for 0.5 s, never above 1.75; above 1 m/s2 from 1.25 s on.
        # DERIVED: 0.5 s at 1 m/s2, then 1.75 m/s2; 1.0 m/s2 throughout; nothing for 1.25 s, then 1.0 m/s2.
        (
            "      - ramp: {to: 0.5 m/s, accelerate: 1 m/s2}\n"
            "      - ramp: {to: 4 m/s, accelerate: 1.75 m/s2}",
            2.018,
            3.156,
        ),
        ("      - ramp: {to: 4 m/s, accelerate: 1 m/s2}", 2.408, 2.408),
        (
            "      - wait: {for: 1.25 s}\n      - ramp: {to: 4 m/s, accelerate: 1 m/s2}",
            3.658,
            2.408,
        ),
    ],
)
def test_standing_start_inside_the_envelope(
    programme: str, there_s: float, there_mps: float
) -> None:
    there = standing_start(programme).instants["there"]
    assert there.time_s == pytest.approx(there_s, abs=1e-3)
    assert there.movers["subject"].speed_mps == pytest.approx(there_mps, abs=1e-3)


def test_target_that_is_late_by_the_spread_of_repeats(tmp_path: Path) -> None:
    # C82: repeats may differ by 0.1 s (CA102, SEEN, provisional): 1.667 m of a target at 60 km/h, DERIVED.
    text = f"""\
choreo: 1
title: Target that crosses
paths:
{LANE}
  across: {{start: [1 km, -200 m], heading: 90 deg, pieces: [{{line: 400 m}}]}}
movers:
  subject:
    path: lane
{CAR}
    programme: [{{ramp: {{to: 20 km/h}}}}, {{hold: {{settle: 1 s, until: contact}}}}]
  target:
    path: across
{TARGET}
    programme:
      - wait: {{for: launch}}
      - ramp: {{to: 60 km/h}}
      - hold: {{settle: 1 s, until: contact}}
triggers:
  launch: {{watch: subject, when: {{distance: free}}, to: contact, latency: 60 ms}}
encounters:
  contact: {{kind: contact, of: subject, with: target, overlap: 50 %, tolerance: 0.15 m}}
"""
    scenario, file = loads(text, FILE, Path()), tmp_path / "measured.csv"
    file.write_text("name,quantity,value\nlaunch,latency,160 ms\n")
    (late,) = check_staged(
        case_at(scenario, None), planned(text), load_measured(file, scenario)
    ).encounters
    assert late.measured is not None
    assert abs(late.measured) == pytest.approx(60 / 3.6 * 0.1, abs=1e-3)
    assert not late.within


def overtaken(walks: str, trigger: str) -> Plan:
    """A car at 65 km/h behind a walker in its lane."""
    return planned(f"""\
choreo: 1
title: Walker along the path
paths:
{LANE}
movers:
  subject:
    path: lane
{CAR}
    programme: [{{ramp: {{to: 65 km/h}}}}, {{hold: {{settle: 3.7 s, until: contact}}}}]
  walker:
    path: lane
{WALKER}
    start: {{station: 1 km}}
    {walks}
{trigger}
encounters:
  contact: {{kind: contact, of: subject, with: walker, overlap: 50 %}}
instants:
  l0: {{before: contact, by: 3.692 s}}
""")


def test_walker_along_the_path_is_met_sooner_than_her_speed_says() -> None:
    # C89: S8.5.2(e), SEEN: L0 = 66.667 m counts with her speed, but there she may still stand. DERIVED: 3.910 s to the
    # contact when she sets off then (0.643 m/s2 over 1.5 m to 5 km/h), 3.692 s when never, 4.0 s nominal.
    at_l0 = "{watch: subject, when: {gap: 66.667 m, to: walker}, latency: 0 s, sampling: 10000 Hz}"
    walks = "programme: [{wait: {for: sets_off}}, {ramp: {to: 5 km/h, over: 1.5 m}}, {hold: {until: contact}}]"
    plan = overtaken(walks, f"triggers:\n  sets_off: {at_l0}")
    before = plan.encounters["contact"].time_s - plan.movers["walker"].launch_s
    assert before == pytest.approx(3.910, abs=1e-3)
    still = overtaken("", "")
    left_m = (
        still.encounters["contact"].station_of_m - still.instants["l0"].movers["subject"].station_m
    )
    assert left_m == pytest.approx(66.667, abs=0.01)
