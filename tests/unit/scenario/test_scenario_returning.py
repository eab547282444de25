"""The way back to the start: kept beside the programme, told with its time, refused where it means nothing."""

import json
from pathlib import Path

import pytest

from choreo.case import whole_answer
from choreo.page import sheet_of
from choreo.plans.document import to_text
from choreo.report.content import content_of
from choreo.report.sections import Notes
from choreo.scenario import Return, Scenario, loads
from choreo.scenario.records.plain_data import as_json
from choreo.words import ChoreoError

RUN = """\
choreo: 1
title: there and back
paths:
  lane: {start: [0 m, 0 m], heading: 0 deg, pieces: [{line: 400 m}]}
  round: {start: [0 m, 9 m], heading: 0 deg, pieces: [{line: 500 m}]}
movers:
  subject:
    path: lane
    body: {length: 4 m, width: 2 m}
    limits: {speed: 100 km/h, accelerate: {0 km/h: 4 m/s2, 72 km/h: 2 m/s2}, brake: 5 m/s2}
    usual: {brake: 2 m/s2}
    start: {station: 10 m}
    programme:
      - ramp: {to: 36 km/h, accelerate: 2 m/s2}
      - hold: {for: 10 s}
      - stop: {brake: 2 m/s2}
"""


def loaded(back: str) -> Scenario:
    return loads(f"{RUN}      - return: {back}\n", "back.yaml", Path())


@pytest.mark.parametrize(
    ("back", "way_m", "time_s"),
    [
        # Up at 3 m/s2, which the table has at 10 m/s, down at the usual 2 m/s2: 3.333 s over 16.667 m, 5 s over 25 m.
        ("{to: start, at: 36 km/h, distance: 141.6667 m}", 141.6667, 10 / 3 + 5 + 10),
        ("{at: 36 km/h, path: round}", 500.0, 10 / 3 + 5 + (500 - 50 / 3 - 25) / 10),
        # 25 m up, 100 m steady, 25 m down, and all of it back.
        ("{to: start, at: 36 km/h}", 150.0, 10 / 3 + 5 + (150 - 50 / 3 - 25) / 10),
    ],
)
def test_way_back_is_told_with_its_time(back: str, way_m: float, time_s: float) -> None:
    found = whole_answer(loaded(back))
    crew = found.plan.crew
    assert crew is not None
    told = crew.programmes["subject"].back
    assert told is not None
    assert (told.way_m, told.time_s) == pytest.approx((way_m, time_s), abs=1e-5)
    assert [leg.kind for leg in crew.programmes["subject"].legs] == ["ramp", "hold", "stop"]
    (notes,) = (
        part for part in content_of(found.scenario, found.plan).sections if part.key == "returns"
    )
    assert isinstance(notes, Notes)
    words = f"{way_m:.3f} m"
    assert words in notes.lines[0]
    sheet = sheet_of(found.scenario, found.plan, found.paths, found.ground)
    assert f"Back to its start mark: {words}" in sheet.replace("\u00a0", " ")
    document = json.loads(to_text(found.plan))
    assert document["crew"]["programmes"]["subject"]["back"]["speed_mps"] == 10.0


def test_short_way_is_driven_as_fast_as_it_allows() -> None:
    # 12 m at 4 .. 3.6 m/s2 up and 2 m/s2 down: v2 (1/(2 a) + 1/4) = 12 with a = 4 - v/10.
    crew = whole_answer(loaded("{at: 90 km/h, distance: 12 m}")).plan.crew
    assert crew is not None
    told = crew.programmes["subject"].back
    assert told is not None
    speed = min(
        (v / 1e4 for v in range(1, 10**5)),
        key=lambda v: abs(v * v * (0.5 / (4 - v / 10) + 0.25) - 12),
    )
    assert told.time_s == pytest.approx(speed / (4 - speed / 10) + speed / 2, abs=1e-3)


def test_programme_and_fingerprint_of_others_stay() -> None:
    with_back, without = loaded("{at: 20 km/h}"), loads(RUN, "back.yaml", Path())
    mover = with_back.movers["subject"]
    assert mover.back == Return(pytest.approx(20 / 3.6))
    assert mover.programme == without.movers["subject"].programme
    assert "back" not in as_json(without.meaning()["movers"]["subject"])
    assert "back" in as_json(with_back.meaning()["movers"]["subject"])


@pytest.mark.parametrize(
    ("text", "code", "words"),
    [
        (f"{RUN}      - return: {{at: 20 km/h}}\n      - wait: {{lasting: 2 s}}\n", "scenario.bad-value", "last entry"),
        (f"{RUN}      - return: {{at: 20 km/h, path: rond}}\n", "scenario.unknown-name", "round"),
        (f"{RUN}      - return: {{at: 120 km/h}}\n", "scenario.too-fast", "100 km/h"),
        (f"{RUN}      - return: {{at: 2 km/h, path: round, distance: 9 m}}\n", "scenario.not-together", "`path`"),
        (f"{RUN}      - {{return: {{at: 2 km/h}}, stop: {{}}}}\n", "scenario.not-together", "another kind"),
        (f"{RUN.partition('      - ramp')[0]}      - return: {{at: 20 km/h}}\n", "scenario.bad-value", "return from"),
    ],
)  # fmt: skip
def test_what_means_nothing_is_refused_at_its_line(text: str, code: str, words: str) -> None:
    with pytest.raises(ChoreoError) as error:
        loads(text, "back.yaml", Path())
    (finding,) = error.value.findings
    assert finding.code == code
    assert words in " ".join(map(str, finding.values.values()))
    line = next(number for number, row in enumerate(text.splitlines(), 1) if "return:" in row)
    assert finding.origin.line == line
