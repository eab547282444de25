"""Parquet files by pyarrow: read, and simulated ones written. A unit is in a field's metadata or behind its name."""

from __future__ import annotations

from datetime import timedelta
from io import BytesIO
from typing import TYPE_CHECKING, Any, BinaryIO

import numpy as np
import pyarrow
from pyarrow import parquet

from choreo.recordings.channels import Channels, name_and_unit, twice, unreadable
from choreo.recordings.columns import MARK, Columns
from choreo.recordings.record import Floats, Remark
from choreo.words import ChoreoError

if TYPE_CHECKING:
    from choreo.recordings.formats import Wanted

# Values of all wanted channels together, at most: a file of constants is small whatever it holds.
MOST_VALUES = 100_000_000
UNIT, ABOUT = b"unit", b"about"
# What counts of a timestamp make a second.
PER_SECOND = {"s": 1, "ms": 10**3, "us": 10**6, "ns": 10**9}


def read(file: str, stream: BinaryIO, wanted: Wanted) -> Channels:
    """Read the wanted channels of a Parquet file; those that it doesn't have are left out.

    Raises ChoreoError: it is broken or cut off, a channel is there twice or holds no numbers.
    """
    try:
        return _read(file, stream, wanted)
    except ChoreoError:
        raise
    except (pyarrow.ArrowException, OSError, ValueError) as error:
        ended = "magic bytes" in str(error)
        why = (
            "its end is missing, which lists what it holds"
            if ended
            else "what it holds isn't as it says"
        )
        raise unreadable(
            file,
            f"it is a broken Parquet file: {why}",
            "It may be cut off: look whether it was written to its end, and copy it again.",
        ) from None


def _read(file: str, stream: BinaryIO, wanted: Wanted) -> Channels:
    whole = parquet.ParquetFile(stream)
    schema, rows = whole.schema_arrow, whole.metadata.num_rows
    fields = [(one, *_named(one, wanted)) for one in schema]
    names = [name for _, name, _ in fields]
    if rows < 2:
        count = "no sample" if not rows else "one sample only"
        raise unreadable(file, f"it holds {count}", "Name the file that has the run.")
    asked = [one for one in dict.fromkeys(wanted.names) if one in names]
    if rows * len(asked) > MOST_VALUES:
        raise unreadable(file, f"it holds {rows} samples", "Cut it to the run.")
    numbers: dict[str, Floats] = {}
    texts: dict[str, list[str]] = {}
    units: dict[str, str | None] = {}
    for name in asked:
        places = [index for index, one in enumerate(names) if one == name]
        if len(places) > 1:
            raise twice(file, name, [f"column {index + 1}" for index in places])
        field, _, units[name] = fields[places[0]]
        column = whole.read(columns=[field.name]).column(0)
        if pyarrow.types.is_string(field.type) or pyarrow.types.is_large_string(field.type):
            texts[name] = [str(one) for one in column.to_pylist()]
            continue
        if pyarrow.types.is_timestamp(field.type):
            units[name] = "s"
        numbers[name] = _numbers(file, name, field.type, column)
    about = (schema.metadata or {}).get(ABOUT, b"").decode("utf-8", "replace")
    return Channels(
        file, numbers, units, tuple(names), texts, (), (Remark("Parquet"),), MARK in about
    )


def _named(field: Any, wanted: Wanted) -> tuple[str, str | None]:
    """A column's name and unit."""
    said = (field.metadata or {}).get(UNIT)
    if said is not None or field.name in wanted.names:
        return field.name, None if said is None else said.decode("utf-8", "replace")
    return name_and_unit(field.name)


def _numbers(file: str, name: str, kind: Any, column: Any) -> Floats:
    """A column as numbers, nan where it has none; timestamps in s since 1970."""
    types = pyarrow.types
    if types.is_timestamp(kind):
        counts = column.cast(pyarrow.int64()).to_numpy().astype(float)
        return np.asarray(counts / PER_SECOND[kind.unit])
    if not (types.is_integer(kind) or types.is_floating(kind) or types.is_boolean(kind)):
        if not types.is_decimal(kind):
            raise unreadable(file, f"`{name}` holds no numbers", "Name another channel.")
        column = column.cast(pyarrow.float64())
    return np.array(column.to_numpy(zero_copy_only=False), dtype=float)


def written(columns: Columns) -> bytes:
    """Give a run as a Parquet file, marked as simulated in its metadata."""
    arrays, fields = [], []
    if columns.clock == "utc":
        stamps = [columns.begins + timedelta(seconds=one) for one in columns.time_s.tolist()]
        kind = pyarrow.timestamp("us", tz="UTC")
        arrays.append(pyarrow.array(stamps, kind))
        fields.append(pyarrow.field(columns.time_name, kind))
    else:
        arrays.append(pyarrow.array(columns.clock_s()))
        fields.append(pyarrow.field(columns.time_name, pyarrow.float64(), metadata={UNIT: b"s"}))
    for one in columns.channels:
        arrays.append(pyarrow.array(one.values, mask=np.isnan(one.values)))
        fields.append(
            pyarrow.field(one.name, pyarrow.float64(), metadata={UNIT: one.unit.encode()})
        )
    about = f"{MARK}, no measurement: {columns.about}".encode()
    table = pyarrow.Table.from_arrays(
        arrays, schema=pyarrow.schema(fields, metadata={ABOUT: about})
    )
    stream = BytesIO()
    parquet.write_table(table, stream)
    return stream.getvalue()
