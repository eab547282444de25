"""MDF 4 files (ASAM MDF) by asammdf: read, and simulated ones written. Times are those of a channel group's master.

A master counts from the start of the recording; where its clock is earth's, the start that the file's header says is
added.
"""

from __future__ import annotations

import logging
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime
from io import BytesIO
from typing import TYPE_CHECKING, Any, BinaryIO, cast

import numpy as np

with warnings.catch_warnings():
    # A package that it needs warns of its own imports.
    warnings.simplefilter("ignore", DeprecationWarning)
    from asammdf import MDF, Signal

from choreo.recordings.channels import Channels, twice, unreadable
from choreo.recordings.clock import since_epoch
from choreo.recordings.columns import MARK, Columns
from choreo.recordings.rasters import Raster, on_one_clock
from choreo.recordings.record import ClockName, Floats, Remark
from choreo.words import ChoreoError

if TYPE_CHECKING:
    from asammdf.blocks.utils import FileLike

    from choreo.recordings.formats import Wanted

VERSION = "4.10"
# What it finds broken is told here; its own log would stand between our lines.
logging.getLogger("asammdf").disabled = True
# Values of all wanted channels together, at most: more is no run.
MOST_VALUES = 100_000_000


def read(file: str, stream: BinaryIO, wanted: Wanted) -> Channels:
    """Read the wanted channels of an MDF file; those that it doesn't have are left out.

    Raises ChoreoError: it is broken or cut off, a channel is there twice or holds no numbers.
    """
    with _opened(file, stream) as mdf:
        known = {name: places for name, places in mdf.channels_db.items() if name}
        remarks = [Remark(f"MDF {mdf.version}")]
        units: dict[str, str | None] = {}
        rasters: dict[int, Raster] = {}
        asked = [one for one in dict.fromkeys(wanted.names) if one in known]
        as_time = _is_master(mdf, known, wanted.time)
        for name in asked:
            if name == wanted.time and as_time:
                continue
            places = known[name]
            if len(places) > 1:
                raise twice(file, name, [f"channel group {group + 1}" for group, _ in places])
            group, index = places[0]
            _refuse_many(file, mdf, group, len(asked))
            times, values, unit = _signal(file, mdf, name, group, index)
            units[name] = unit
            rasters.setdefault(group, Raster(times)).numbers[name] = values
        text = str(mdf.header.comment)
        start = mdf.header.start_time
    numbers: dict[str, Floats] = {}
    if rasters:
        one = on_one_clock(file, list(rasters.values()), units, remarks)
        numbers = one.numbers
        if as_time:
            numbers[wanted.time] = one.time_s + _begins(start, wanted.of, remarks)
            units[wanted.time] = "s"
    elif as_time:
        numbers[wanted.time] = np.zeros(0)
        units[wanted.time] = "s"
    _refuse_few(file, numbers)
    return Channels(
        file, numbers, units, tuple(known), remarks=tuple(remarks), simulated=MARK in text
    )


def _refuse_few(file: str, numbers: dict[str, Floats]) -> None:
    few = min((len(one) for one in numbers.values()), default=2)
    if few < 2:
        count = "no sample" if not few else "one sample only"
        raise unreadable(file, f"it holds {count}", "Name the file that has the run.")


@contextmanager
def _opened(file: str, stream: BinaryIO) -> Iterator[Any]:
    """An MDF file; whatever goes wrong inside it is told as a broken file."""
    cut = "It may be cut off: look whether the recording ended well, and copy it again."
    mdf = None
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            mdf = MDF(cast("FileLike", stream))
            yield mdf
    except ChoreoError:
        raise
    except Exception as error:
        # asammdf has no type for broken files: numpy's, struct's, zlib's and its own come through, in their words.
        if mdf is None:
            _let_go(error)
        raise unreadable(
            file, "it is a broken MDF file: its blocks don't hold what they should", cut
        ) from None
    finally:
        if mdf is not None:
            mdf.close()


def _let_go(error: Exception) -> None:
    """Mark what asammdf couldn't open as closed: it would close it when it is collected, and fail loudly at that."""
    trace = error.__traceback__
    while trace is not None:
        half_open = trace.tb_frame.f_locals.get("self")
        if half_open is not None and hasattr(half_open, "_closed"):
            half_open._closed = True
            if half_open._tempfile is not None:
                half_open._tempfile.close()
        trace = trace.tb_next


def _is_master(mdf: Any, known: dict[str, Sequence[tuple[int, int]]], name: str) -> bool:
    """Whether a name is that of the channels that the groups' times are in."""
    places = known.get(name, ())
    return bool(places) and all(mdf.masters_db.get(group) == index for group, index in places)


def _refuse_many(file: str, mdf: Any, group: int, channels: int) -> None:
    samples = int(mdf.groups[group].channel_group.cycles_nr)
    if samples * channels > MOST_VALUES:
        raise unreadable(file, f"it holds {samples} samples", "Cut it to the run.")


def _signal(
    file: str, mdf: Any, name: str, group: int, index: int
) -> tuple[Floats, Floats, str | None]:
    """Times and values of one channel, each of shape (n,), nan where they are marked as invalid; and its unit."""
    signal = mdf.get(name, group=group, index=index, ignore_invalidation_bits=True)
    values = np.asarray(signal.samples)
    if values.ndim != 1 or values.dtype.kind not in "biuf":
        raise unreadable(file, f"`{name}` holds no numbers", "Name another channel.")
    samples = int(mdf.groups[group].channel_group.cycles_nr)
    if len(values) != samples:
        raise unreadable(
            file,
            f"it says {samples} samples of `{name}`, and holds {len(values)}",
            "It may be cut off: look whether the recording ended well, and copy it again.",
        )
    found = values.astype(float)
    invalid = signal.invalidation_bits
    if invalid is not None:
        found[np.asarray(invalid, dtype=bool)] = np.nan
    return np.asarray(signal.timestamps, dtype=float), found, str(signal.unit) or None


def _begins(start: datetime, of: ClockName, remarks: list[Remark]) -> float:
    """What a master's times are added to, in s."""
    if of == "recording":
        return 0.0
    remarks.append(Remark(f"the file says that it began at {start.isoformat()}"))
    return since_epoch(start, of)


def written(columns: Columns) -> bytes:
    """Give a run as an MDF file, marked as simulated in its header."""
    with MDF(version=VERSION) as mdf:
        mdf.header.start_time = columns.begins
        mdf.header.comment = f"{MARK}, no measurement: {columns.about}"
        signals = []
        for one in columns.channels:
            invalid = np.isnan(one.values)
            signals.append(
                Signal(
                    samples=np.where(invalid, 0.0, one.values) if invalid.any() else one.values,
                    timestamps=columns.time_s,
                    name=one.name,
                    unit="" if one.unit == "1" else one.unit,
                    invalidation_bits=invalid if invalid.any() else None,
                )
            )
        mdf.append(signals, acq_name="simulated", comment=f"{MARK}, no measurement")
        stream = BytesIO()
        mdf.save(stream, compression=2)
        return stream.getvalue()
