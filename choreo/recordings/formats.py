"""Which kind of file a run is in, by its first bytes -> its channels. Optional packages are loaded when needed."""

from __future__ import annotations

from collections.abc import Sequence
from importlib import import_module
from io import BytesIO
from pathlib import Path
from types import ModuleType
from typing import BinaryIO

from choreo.recordings.channels import Channels, unreadable
from choreo.recordings.folders import Folder, folder_of, is_packed, unpacked
from choreo.recordings.iso_mme import INDEX, read_iso_mme
from choreo.recordings.record import ClockName
from choreo.recordings.table import file_bytes, read_table
from choreo.words.quantities import quoted
from choreo.words.records import dataclass

# By how a file begins: the module that reads it, the extra that it needs, what it is called.
BEGINNINGS = {
    b"MDF     ": ("mdf", "MDF"),
    b"UnFinMF ": ("mdf", "MDF"),
    b"PAR1": ("parquet", "Parquet"),
}
# The package that an extra brings.
PACKAGES = {"mdf": "asammdf", "parquet": "pyarrow"}
# What a computer's own system puts beside files.
NOT_MEANT = ("__MACOSX/", ".DS_Store", "Thumbs.db")


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is asked of a file: channels by name, the one that holds its times, what those count from.

    delimiter, decimal: as somebody says, for text; None: found out.
    """

    names: Sequence[str]
    time: str
    of: ClockName
    delimiter: str | None = None
    decimal: str | None = None


def read_channels(path: Path, wanted: Wanted) -> Channels:
    """Read the wanted channels of one run; those that it doesn't have are left out.

    Raises ChoreoError: it can't be read, or only with an extra that isn't installed.
    """
    if path.suffix.lower() == INDEX:
        path = path.parent
    if path.is_dir():
        return read_iso_mme(folder_of(path), wanted.names, wanted.time, wanted.of)
    with_beginning = _beginning(path)
    if is_packed(with_beginning):
        return _of_packed(unpacked(path), wanted)
    if _special(with_beginning) is not None:
        with path.open("rb") as stream:
            return _of_stream(str(path), stream, with_beginning, wanted)
    return _text(str(path), file_bytes(path), wanted)


def _beginning(path: Path) -> bytes:
    try:
        with path.open("rb") as stream:
            return stream.read(8)
    except OSError:
        return b""  # told where it is read as text


def _special(beginning: bytes) -> tuple[str, str] | None:
    return next((one for first, one in BEGINNINGS.items() if beginning.startswith(first)), None)


def _text(file: str, raw: bytes, wanted: Wanted) -> Channels:
    return read_table(file, raw, wanted.names, wanted.delimiter, wanted.decimal)


def _of_packed(folder: Folder, wanted: Wanted) -> Channels:
    """What a zip holds: a folder after ISO/TS 13499, or one file."""
    meant = [one for one in folder.names if not any(part in one for part in NOT_MEANT)]
    if any(one.lower().endswith(INDEX) for one in meant):
        return read_iso_mme(folder, wanted.names, wanted.time, wanted.of)
    if len(meant) != 1:
        raise unreadable(
            folder.file,
            f"it holds {len(meant) or 'no'} files, and no `{INDEX}` of a folder after ISO/TS 13499"
            if meant
            else "it holds no file",
            "One zip is one run: pack each by itself, or unpack it and name the files.",
        )
    raw = folder.read(meant[0])
    file = f"{folder.file}/{meant[0]}"
    if is_packed(raw[:8]):
        raise unreadable(folder.file, "it holds another zip", "Unpack it.")
    if _special(raw[:8]) is not None:
        return _of_stream(file, BytesIO(raw), raw[:8], wanted)
    return _text(file, raw, wanted)


def _of_stream(file: str, stream: BinaryIO, beginning: bytes, wanted: Wanted) -> Channels:
    special = _special(beginning)
    if special is None:
        raise AssertionError("a text was taken for another kind of file")
    module = reader_of(special[0], file, special[1])
    found: Channels = module.read(file, stream, wanted)
    return found


def reader_of(extra: str, file: str, called: str) -> ModuleType:
    """Load the module that reads or writes with an optional package. Raises ChoreoError: that isn't installed."""
    try:
        return import_module(f"choreo.recordings.{extra}")
    except ModuleNotFoundError:
        raise unreadable(
            file,
            f"{called} needs the package {PACKAGES[extra]}, which isn't installed",
            f"Install it: `pip install 'choreo[{extra}]'`.",
        ) from None


def told_of(called: str, version: str = "") -> str:
    """Give what is told of the kind of a file."""
    return f"{called} {quoted(version)}".strip()
