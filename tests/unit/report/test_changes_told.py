"""What differs between two plans, as a crew has to change it."""

import json
from dataclasses import replace
from pathlib import Path

from choreo.case import answer, case_of
from choreo.export.files import save_plan
from choreo.report.changes import changes_of
from choreo.scenario import load
from tests.running import choreo


def test_moved_marks_and_settings_are_told_and_what_rounding_moves_is_not(tmp_path: Path) -> None:
    old = answer(case_of(load(Path("scenarios/walker-nearside.yaml")))).plan
    subject, walker = old.movers["subject"], old.movers["walker"]
    quicker = tuple(replace(one, speed_mps=one.speed_mps + 1.0) for one in subject.pieces)
    start = replace(subject.start, station_m=subject.start.station_m + 0.25)
    moved = replace(subject, start=start, pieces=quicker)
    trigger = replace(old.triggers["step_out"], setting=old.triggers["step_out"].setting + 0.0004)
    near = replace(old, triggers={"step_out": trigger})
    assert list(changes_of(old, near)) == []
    later = replace(old.triggers["step_out"], setting=4.0, latency_s=0.09)
    harder = tuple(replace(one, accel_mps2=1.1 * one.accel_mps2) for one in walker.pieces)
    driven = replace(old, movers={**old.movers, "walker": replace(walker, pieces=harder)})
    rates = {row[0]: row[3] for row in changes_of(old, driven)}
    assert rates == {"walker: rate of ramp": "+0.07 m/s2", "walker: rate of stop": "-0.20 m/s2"}
    new = replace(old, movers={"subject": moved}, triggers={"step_out": later})
    told = {row[0]: row[1:] for row in changes_of(old, new)}
    assert told["subject: start mark, station"][2] == "+0.250 m"
    assert told["subject: speed of hold"] == ("40.00 km/h", "43.60 km/h", "+3.60 km/h")
    assert told["trigger step_out: time to collision"][1] == "4.000 s"
    assert told["trigger step_out: latency"] == ("0.060 s", "0.090 s", "+0.030 s")
    assert told["walker: start mark, station"] == ("0.000 m", "-", "gone")
    assert "contact: when it happens" not in told
    assert walker.launched_by == "step_out"
    files = [tmp_path / "old.json", tmp_path / "new.json"]
    for plan, file in ((old, files[0]), (new, files[1])):
        save_plan(plan, file)
    same = choreo("diff", files[0], files[0])
    assert (same.returncode, same.stdout.split("  ")[0]) == (0, "NO CHANGE")
    done = choreo("diff", *files, "--json")
    assert done.returncode == 1
    assert {row["what"] for row in json.loads(done.stdout)["changes"]} == set(told)
    assert "what a crew has to change" in choreo("diff", *files).stdout
    assert choreo("diff", files[0], tmp_path / "none.json").returncode == 2
