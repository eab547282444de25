"""Runs in MDF 4, Parquet, folders after ISO/TS 13499 and zips read as text does; broken ones are told in a line."""

import importlib
import re
import zipfile
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from choreo.recordings import formats
from choreo.recordings.columns import Column, Columns
from choreo.recordings.description import load_description
from choreo.recordings.iso_mme import files_of
from choreo.recordings.reading import read_run
from choreo.recordings.record import ClockName, Recording
from choreo.recordings.recorder import Recorder
from choreo.recordings.writing import csv_lines, description_of
from choreo.words import ChoreoError

mdf = pytest.importorskip("choreo.recordings.mdf", reason="needs the extra mdf")
parquet = pytest.importorskip("choreo.recordings.parquet", reason="needs the extra parquet")

COUNT = 400
TIMES = np.arange(COUNT) / 100.0
LOST = (TIMES > 1.0) & (TIMES < 1.2)
BEGINS = datetime(2025, 6, 2, 9, 0, 0, tzinfo=UTC)


def columns(clock: ClockName = "recording") -> Columns:
    """A car at 36 km/h that turns through due west, a fix lost, and a trigger that detects."""
    heading = np.radians(170.0) + 0.1 * TIMES
    x = 100.0 * (np.sin(heading) - np.sin(heading[0]))
    y = -100.0 * (np.cos(heading) - np.cos(heading[0]))
    values = {
        "x": ("m", np.where(LOST, np.nan, x)),
        "y": ("m", y),
        "heading": ("deg", (np.degrees(heading) + 180.0) % 360.0 - 180.0),
        "speed": ("km/h", np.full(COUNT, 36.0)),
        "acceleration": ("m/s2", np.zeros(COUNT)),
    }
    channels = [Column("car", what, unit, 6, one) for what, (unit, one) in values.items()]
    channels.append(Column("step_out", "detected", "1", 0, 1.0 * (TIMES > 2.0)))
    return Columns("a run", BEGINS, clock, TIMES, tuple(channels))


def as_csv(folder: Path, one: Columns) -> str:
    (folder / "run.csv").write_text("".join(csv_lines(one)))
    return "run.csv"


def as_mdf(folder: Path, one: Columns) -> str:
    (folder / "run.mf4").write_bytes(mdf.written(one))
    return "run.mf4"


def as_parquet(folder: Path, one: Columns) -> str:
    (folder / "run.parquet").write_bytes(parquet.written(one))
    return "run.parquet"


def as_folder(folder: Path, one: Columns) -> str:
    (folder / "run" / "Channel").mkdir(parents=True)
    for name, text in files_of(one, "run"):
        (folder / "run" / name).write_text(text)
    return "run/run.mme"


def test_every_channel_of_a_folder_has_a_code_of_its_own() -> None:
    # Readers of the format refuse a channel without one.
    texts = [text for name, text in files_of(columns(), "run") if name[-3:].isdigit()]
    codes = [re.search(r"^Channel code +:(\w{16})$", text, re.MULTILINE) for text in texts]
    assert len(texts) == 6
    assert len({one.group(1) for one in codes if one is not None}) == 6


def packed(make: Callable[[Path, Columns], str]) -> Callable[[Path, Columns], str]:
    def as_zip(folder: Path, one: Columns) -> str:
        (folder / "unpacked").mkdir()
        make(folder / "unpacked", one)
        with zipfile.ZipFile(folder / "run.zip", "w", zipfile.ZIP_DEFLATED) as archive:
            for file in sorted((folder / "unpacked").rglob("*.*")):
                archive.write(file, file.relative_to(folder / "unpacked"))
            archive.writestr("__MACOSX/._run", "of no use")
        return "run.zip"

    return as_zip


KINDS = {
    "csv": as_csv,
    "mdf": as_mdf,
    "parquet": as_parquet,
    "folder": as_folder,
    "zip of a folder": packed(as_folder),
    "zip of a csv": packed(as_csv),
    "zip of an mdf": packed(as_mdf),
}


def read(folder: Path, file: str, clock: ClockName = "recording") -> Recording:
    text = "".join(description_of("a run", ["car"], ["step_out"], Recorder(clock=clock), "csv"))
    described = folder / "recording.yaml"
    described.write_text(text.replace("simulated-*.csv", file))
    description = load_description(described)
    return read_run(description, description.runs()[0], None)


CLOCKS: tuple[ClockName, ...] = ("recording", "utc", "gps")
FOLDERS = [kind for kind in KINDS if "folder" in kind]
READ = [
    (kind, clock)
    for kind in KINDS
    for clock in CLOCKS
    if kind not in FOLDERS or clock == "recording"
]


@pytest.mark.parametrize("kind", FOLDERS)
def test_a_folder_without_a_channel_of_times_has_no_time_of_day(kind: str, tmp_path: Path) -> None:
    with pytest.raises(ChoreoError) as caught:
        read(tmp_path, KINDS[kind](tmp_path, columns("utc")), "utc")
    assert "its times count from a zero of their own" in caught.value.findings[0].text


@pytest.mark.parametrize(("kind", "clock"), READ)
def test_a_run_is_the_same_in_every_kind_of_file(
    kind: str, clock: ClockName, tmp_path: Path
) -> None:
    found = read(tmp_path, KINDS[kind](tmp_path, columns(clock)), clock)
    truth = columns()
    assert found.simulated
    assert np.abs(found.time_s - TIMES).max() < 1e-3
    car = found.tracks["car"]
    assert np.nanmax(np.abs(car.x_m - truth.channels[0].values)) < 2e-6
    assert np.array_equal(np.isnan(car.x_m), LOST)
    assert np.nanmax(np.abs(car.heading_rad - np.radians(170.0) - 0.1 * TIMES)) < 1e-6
    assert car.speed_mps[0] == pytest.approx(10.0)
    assert found.events_s["step_out"] == pytest.approx(2.005, abs=1e-3)
    assert len(found.gaps_s["car"]) == 1


def test_channels_of_other_rates_are_put_on_the_quickest_clock(tmp_path: Path) -> None:
    """The car's place at 20 Hz in a group of its own, its heading through due west there."""
    one = columns()
    slow = slice(None, None, 5)
    with mdf.MDF(version="4.10") as file:
        for part, every in ((one.channels[:3], slow), (one.channels[3:], slice(None))):
            file.append(
                [
                    mdf.Signal(
                        samples=np.nan_to_num(each.values[every], nan=1.0),
                        timestamps=TIMES[every],
                        name=each.name,
                        unit=each.unit if each.unit != "1" else "",
                    )
                    for each in part
                ]
            )
        file.save(tmp_path / "run.mf4", overwrite=True)
    description = tmp_path / "recording.yaml"
    text = "".join(description_of("a run", ["car"], ["step_out"], Recorder(), "csv"))
    description.write_text(text.replace("simulated-*.csv", "run.mf4"))
    channels = formats.read_channels(
        tmp_path / "run.mf4",
        formats.Wanted(["time", "car heading", "car speed"], "time", "recording"),
    )
    heading = channels.numbers["car heading"]
    known = np.isfinite(heading)
    assert known.sum() >= COUNT - 5
    assert np.abs(np.diff(heading[known])).max() < 0.1
    assert any("20 samples a second" in told.words for told in channels.remarks)


def cut(make: Callable[[Path, Columns], str], share: float) -> Callable[[Path], str]:
    def broken(folder: Path) -> str:
        name = make(folder, columns())
        raw = (folder / name).read_bytes()
        (folder / name).write_bytes(raw[: int(share * len(raw))])
        return name

    return broken


def cut_channel(folder: Path) -> str:
    name = as_folder(folder, columns())
    file = folder / "run" / "Channel" / "run.002"
    file.write_text(file.read_text()[:-90])
    return name


def saying(size: int) -> Callable[[Path], str]:
    """A zip that says an entry unpacks to so many bytes."""

    def broken(folder: Path) -> str:
        name = packed(as_csv)(folder, columns())
        raw = bytearray((folder / name).read_bytes())
        entry = raw.index(b"PK\x01\x02")
        raw[entry + 24 : entry + 28] = size.to_bytes(4, "little")
        (folder / name).write_bytes(bytes(raw))
        return name

    return broken


def two_runs(folder: Path) -> str:
    with zipfile.ZipFile(folder / "run.zip", "w") as archive:
        archive.writestr("a.csv", "x")
        archive.writestr("b.csv", "x")
    return "run.zip"


def within(folder: Path) -> str:
    two_runs(folder)
    with zipfile.ZipFile(folder / "out.zip", "w") as archive:
        archive.write(folder / "run.zip", "run.zip")
    return "out.zip"


def twice_in_mdf(folder: Path) -> str:
    one = columns()
    doubled = Columns(one.about, BEGINS, one.clock, TIMES, (*one.channels, one.channels[3]))
    return as_mdf(folder, doubled)


def bare_folder(folder: Path) -> str:
    (folder / "run").mkdir()
    return "run"


BROKEN: dict[str, tuple[Callable[[Path], str], str]] = {
    "mdf cut early": (cut(as_mdf, 0.01), "it is a broken MDF file: its blocks"),
    "mdf cut": (cut(as_mdf, 0.6), "it is a broken MDF file: its blocks"),
    "mdf cut late": (cut(as_mdf, 0.999), "it is a broken MDF file"),
    "parquet cut": (cut(as_parquet, 0.7), "it is a broken Parquet file: its end is missing"),
    "zip cut": (cut(packed(as_folder), 0.7), "it is a broken zip"),
    "channel cut": (cut_channel, "its header says 400 samples, it holds"),
    "bomb": (saying(2_000_000_000), "it would unpack to 2 files of 2000 MB, more than any run"),
    "more than it says": (saying(10), "it is a broken zip"),
    "two runs": (two_runs, "it holds 2 files"),
    "zip in a zip": (within, "it holds another zip"),
    "channel twice": (twice_in_mdf, "it has `car speed` 2 times, in channel group"),
    "no folder of a run": (bare_folder, "it is a folder with no `.mme` file"),
}


@pytest.mark.parametrize("name", BROKEN)
def test_broken_files_of_other_kinds_are_told_in_a_line(name: str, tmp_path: Path) -> None:
    make, why = BROKEN[name]
    with pytest.raises(ChoreoError) as caught:
        read(tmp_path, make(tmp_path))
    (finding,) = caught.value.findings
    assert why in finding.text
    assert finding.advice


def test_a_missing_package_is_told_with_what_installs_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = as_parquet(tmp_path, columns())

    def missing(name: str) -> None:
        raise ModuleNotFoundError(name)

    monkeypatch.setattr(formats, "import_module", missing)
    with pytest.raises(ChoreoError) as caught:
        read(tmp_path, file)
    finding = caught.value.findings[0]
    assert "needs the package pyarrow, which isn't installed" in finding.text
    assert "pip install 'choreo[parquet]'" in finding.advice
    assert importlib.import_module("choreo.recordings.parquet") is parquet
