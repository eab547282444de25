"""`choreo stress --record`: what is written reads back as what was drawn, and says that nothing was measured."""

import csv
from pathlib import Path

import numpy as np
import pytest

from choreo.recordings.description import load_description
from choreo.recordings.reading import read_run
from choreo.scenario import load
from tests.running import choreo

WALKER = "scenarios/walker-nearside.yaml"


def test_simulated_recordings_are_marked_and_read_back_as_drawn(tmp_path: Path) -> None:
    folder = tmp_path / "runs"
    options = ("--runs", "3", "--record-rate", "50 Hz", "--record-antenna", "1.2 m, 0.1 m")
    more = ("--record-clock", "utc", "--record-noise", "0.01 m", "--record-noise", "0.05 km/h")
    done = choreo(
        "stress",
        WALKER,
        "--record",
        folder,
        *options,
        *more,
        "--record-lost",
        "1 %",
        "--record-places",
        "earth",
    )
    assert done.returncode == 0, done.stderr
    assert "3 simulated recordings" in done.stdout
    assert "no measurement" in done.stdout
    files = sorted(one.name for one in folder.iterdir())
    assert files == [
        "plan.json",
        "recording.yaml",
        *(f"simulated-00{n}.csv" for n in (1, 2, 3)),
        "truth.csv",
    ]
    marked = [folder / name for name in files if name != "plan.json"]
    assert len(marked) == 5
    assert all(
        "simulated by choreo, no measurement" in one.read_text().splitlines()[0] for one in marked
    )
    rows = list(csv.DictReader((folder / "truth.csv").read_text().splitlines()[1:]))
    description = load_description(folder / "recording.yaml")
    # At 50 Hz half a second has 25 samples.
    assert description.uncertainty.position_m == pytest.approx(0.01 / 5.0)
    (_, path, _) = (run[None] for run in description.runs())
    site = load(Path(WALKER)).site
    assert site is not None
    found = read_run(description, {None: path}, site.anchor)
    assert found.simulated
    truth = rows[1]
    subject, walker = found.tracks["subject"], found.tracks["walker"]
    assert np.nanmean(subject.y_m) == pytest.approx(float(truth["subject_path_offset_m"]), abs=2e-3)
    start_m = float(np.nanmedian(walker.y_m[:90])) + 4.0
    assert start_m == pytest.approx(float(truth["walker_start_along_m"]), abs=4e-3)
    held = walker.speed_mps[np.nan_to_num(walker.accel_mps2, nan=1.0) == 0.0]
    held_mps = float(np.median(held[held > 1.0]))
    assert held_mps - 5 / 3.6 == pytest.approx(float(truth["walker_speed_held_mps"]), abs=2e-3)
    assert "step_out" in found.events_s


@pytest.mark.parametrize(
    ("options", "why"),
    [
        (("--record-rate", "50 Hz"), "is for --record"),
        (("--record", "runs", "--csv", "-"), "writes recordings and nothing else"),
        (("--record", "runs", "--record-noise", "2 s"), "is no noise"),
        (("--record", "runs", "--record-antenna", "2 m"), "two lengths"),
        (("--record", "runs", "--record-lost", "120 %"), "is no share"),
        (("--record", "runs", "--record-rate", "0.1 Hz"), "write 1 Hz to 10000 Hz"),
    ],
)
def test_options_of_recordings_are_refused_in_a_line(options: tuple[str, ...], why: str) -> None:
    done = choreo("stress", WALKER, *options)
    assert done.returncode == 2
    assert why in " ".join(done.stderr.split())


def test_places_on_earth_need_an_anchor_and_nothing_is_written_without(tmp_path: Path) -> None:
    options = ("--record", tmp_path / "runs", "--record-places", "earth")
    done = choreo("stress", "scenarios/steady-circle.yaml", *options)
    assert done.returncode == 2
    assert "the scenario's site has no `anchor`" in done.stderr
    assert not (tmp_path / "runs").exists()
