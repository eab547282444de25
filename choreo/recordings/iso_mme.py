"""Folders after ISO/TS 13499 ("ISO-MME"): an `.mme` file about the test, a text file for each channel.

Keys and codes are from memory of the format's open description; nothing in the folder that isn't needed is looked at.
A channel goes by its code, or by any of the names that its header gives it.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from choreo.recordings.channels import Channels, twice, unreadable
from choreo.recordings.columns import MARK, Column, Columns
from choreo.recordings.folders import Folder
from choreo.recordings.rasters import Raster, on_one_clock
from choreo.recordings.record import ClockName, Floats, Remark
from choreo.words.quantities import quoted
from choreo.words.records import dataclass

INDEX, CHANNELS = ".mme", ".chn"
CHANNEL_FILE = re.compile(r".*\.\d{3,4}")
# Where a channel's header says what it is called, the best first.
NAMES = (
    "Channel code",
    "Name of the channel",
    "Laboratory channel code",
    "Customer channel code",
)
# A header is no longer than this.
HEADER_BYTES = 8192
NO_VALUE = frozenset({"novalue", "nan", ""})
# Spellings of units that are this format's own.
UNITS = {"m/(s*s)": "m/s2", "m/s*s": "m/s2", "1": "1"}
# Physical dimension and direction in a channel's code; whatever else is recorded is an event.
DIMENSIONS = {
    "x": "DSX",
    "y": "DSY",
    "heading": "ANZ",
    "speed": "VEX",
    "acceleration": "ACX",
}
EVENT = "EV0"
# Objects have one digit in a code.
MOST_OBJECTS = 9
NO_CODE = "NOVALUE"


@dataclass(frozen=True)
class _Header:
    """What a channel's file says above its values, by key; lines: how many those are."""

    file: str
    keys: Mapping[str, str]
    lines: int

    @property
    def names(self) -> tuple[str, ...]:
        """All that it is called."""
        found = [self.keys.get(key.lower(), "") for key in NAMES]
        return tuple(one for one in dict.fromkeys(found) if one and one.lower() not in NO_VALUE)

    def number(self, key: str) -> float | None:
        """Give a number of the header, None where it has none. Raises ChoreoError: it is none."""
        text = self.keys.get(key.lower(), "")
        if text.lower() in NO_VALUE:
            return None
        try:
            return float(text)
        except ValueError:
            raise unreadable(
                self.file,
                f"`{key}` is `{quoted(text)}`, which is no number",
                "Write a number in this line of its header.",
            ) from None


def read_iso_mme(folder: Folder, wanted: Sequence[str], time: str, of: ClockName) -> Channels:
    """Read the wanted channels of a folder; those that it doesn't have are left out.

    time: the channel of times: where the folder has none of that name, `time` is when each channel was sampled.
    Raises ChoreoError: no such folder, or it is broken.
    """
    index = [one for one in folder.names if one.lower().endswith(INDEX)]
    if len(index) != 1:
        raise unreadable(
            folder.file,
            f"it is a folder with {len(index) or 'no'} `{INDEX}` {'file' if len(index) < 2 else 'files'}",
            "Name the folder of one run after ISO/TS 13499; else name files, like `runs/*.csv`.",
        )
    files = [one for one in folder.names if CHANNEL_FILE.fullmatch(one)]
    headers = [_header(folder, one) for one in files]
    known = tuple(one.names[0] for one in headers if one.names)
    remarks = [Remark(f"folder after ISO/TS 13499, {len(files)} channels")]
    rasters: list[Raster] = []
    units: dict[str, str | None] = {}
    for name in dict.fromkeys(wanted):
        having = [one for one in headers if name in one.names]
        if len(having) > 1:
            raise twice(folder.file, name, [one.file.rsplit("/", 1)[-1] for one in having])
        if having:
            unit = having[0].keys.get("unit", "")
            units[name] = UNITS.get(unit, unit) or None
            values = _values(folder, having[0])
            rasters.append(Raster(_times(folder, having[0], headers, len(values)), {name: values}))
    numbers: dict[str, Floats] = {}
    if rasters:
        one = on_one_clock(folder.file, rasters, units, remarks)
        numbers = one.numbers
        if time not in numbers and time == "time":
            if of != "recording":
                raise unreadable(
                    folder.file,
                    "its times count from a zero of their own",
                    "Write `of: recording`, or name the channel that holds the time of day.",
                )
            numbers[time] = one.time_s
            units[time] = "s"
    about = folder.read(index[0], HEADER_BYTES).decode("latin-1")
    return Channels(
        folder.file, numbers, units, ("time", *known), {}, (), tuple(remarks), MARK in about
    )


def _header(folder: Folder, name: str) -> _Header:
    file = f"{folder.file}/{name}"
    text = folder.read(name, HEADER_BYTES).decode("latin-1")
    keys: dict[str, str] = {}
    lines = 0
    for line in text.splitlines():
        key, colon, value = line.partition(":")
        if not colon:
            break
        keys[key.strip().lower()] = value.strip()
        lines += 1
    return _Header(file, keys, lines)


def _values(folder: Folder, header: _Header) -> Floats:
    """The values of a channel, shape (n,), nan where it has none."""
    name = header.file.removeprefix(f"{folder.file}/")
    lines = folder.read(name).decode("latin-1").splitlines()[header.lines :]
    while lines and not lines[-1].strip():
        lines.pop()
    said = header.number("Number of samples")
    if len(lines) < 2:
        count = "no sample" if not lines else "one sample only"
        raise unreadable(header.file, f"it holds {count}", "Name the folder that has the run.")
    if said is not None and int(said) != len(lines):
        raise unreadable(
            header.file,
            f"its header says {said:.0f} samples, it holds {len(lines)}",
            "It may be cut off: look whether the recording ended well, and copy it again.",
            header.lines + len(lines),
        )
    try:
        return np.array(list(map(float, lines)))
    except ValueError:
        return np.array([_number(header, row, one) for row, one in enumerate(lines)])


def _number(header: _Header, row: int, text: str) -> float:
    if text.strip().lower() in NO_VALUE:
        return math.nan
    try:
        return float(text)
    except ValueError:
        raise unreadable(
            header.file,
            f"`{quoted(text.strip())}` is no number",
            "Write a number a line, or NOVALUE where nothing was measured.",
            header.lines + row + 1,
        ) from None


def _times(folder: Folder, header: _Header, headers: Sequence[_Header], count: int) -> Floats:
    """When a channel was sampled, in s, shape (count,): at even steps, or as another channel says."""
    if header.keys.get("reference channel", "implicit").lower() == "explicit":
        name = header.keys.get("reference channel name", "")
        having = [one for one in headers if name and name in one.names]
        if not having:
            raise unreadable(
                header.file,
                f"its times are in the channel `{quoted(name)}`, which the folder doesn't have",
                "Copy the whole folder again.",
            )
        times = _values(folder, having[0])
        if len(times) != count:
            raise unreadable(
                header.file,
                f"it holds {count} samples, and the channel of its times {len(times)}",
                "It may be cut off: copy the whole folder again.",
            )
        return times
    step, first = header.number("Sampling interval"), header.number("Time of first sample")
    if step is None or step <= 0.0:
        raise unreadable(
            header.file,
            "it doesn't say its sampling interval",
            "Write `Sampling interval :0.01` in its header.",
        )
    return np.asarray((first or 0.0) + step * np.arange(count))


def files_of(columns: Columns, name: str) -> Iterator[tuple[str, str]]:
    """Give a run as the files of a folder, by their names in it; marked as simulated in its `.mme` file."""
    objects = list(dict.fromkeys(one.owner for one in columns.channels if one.what in DIMENSIONS))
    yield (
        f"{name}{INDEX}",
        _keys(
            ("Data format edition number", "1.6"),
            ("Title", columns.about),
            ("Customer name", NO_CODE),
            ("Timestamp", columns.begins.strftime("%Y-%m-%d %H:%M:%S")),
            ("Comments", f"{MARK}, no measurement: {columns.about}"),
            ("Number of test objects", str(len(objects))),
            *((f"Name of test object {k}", one) for k, one in enumerate(objects, 1)),
        ),
    )
    owners = list(dict.fromkeys((*objects, *(one.owner for one in columns.channels))))
    listed = [
        ("Instrumentation standard", NO_CODE),
        ("Number of channels", str(len(columns.channels))),
    ]
    for number, one in enumerate(columns.channels, 1):
        listed.append((f"Name of channel {number:03d}", f"{_code(one, owners)} / {one.name}"))
    yield f"Channel/{name}{CHANNELS}", _keys(*listed)
    step = float(np.median(np.diff(columns.time_s)))
    for number, one in enumerate(columns.channels, 1):
        header = _keys(
            ("Name of the channel", one.name),
            ("Channel code", _code(one, owners)),
            ("Unit", one.unit),
            ("Reference channel", "implicit"),
            ("Data source", "calculation"),
            ("Sampling interval", f"{step:.9g}"),
            ("Time of first sample", f"{columns.time_s[0]:.9g}"),
            ("Number of samples", str(len(columns.time_s))),
        )
        rows = ("NOVALUE" if math.isnan(v) else f"{v:.{one.digits}f}" for v in one.values.tolist())
        yield f"Channel/{name}.{number:03d}", header + "\n".join(rows) + "\n"


def _keys(*pairs: tuple[str, str]) -> str:
    return "".join(f"{key:<28}:{value}\n" for key, value in pairs)


def _code(one: Column, owners: Sequence[str]) -> str:
    """A channel's code of 16 characters: object, place on it, dimension, direction; S: simulated.

    What isn't of one of nine objects is told apart by its fine location.
    """
    number = owners.index(one.owner) + 1
    dimension = DIMENSIONS.get(one.what, EVENT)
    single = number <= MOST_OBJECTS and dimension != EVENT
    place = f"{number}{'0' * 11}" if single else f"{number:012d}"
    return f"{place}{dimension}S"
