"""Recordings in their many shapes: the same run whatever its file looks like, and a clear fault where it is broken."""

from pathlib import Path

import numpy as np
import pytest

from choreo.ground.earth import Earth
from choreo.recordings.description import load_description
from choreo.recordings.doubts import contradictions
from choreo.recordings.reading import read_run
from choreo.recordings.record import Recording, Track
from choreo.scenario import AnchorSpec
from choreo.words import ChoreoError, Origin

ANCHOR = AnchorSpec(9.0, 48.0, 60.0, 300.0, "EPSG:4326", Origin("site.yaml", 1, 1))
RATE, COUNT = 100, 301
TIMES = np.arange(COUNT) / RATE
# A car on a bend of 50 m at 10 m/s, its antenna 1.2 m ahead and 0.1 m left; a walker that stands, then walks north.
HEADING = 10.0 * TIMES / 50.0
CAR = 100.0 + 50.0 * np.sin(HEADING), 20.0 + 50.0 * (1.0 - np.cos(HEADING))
AHEAD, LEFT = 1.2, 0.1
ANTENNA = (
    CAR[0] + AHEAD * np.cos(HEADING) - LEFT * np.sin(HEADING),
    CAR[1] + AHEAD * np.sin(HEADING) + LEFT * np.cos(HEADING),
)
WALKED = np.maximum(TIMES - 1.0, 0.0)
COLUMNS: dict[str, np.ndarray] = {
    "t": TIMES,
    "cx": ANTENNA[0],
    "cy": ANTENNA[1],
    "psi": np.degrees(HEADING),
    "v": np.full(COUNT, 36.0),
    "wx": np.full(COUNT, 130.0),
    "wy": 10.0 + WALKED,
    "wv": 3.6 * (TIMES >= 1.0),
    "go": 1.0 * (TIMES >= 0.5),
}
UNITS = ["s", "m", "m", "deg", "km/h", "m", "m", "km/h", "1"]
DESCRIPTION = """\
choreo recording: 1
files: run.csv
time: {channel: t}
movers:
  car:
    position: {x: cx, y: cy}
    antenna: {ahead: 1.2 m, left: 0.1 m}
    speed: v
    heading: psi
  walker:
    position: {x: wx, y: wy}
    speed: {channel: wv}
    heading: psi
events:
  launch: {channel: go, rises: 0.5}
"""


def table(delimiter: str = ",", decimal: str = ".", **columns: object) -> str:
    """The run as text: header, units, rows."""
    names = list(COLUMNS)
    cells = []
    for name in names:
        values = columns.get(name, COLUMNS[name])
        assert isinstance(values, (np.ndarray, list))
        cells.append([one if isinstance(one, str) else f"{one:.6f}" for one in values])
    rows = [delimiter.join(row).replace(".", decimal) for row in zip(*cells, strict=True)]
    return "\n".join([delimiter.join(names), delimiter.join(UNITS), *rows]) + "\n"


def read(folder: Path, text: str | bytes, description: str = DESCRIPTION) -> Recording:
    """The recording of one file."""
    raw = text.encode() if isinstance(text, str) else text
    (folder / "run.csv").write_bytes(raw)
    (folder / "recording.yaml").write_text(description)
    one = load_description(folder / "recording.yaml")
    return read_run(one, one.runs()[0], ANCHOR)


def is_the_run(found: Recording, within_m: float = 2e-5) -> bool:
    """Whether it is the run of CAR."""
    car, walker = found.tracks["car"], found.tracks["walker"]
    off = [car.x_m - CAR[0], car.y_m - CAR[1], walker.y_m - 10.0 - WALKED, car.speed_mps - 10.0]
    return max(float(np.abs(one).max()) for one in off) < within_m


LINES = table().splitlines()
BRACKETS = LINES[0].replace("v,wx", "v [km/h],wx").replace("t,cx", "t (s),cx", 1)
QUOTED = [",".join(f'"{cell}"' for cell in line.split(",")) for line in LINES]
SHAPES: dict[str, tuple[str | bytes, str]] = {
    "plain": (table(), "units as the file says"),
    "semicolons and decimal commas": (table(";", ","), "decimal commas"),
    "tabs": (table("\t"), "delimiter: tab"),
    "blanks": (table(" "), "delimiter: blank"),
    "lines above": ("Proving ground 3\n\nRun;7\n# note\n" + table(), "header in line 5"),
    "units in brackets": ("\n".join([BRACKETS, *LINES[1:]]), "units"),
    "UTF-16": (table().encode("utf-16"), "text in UTF-16"),
    "Latin-1": (b"# gr\xfc\xdfe\n" + table().encode(), "Latin-1"),
    "quoted": ("\n".join(QUOTED), "units in line 2"),
    "trailing delimiter": ("\n".join([*LINES[:2], *(f"{line}," for line in LINES[2:])]), "units"),
    "times of day": (
        table(";", ",", t=[f"09:14:{7.0 + one:06.3f}" for one in TIMES])
        .replace("s;m;m;deg;km/h;m;m;km/h;1", "hh:mm:ss;m;m;\xb0;km/h;m;m;km/h;-", 1)
        .replace("t;cx", "t\xf6t;cx", 1)
        .encode("latin-1"),
        "units in line 2",
    ),
}


@pytest.mark.parametrize("name", SHAPES)
def test_one_run_whatever_its_file_looks_like(name: str, tmp_path: Path) -> None:
    text, told = SHAPES[name]
    described = DESCRIPTION.replace("channel: t", "channel: t\xf6t")
    found = read(tmp_path, text, described if name == "times of day" else DESCRIPTION)
    assert is_the_run(found)
    assert found.events_s == {"launch": pytest.approx(0.495)}
    assert any(told in one.words for one in found.remarks), found.remarks
    assert not any(one.odd for one in found.remarks)


def test_channels_go_by_number_where_there_is_no_header(tmp_path: Path) -> None:
    rows = "\n".join(table().splitlines()[2:])
    numbered = DESCRIPTION
    for index, (name, unit) in enumerate(zip(COLUMNS, UNITS, strict=True), 1):
        for key in ("channel", "x", "y"):
            numbered = numbered.replace(f"{key}: {name}", f"{key}: column {index}")
        if name in ("v", "psi"):
            key = {"v": "speed", "psi": "heading"}[name]
            numbered = numbered.replace(
                f"{key}: {name}\n", f"{key}: {{channel: column {index}, unit: {unit}}}\n"
            )
    numbered = numbered.replace("column 1}", "column 1, unit: s}").replace(
        "column 8}", "column 8, unit: km/h}"
    )
    numbered = numbered.replace("column 3}", "column 3, unit: m}").replace(
        "column 7}", "column 7, unit: m}"
    )
    assert is_the_run(read(tmp_path, rows, numbered))
    with pytest.raises(ChoreoError) as caught:
        read(tmp_path, rows)
    assert "it has no header" in caught.value.findings[0].text


def test_units_clocks_frames_and_rates_change_nothing(tmp_path: Path) -> None:
    earth = Earth(ANCHOR)
    longitude, latitude = earth.to_wgs84(*ANTENNA)
    bearing = 60.0 - np.degrees(HEADING)
    stamps = [f"2025-06-02T09:00:{one:09.6f}Z" for one in TIMES]
    columns = {"t": stamps, "psi": bearing % 360.0, "v": np.full(COUNT, 36.0 / 1.609344)}
    columns |= {
        "cx": [f"{one:.11f}" for one in longitude],
        "cy": [f"{one:.11f}" for one in latitude],
    }
    units = {"s,m,m,deg,km/h,": "UTC,deg,deg,deg,mph,"}
    text = table(**columns)
    for old, new in units.items():
        text = text.replace(old, new, 1)
    described = (
        DESCRIPTION.replace("{x: cx, y: cy}", "{longitude: cx, latitude: cy}")
        .replace("{channel: t}", "{channel: t, of: utc}")
        .replace("heading: psi", "heading: {channel: psi, from: north, clockwise: yes}")
    )
    found = read(tmp_path, text, described)
    assert is_the_run(found, within_m=1e-4)
    assert any("GPS time is 18 s ahead" in one.words for one in found.remarks)
    # Every fifth sample only, positions in cm.
    thin = {name: values[::5] for name, values in COLUMNS.items()}
    text = table(**thin | {"cx": 100 * thin["cx"], "cy": 100 * thin["cy"]}).replace(
        "s,m,m", "s,cm,cm", 1
    )
    car = read(tmp_path, text).tracks["car"]
    assert np.abs(car.x_m - CAR[0][::5]).max() < 1e-4


def test_files_of_two_clocks_are_put_together(tmp_path: Path) -> None:
    """A log in UTC against one in GPS time is 18 s apart; without dates both are of a day."""
    (tmp_path / "walker.csv").write_text(table(t=TIMES + 34218.0))
    described = DESCRIPTION.replace("{channel: t}", "{channel: t, of: utc}").replace(
        "  walker:\n",
        "  walker:\n    files: walker.csv\n    time: {channel: t, unit: s, of: gps}\n",
    )
    found = read(tmp_path, table(t=TIMES + 34200.0), described)
    assert is_the_run(found)
    assert any("one clock" in one.words for one in found.remarks)
    words = [one.words for one in found.remarks]
    assert "walker.csv: 100 samples a second, 3.00 s" in words
    assert any("km/h of v of run.csv, wv of walker.csv" in one for one in words), words
    with pytest.raises(ChoreoError) as caught:
        read(tmp_path, table(), described.replace("channel: t, of: utc", "channel: t"))
    assert "counts from its own beginning" in caught.value.findings[0].text
    with pytest.raises(ChoreoError) as caught:
        read(tmp_path, table(t=TIMES + 34200.0), described.replace("of: gps", "of: utc"))
    assert "no time in common" in caught.value.findings[0].text


def with_cells(column: str, first: int, last: int, cell: str | None) -> str:
    """The run with cells of a column exchanged; None: as the first of them."""
    values = [f"{one:.6f}" for one in COLUMNS[column]]
    values[first:last] = [values[first] if cell is None else cell] * (last - first)
    return table(**{column: values})


def test_gaps_lost_fixes_and_frozen_places_are_told_with_their_times(tmp_path: Path) -> None:
    short = read(tmp_path, with_cells("cx", 100, 104, "nan"))
    assert is_the_run(short, within_m=2e-3)
    assert any("1 short loss of its fix bridged" in one.words for one in short.remarks)
    lost = read(tmp_path, with_cells("cx", 100, 140, ""))
    assert lost.gaps_s["car"] == ((pytest.approx(0.99), pytest.approx(1.40)),)
    assert np.isnan(lost.tracks["car"].x_m[120])
    frozen = table(
        **{
            name: [
                f"{one:.6f}"
                for one in np.where(
                    (TIMES > 1.0) & (TIMES < 1.6), COLUMNS[name][100], COLUMNS[name]
                )
            ]
            for name in ("cx", "cy")
        }
    )
    odd = [one.words for one in read(tmp_path, frozen).remarks if one.odd]
    assert any("frozen while it moves, from 1.01 to 1.59 s" in one for one in odd)
    lines = table().splitlines()
    gap = read(tmp_path, "\n".join(lines[:100] + lines[150:]))
    assert any("1 gap in time: 0.97 to 1.48 s" in one.words for one in gap.remarks)
    assert gap.gaps_s["walker"] == ((pytest.approx(0.97), pytest.approx(1.48)),)
    twice = read(tmp_path, "\n".join([*lines[:100], lines[99], *lines[100:]]))
    assert any("1 repeated time, the first in line 101" in one.words for one in twice.remarks)
    assert is_the_run(twice)


@pytest.mark.parametrize("told_speed", [True, False])
def test_places_that_are_elsewhere_for_a_moment_are_lost_meanwhile(
    told_speed: bool, tmp_path: Path
) -> None:
    """A fix that is lost for 0.2 s and written as zeros."""
    cells = {name: [f"{one:.6f}" for one in COLUMNS[name]] for name in ("cx", "cy")}
    zero = {name: [*one[:100], *["0.0"] * 20, *one[120:]] for name, one in cells.items()}
    described = DESCRIPTION if told_speed else DESCRIPTION.replace("    speed: v\n", "")
    lost = read(tmp_path, table(**zero), described)
    ((begins, ends),) = lost.gaps_s["car"]
    assert begins == pytest.approx(0.99, abs=0.02)
    assert ends == pytest.approx(1.20, abs=0.02)
    assert any("elsewhere and back, from 1.00 to 1.19 s" in one.words for one in lost.remarks)


BROKEN: dict[str, tuple[str | bytes, str, int]] = {
    "empty": ("", "it is empty", 1),
    "comments only": ("# nothing\n", "holds comments only", 1),
    "one sample": ("\n".join(LINES[:3]), "one sample only", 3),
    "no sample": ("\n".join(LINES[:2]), "no sample", 2),
    "binary": (b"LOG     4.10" + bytes(200), "it is no text", 1),
    "other file": ("a,b\n1,2\n3,4\n", "none of the channels is in it; line 1 has `a`, `b`", 1),
    "mixed delimiters": (
        "\n".join([*LINES[:50], LINES[50].replace(",", ";"), *LINES[51:]]),
        "line 51 has 1 cells",
        51,
    ),
    "mixed decimals": (with_cells("v", 200, 201, '"36,0"'), "`36,0` in column 5 is no number", 203),
    "cut off": ("\n".join(LINES)[: -len(LINES[-1]) // 2], "the header 9", 303),
    "words": (with_cells("v", 7, 8, "fast"), "`fast` in column 5 is no number", 10),
    "header of another delimiter": (
        "\n".join([LINES[0], *(line.replace(",", ";") for line in LINES[1:])]),
        "the header in line 1 is parted by commas, the rows by semicolons",
        1,
    ),
    "no such unit": (
        table().replace("deg,km/h,", "deg,furlong,", 1),
        "`furlong` of `v` is no unit of a speed",
        2,
    ),
    "twice": (
        table().replace("wx,wy", "v,wy", 1),
        "it has `v` 2 times, in column 5 and column 6",
        1,
    ),
    "backward": (
        table(t=np.where(TIMES > 1.5, TIMES - 1.0, TIMES)),
        "time runs back, from 1.500 s",
        154,
    ),
    "standing time": (table(t=np.zeros(COUNT)), "all rows have one time", 3),
    "slow": (table(t=100 * TIMES), "1 samples a second", 3),
    "time missing": (with_cells("t", 9, 10, ""), "a row has no time", 12),
    "unit missing": (
        table().replace("deg,km/h,", "deg,1,", 1),
        "`1` of `v` is no unit of a speed",
        2,
    ),
}


def moved(name: str, rows: slice, by: float) -> np.ndarray:
    """A column whose rows are off."""
    found = COLUMNS[name].copy()
    found[rows] += by
    return found


def test_samples_off_and_back_are_lost_and_short_freezes_are_found(tmp_path: Path) -> None:
    spiked = table(cx=moved("cx", slice(150, 151), 3.0), v=moved("v", slice(200, 202), 20.0))
    found = read(tmp_path, spiked)
    # What is lost for no longer than 50 ms is bridged.
    assert is_the_run(found, 2e-3)
    odd = [one.words for one in found.remarks if one.odd]
    assert any(
        "1 sample of its place off its neighbours and back, taken as lost, at 1.50 s" in one
        for one in odd
    )
    assert any("2 samples of its speed off" in one for one in odd)
    frozen = {name: COLUMNS[name].copy() for name in ("cx", "cy")}
    for one in frozen.values():
        one[121:130] = one[120]
    found = read(tmp_path, table(**frozen))
    assert any("frozen while it moves, from 1.21 to 1.29 s" in one.words for one in found.remarks)
    assert found.gaps_s["car"] == ((pytest.approx(1.2), pytest.approx(1.3)),)
    stepped = read(tmp_path, table(cy=moved("cy", slice(150, None), 1.0)))
    assert stepped.jumps_s["car"] == (pytest.approx(1.5),)


def test_other_signals_of_a_mover_are_read_in_si(tmp_path: Path) -> None:
    wheel = DESCRIPTION.replace(
        "    heading: psi\n  walker",
        "    heading: psi\n    signals: {yaw rate: {channel: v, unit: deg/s}}\n  walker",
    )
    track = read(tmp_path, table(), wheel).tracks["car"]
    assert track.signals["yaw rate"][5] == pytest.approx(np.radians(36.0))
    with pytest.raises(ChoreoError) as caught:
        read(tmp_path, table(), wheel.replace("yaw rate", "yaw rat"))
    assert "Did you mean `yaw rate`?" in str(caught.value.findings[0].values)
    with pytest.raises(ChoreoError) as caught:
        read(tmp_path, table(), wheel.replace("deg/s", "km/h"))
    assert "no unit of a yaw rate" in str(caught.value.findings[0].values)


@pytest.mark.parametrize("name", BROKEN)
def test_broken_files_are_told_with_their_line(name: str, tmp_path: Path) -> None:
    text, why, line = BROKEN[name]
    with pytest.raises(ChoreoError) as caught:
        read(tmp_path, text)
    (finding,) = caught.value.findings
    assert why in finding.text
    assert finding.advice
    assert finding.origin is not None
    assert (Path(finding.origin.file).name, finding.origin.line) == ("run.csv", line)


UNFIT = {
    "channel: t}": ("channel: time}", "has no channel `time`", 3),
    "speed: v": ("speed: {channel: v, unit: m/s}", "adds up to 108.0 m, its places to", 5),
    "heading: psi": ("heading: {channel: psi, from: y}", "deg beside where it drives", 5),
    "files: run.csv": ("files: runs/*.csv", "no file is named like", 2),
    "x: cx, y: cy": ("x: cx", "`y` is missing beside `x`", 6),
    "{x: cx, y: cy}": ("{easting: cx, northing: cy}", "of a grid", 6),
    "rises: 0.5": ("unit: m", "scenario.unknown-key", 15),
    "time: {channel: t}\n": ("", "car has no time", 4),
    "files: run.csv\n": ("", "car has no file", 4),
    "choreo recording: 1": ("choreo recording: 2", "scenario.bad-choice", 1),
    "recording: 1\n": ("recording: 1\ndelimiter: x\n", "`x` parts no cells", 2),
}


@pytest.mark.parametrize("old", UNFIT)
def test_descriptions_that_do_not_fit_are_told_with_their_line(old: str, tmp_path: Path) -> None:
    new, why, line = UNFIT[old]
    with pytest.raises(ChoreoError) as caught:
        read(tmp_path, table(), DESCRIPTION.replace(old, new, 1))
    finding = caught.value.findings[0]
    assert why in f"{finding.code} {finding.text}"
    assert finding.origin is not None
    assert (Path(finding.origin.file).name, finding.origin.line) == ("recording.yaml", line)


def test_mover_of_whom_nothing_is_recorded_is_told(tmp_path: Path) -> None:
    with pytest.raises(ChoreoError) as caught:
        read(tmp_path, table().replace(",130.000000", ","))
    (finding,) = caught.value.findings
    assert "nothing is recorded of walker: no row has a value of its `position`" in finding.text
    assert finding.origin is not None
    assert finding.origin.line == 10


def test_places_on_earth_need_an_anchor(tmp_path: Path) -> None:
    text = DESCRIPTION.replace("{x: cx, y: cy}", "{longitude: cx, latitude: cy}")
    (tmp_path / "run.csv").write_text(table())
    (tmp_path / "recording.yaml").write_text(text)
    one = load_description(tmp_path / "recording.yaml")
    with pytest.raises(ChoreoError) as caught:
        read_run(one, one.runs()[0], None)
    assert caught.value.findings[0].code == "recording.no-anchor"


def test_noise_of_a_place_that_stands_for_minutes_is_no_way() -> None:
    """Ten minutes, of which a walker walks for eight seconds; a speed in a wrong unit is found all the same."""
    random = np.random.default_rng(1)
    times = np.arange(0.0, 600.0, 0.02)
    way = np.clip(times - 5.0, 0.0, 8.0)
    x, y = way + random.normal(0.0, 0.02, len(times)), random.normal(0.0, 0.02, len(times))
    speed = 1.0 * ((times > 5.0) & (times < 13.0))
    zero = np.zeros(len(times))
    assert not list(contradictions("walker", times, Track(x, y, zero, speed)))
    ((why, _),) = contradictions("walker", times, Track(x, y, zero, 3.6 * speed))
    assert "adds up to" in why
