"""Files that belong together, in a folder or packed as a zip. A zip that would unpack to more than a run is refused."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from zipfile import BadZipFile, ZipFile, ZipInfo

from choreo.recordings.channels import unreadable
from choreo.words import ChoreoError
from choreo.words.display import how_many
from choreo.words.records import dataclass

# Ten minutes of six movers at 100 Hz take 20 MB as text; a zip of these bytes is no run.
MOST_UNPACKED = 300_000_000
MOST_FILES = 20_000
ZIP = b"PK\x03\x04"
EMPTY_ZIP = b"PK\x05\x06"


@dataclass(frozen=True)
class Folder:
    """Files by name, with `/` between a folder and what it holds. read: gives one, or its first so many bytes."""

    file: str
    names: tuple[str, ...]
    reading: Callable[[str, int | None], bytes]

    def read(self, name: str, first: int | None = None) -> bytes:
        """Give what a file holds, or its first bytes. Raises ChoreoError: it is broken."""
        return self.reading(name, first)


def folder_of(path: Path) -> Folder:
    """Give the files of a folder. Raises ChoreoError: too many."""
    names = []
    for one in sorted(path.rglob("*")):
        if one.is_file():
            names.append(one.relative_to(path).as_posix())
        if len(names) > MOST_FILES:
            raise unreadable(
                str(path), f"it holds more than {MOST_FILES} files", "Name the folder of one run."
            )

    def reading(name: str, first: int | None) -> bytes:
        try:
            if (path / name).stat().st_size > MOST_UNPACKED:
                raise unreadable(
                    str(path / name),
                    f"it is larger than {MOST_UNPACKED // 1_000_000} MB",
                    "Cut it to the run.",
                )
            with (path / name).open("rb") as stream:
                return stream.read(-1 if first is None else first)
        except OSError as error:
            raise unreadable(
                str(path / name), error.strerror or "it can't be read", "Look at its rights."
            ) from None

    return Folder(str(path), tuple(names), reading)


def is_packed(beginning: bytes) -> bool:
    """Say whether a file is a zip, by its first bytes."""
    return beginning.startswith((ZIP, EMPTY_ZIP))


def unpacked(path: Path) -> Folder:
    """Give what a zip holds, nothing of it written anywhere. Raises ChoreoError: broken, a bomb, locked."""
    file = str(path)
    try:
        archive = ZipFile(path)
    except (BadZipFile, OSError, ValueError, NotImplementedError):
        raise _broken(file, "its list of files can't be read") from None
    entries = {one.filename: one for one in archive.infolist() if not one.is_dir()}
    size = sum(one.file_size for one in entries.values())
    if size > MOST_UNPACKED or len(entries) > MOST_FILES:
        archive.close()
        raise unreadable(
            file,
            f"it would unpack to {how_many(len(entries), 'file')} of {size / 1e6:.0f} MB, "
            f"more than any run ({MOST_FILES} files, {MOST_UNPACKED // 1_000_000} MB)",
            "Pack one run by itself; nothing was unpacked.",
        )

    def reading(name: str, first: int | None) -> bytes:
        return _entry(file, archive, entries[name], first)

    return Folder(file, tuple(sorted(entries)), reading)


def _entry(file: str, archive: ZipFile, entry: ZipInfo, first: int | None) -> bytes:
    """What one entry holds: never more than it says, whatever its bytes unpack to."""
    if entry.flag_bits & 1:
        raise unreadable(file, f"`{entry.filename}` is locked by a password", "Pack it without.")
    try:
        with archive.open(entry) as stream:
            raw = stream.read(entry.file_size + 1 if first is None else first)
    except Exception:
        # zipfile, zlib, lzma and bz2 have errors of their own, with no common type.
        raise _broken(file, f"`{entry.filename}` can't be unpacked") from None
    if len(raw) > entry.file_size:
        raise _broken(file, f"`{entry.filename}` holds more than it says")
    return raw


def _broken(file: str, why: str) -> ChoreoError:
    return unreadable(
        file, f"it is a broken zip ({why})", "It may be cut off: copy it again from the logger."
    )
