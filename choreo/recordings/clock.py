"""A column of times -> seconds on one clock: since the recording began, UTC or GPS time."""

from __future__ import annotations

import math
import re
from datetime import UTC, datetime, timedelta
from fractions import Fraction

import numpy as np

from choreo.recordings.channels import Channels, unreadable
from choreo.recordings.leap_seconds import AHEAD_S, GPS_EPOCH, gps_ahead_s
from choreo.recordings.record import ClockName, Floats, Remark
from choreo.words.quantities import quoted
from choreo.words.units import SPELLINGS, UNITS

UNIX_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
WEEK_S = 604_800.0
# By how much GPS time is ahead where a file has no date.
NOW_AHEAD_S = AHEAD_S[0][1]
UNDATED = f"UTC without a date; GPS time is taken to be {NOW_AHEAD_S:g} s ahead"
TIME_OF_DAY = re.compile(r"(\d{1,2}):(\d{2}):(\d{2}(?:[.,]\d+)?)")
# Units of a time column besides those of a scenario.
FINE = {"us": Fraction(1, 10**6), "ns": Fraction(1, 10**9)}


def since_epoch(moment: datetime, of: ClockName) -> float:
    """Give a moment as a file counts it, in s: UTC since 1970, or GPS time."""
    if of == "gps":
        return (moment - GPS_EPOCH).total_seconds() + gps_ahead_s(moment)
    return (moment - UNIX_EPOCH).total_seconds()


def seconds_of(
    channels: Channels, name: str, unit: str | None, of: ClockName
) -> tuple[Floats, list[Remark]]:
    """Give the times of a file's rows in s, shape (n,), GPS time where `of` is earth's clock; and what was inferred.

    unit: as described; None: as the file says. Raises ChoreoError: no unit, no date, time that stands or runs back.
    """
    remarks: list[Remark] = []
    if name in channels.texts:
        times = _dated(channels, name, remarks, of)
    else:
        times = _counted(channels, name, unit, of, remarks)
    missing = ~np.isfinite(times)
    if missing.any():
        row = int(np.argmax(missing))
        raise unreadable(
            channels.file,
            "a row has no time",
            "Delete the row, or record the time in each.",
            channels.line(row),
        )
    return times, remarks


def _counted(
    channels: Channels, name: str, unit: str | None, of: ClockName, remarks: list[Remark]
) -> Floats:
    raw = channels.numbers[name]
    said = unit or channels.units.get(name)
    if unit is None and said is not None:
        remarks.append(Remark(name, unit=said))
    factor = None if said is None else factor_of(said, "time")
    if factor is None:
        why = (
            f"`{quoted(name)}` has no unit of time"
            if said is None
            else f"`{quoted(said)}` is no unit of time"
        )
        raise unreadable(channels.file, why, f"Write `time: {{channel: {name}, unit: s}}`.")
    times = np.asarray(raw * factor)
    if of == "utc":
        first = float(times[0])
        if math.isfinite(first) and first > WEEK_S:
            ahead = gps_ahead_s(UNIX_EPOCH + timedelta(seconds=first))
            remarks.append(Remark(f"UTC since 1970; GPS time is {ahead:g} s ahead"))
            return np.asarray(times - (GPS_EPOCH - UNIX_EPOCH).total_seconds() + ahead)
        remarks.append(Remark(UNDATED))
        return np.asarray(times + NOW_AHEAD_S)
    return times


def _dated(channels: Channels, name: str, remarks: list[Remark], of: ClockName) -> Floats:
    """Times that are written out: dates, or times of day that may pass midnight once."""
    texts = channels.texts[name]
    if TIME_OF_DAY.fullmatch(texts[0]):
        return _of_day(channels, name, remarks, of)
    try:
        stamps = [datetime.fromisoformat(text.replace(",", ".")) for text in texts]
    except ValueError:
        bad = next(row for row, text in enumerate(texts) if not _is_stamp(text))
        raise unreadable(
            channels.file,
            f"`{quoted(texts[bad])}` is no time",
            "Write times like `2025-06-02T09:00:00.010Z`, or in seconds.",
            channels.line(bad),
        ) from None
    if stamps[0].tzinfo is None:
        remarks.append(Remark("times without a zone are taken for UTC"))
        stamps = [one.replace(tzinfo=UTC) for one in stamps]
    first = stamps[0]
    ahead = 0.0 if of == "gps" else gps_ahead_s(first)
    base = (first - GPS_EPOCH).total_seconds() + ahead
    if of == "utc":
        remarks.append(Remark(f"UTC; GPS time is {ahead:g} s ahead"))
    return base + np.array([(one - first).total_seconds() for one in stamps])


def _is_stamp(text: str) -> bool:
    try:
        datetime.fromisoformat(text.replace(",", "."))
    except ValueError:
        return False
    return True


def _of_day(channels: Channels, name: str, remarks: list[Remark], of: ClockName) -> Floats:
    seconds = []
    for row, text in enumerate(channels.texts[name]):
        match = TIME_OF_DAY.fullmatch(text)
        if match is None:
            raise unreadable(
                channels.file,
                f"`{quoted(text)}` is no time of day",
                "Write `09:00:00.010`.",
                channels.line(row),
            )
        seconds.append(
            3600.0 * int(match[1]) + 60.0 * int(match[2]) + float(match[3].replace(",", "."))
        )
    times = np.array(seconds)
    midnight = np.flatnonzero(np.diff(times) < -43_200.0)
    if len(midnight) == 1:
        times[midnight[0] + 1 :] += 86_400.0
        remarks.append(Remark("the recording passes midnight"))
    if of == "utc":
        remarks.append(Remark(UNDATED))
        times = times + NOW_AHEAD_S
    return times


def factor_of(unit: str, kind: str) -> float | None:
    """Give by what a number in a unit is multiplied for SI (degrees of angles to rad); None: no unit of that kind."""
    known = unit if unit in UNITS else SPELLINGS.get(unit.lower().replace(" ", ""), "")
    if kind == "time" and unit.lower() in FINE:
        return float(FINE[unit.lower()])
    if known not in UNITS or UNITS[known].kind != kind:
        return None
    factor = float(UNITS[known].factor)
    return math.radians(factor) if kind == "angle" else factor
