"""Learning: intervals hold what was drawn as often as they say, and a fleet file keeps all that its author wrote."""

from pathlib import Path

import numpy as np
import pytest
import yaml

from choreo.learning.fleet_text import errors_lines, pasteable, with_errors
from choreo.learning.learnt import Learnt, learn, without_wander
from choreo.learning.wander import Wander
from choreo.scoring.against import Off
from choreo.scoring.score import RunScore
from choreo.words import ChoreoError

MEAN, SPREAD, MEASURED, RUNS = 0.02, 0.05, 0.01, 8
SERIES = 300


def run(value: float, owner: str = "walker") -> RunScore:
    offs = (
        Off("start along", owner, "start mark", 1.0, 1.0 + value, "m", "", u=MEASURED),
        Off("latency", "step_out", "latency", 0.06, 0.06 + value / 10, "s", ""),
        Off("path offset", owner, "beside", 0.0, 0.03, "m", ""),
        Off("start beside", owner, "mark beside", 0.0, 0.04, "m", ""),
    )
    return RunScore("run", False, "valid", (), (), offs, (), "")


def test_intervals_hold_the_truth_as_often_as_they_say() -> None:
    random = np.random.default_rng(5)
    whole = float(np.hypot(SPREAD, MEASURED))
    means, spreads, own = 0, 0, []
    for _ in range(300):
        found = learn([run(one) for one in random.normal(MEAN, whole, RUNS)])
        (one,) = (each for each in found if each.aspect == "start along")
        assert one.found.mean_half is not None
        assert one.spread_low is not None
        assert one.spread_high is not None
        assert one.spread is not None
        means += abs(one.found.mean - MEAN) <= one.found.mean_half
        spreads += one.spread_low <= whole <= one.spread_high
        own.append(one.spread)
    # 95 % of 300, give or take three standard deviations.
    assert 0.91 < means / SERIES < 0.99
    assert 0.91 < spreads / SERIES < 0.99
    assert np.sqrt(np.mean(np.square(own))) == pytest.approx(SPREAD, rel=0.05)


def test_few_runs_claim_no_spread_and_offsets_are_not_told_twice() -> None:
    few = learn([run(0.01), run(0.03)])
    assert [one.spread for one in few] == [None] * 4
    assert errors_lines(few, "runs") == []
    found = {one.aspect: one for one in learn([run(0.01 * k) for k in range(5)])}
    assert found["path offset"].found.mean == pytest.approx(0.03)
    assert found["start beside"].found.mean == pytest.approx(0.01)
    assert found["latency"].found.mean == pytest.approx(0.062)


def test_launch_that_is_early_is_written_as_none_and_says_so() -> None:
    early = [Off("launch", "walker", "launch", 1.0, 0.99 + 0.001 * k, "s", "") for k in range(5)]
    found = learn([RunScore("run", False, "valid", (), (), (one,), (), "") for one in early])
    (_, line) = errors_lines(found, "runs")
    assert "launch: 0 ms +/- " in line
    assert "8.0 ms early on average, and a delay is none" in line


FLEET = """\
choreo fleet: 1  # ours
movers:
  # the belt
  adult:
    kind: pedestrian
    body: {length: 0.6 m, width: 0.5 m}   # measured
    errors:
      position: 0.02 m  # old
    # and its limits
    limits: {speed: 10 km/h, accelerate: 2 m/s2, brake: 2 m/s2}
  car: {body: {length: 4 m, width: 2 m}, limits: {speed: 50 km/h, accelerate: 2 m/s2, brake: 2 m/s2}}
"""


def learnt() -> list[Learnt]:
    return learn([run(0.01 * k) for k in range(5)])


def test_fleet_file_keeps_what_its_author_wrote(tmp_path: Path) -> None:
    file = tmp_path / "fleet.yaml"
    file.write_text(FLEET)
    text = with_errors(file, {"adult": learnt()}, "runs")
    kept = [line for line in FLEET.splitlines() if "errors" not in line and "old" not in line]
    assert [line for line in text.splitlines() if line in kept] == kept
    assert "      start mark:\n        # 5 runs, mean" in text
    assert "\n        along: 0.0200 m +/- 0.0" in text
    assert "        # 5 runs, mean +/- 2.0 cm" in text
    assert max(map(len, text.splitlines()[:-1])) <= 100
    assert "position" not in text
    for name, why in (("car", "stands on one line"), ("child", "no entry `child`")):
        with pytest.raises(ChoreoError) as caught:
            with_errors(file, {name: learnt()}, "runs")
        assert why in caught.value.findings[0].text


def test_lines_to_be_pasted_are_yaml_however_narrow_they_are() -> None:
    wander = Wander("path wander", "walker", 0.03, 0.02, 0.04, 15.0, 9.0, None, 0.01, 5)
    lines = ["movers:", "  walker:", *errors_lines(learnt(), "runs", "    ", [wander])]
    wide = yaml.safe_load("\n".join(lines))
    narrow = pasteable(lines, 34)
    assert max(map(len, narrow)) <= 34
    assert yaml.safe_load("\n".join(narrow)) == wide
    assert wide["movers"]["walker"]["errors"]["path"]["wander"] == {
        "size": "0.0300 m",
        "over": "15 m",
    }
    words = " ".join(one.partition("#")[2].strip() for one in narrow if "#" in one)
    assert "5 runs, size 2.0 cm to 4.0 cm, over 9 and more (95 %)" in words


def test_wander_stands_in_its_block_and_is_taken_off_what_the_runs_spread(tmp_path: Path) -> None:
    file = tmp_path / "fleet.yaml"
    file.write_text(FLEET)
    wanders = [
        Wander("path wander", "walker", 0.03, 0.02, 0.04, 15.0, 9.0, None, 0.01, 5),
        Wander("speed wander", "walker", 0.1, 0.05, 0.2, 2.0, 1.0, 4.0, 0.05, 5),
    ]
    text = with_errors(file, {"adult": learnt()}, "runs", {"adult": wanders})
    assert "size 0.18 km/h to 0.72 km/h" in text
    assert "      speed wander: {size: 0.360 km/h, over: 2 s}\n" in text
    assert "        offset: 0.0300 m" in text
    assert "        wander: {size: 0.0300 m, over: 15 m}\n" in text
    assert "over 9 and more (95 %)" in text
    offsets = [
        RunScore("run", False, "valid", (), (), (one,), (), "")
        for one in (Off("path offset", "walker", "", 0.0, 0.01 * k, "m", "") for k in range(9))
    ]
    (before,) = learn(offsets)
    (after,) = without_wander([before], wanders)
    assert before.spread is not None
    assert after.spread is not None
    assert after.spread**2 == pytest.approx(before.spread**2 - 0.01**2)
