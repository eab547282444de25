"""Plans on disk: a write either is whole or leaves the old file as it was."""

from __future__ import annotations

import errno
import glob
import os
import re
import stat
import sys
import tempfile
import time
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import BinaryIO

from choreo.plans.document import from_text, to_text
from choreo.plans.record import Plan
from choreo.scenario.text.document import read_text
from choreo.words import ChoreoError, Finding
from choreo.words.origin import Origin

# Its number on every system (POSIX).
STANDARD_OUTPUT = 1
STANDARD_ERROR = 2
BYTE_ORDER_MARK = b"\xef\xbb\xbf"
# A scratch file older than this (s) has no writer any more: writing one takes seconds.
ABANDONED_S = 3600.0
FULL = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)
# A plan of three movers takes 100 kB; most of it is the outline of the keep-out area and clearances of pairs.
MOST_PLAN_BYTES = 50_000_000
# The key that says what a hand-written file is, among its first lines: `choreo: 1` is a scenario.
INPUT_KEY = re.compile(rb"^[ \t{]*[\"']?choreo(?: ([a-z]+))?[\"']?\s*:", re.MULTILINE)
FIRST_BYTES = 64_000
# A whole text, parts of one that is too long to be held, or what is no text.
Text = str | bytes | Iterable[str]


def save_plan(plan: Plan, path: Path, inputs: Iterable[str] = ()) -> None:
    """Write a plan document, as write_whole does."""
    write_whole(path, to_text(plan), inputs)


def load_plan(path: Path) -> Plan:
    """Read a plan document. Raises ChoreoError: input.* for no plain file, plan.broken, plan.other-format."""
    return from_text(read_text(path, most_bytes=MOST_PLAN_BYTES), str(path))


def refuse_inputs(path: Path, inputs: Iterable[str]) -> None:
    """Keep what a run reads from being what it writes to, by other names and links too.

    Raises ChoreoError: plan.would-overwrite-input.
    """
    for file in inputs:
        try:
            same = os.path.samefile(path, file)
        except OSError:
            continue
        if same:
            place = Origin(str(path), 1, 1)
            values = {"input": file}
            raise ChoreoError((Finding("plan.would-overwrite-input", "error", place, values, ()),))


def input_kind(start: bytes) -> str | None:
    """Say what a file that begins so was written by hand as ('scenario', 'fleet' ...); None for what programs write."""
    text = start.removeprefix(BYTE_ORDER_MARK)
    # A page has scenarios inside.
    match = None if text.lstrip().startswith(b"<") else INPUT_KEY.search(text)
    return None if match is None else (match[1] or b"scenario").decode()


def refuse_hand_written(path: Path, kind: str | None) -> None:
    """Keep files that somebody wrote by hand from being lost under something else.

    kind: what is to be written, as of input_kind. Raises ChoreoError: plan.would-overwrite-hand-written.
    """
    try:
        if not path.is_file():
            return
        with path.open("rb") as stream:
            old = input_kind(stream.read(FIRST_BYTES))
    except OSError:
        return
    if old is not None and old != kind:
        place = Origin(str(path), 1, 1)
        raise ChoreoError(
            (Finding("plan.would-overwrite-hand-written", "error", place, {"kind": old}),)
        )


def _kind_of(text: Text) -> str | None:
    """What a text is as a file; one in parts is a table."""
    if isinstance(text, str):
        return input_kind(text[:FIRST_BYTES].encode("utf-8", "replace"))
    return input_kind(text[:FIRST_BYTES]) if isinstance(text, bytes) else None


def check_target(path: Path, inputs: Iterable[str], kind: str | None = None) -> None:
    """Refuse what can't be written to before any work is done for it.

    kind: of a command that writes scenarios, fleets ... Raises ChoreoError: plan.would-overwrite-input,
    plan.would-overwrite-hand-written; plan.not-written where there is no such folder.
    """
    refuse_inputs(path, inputs)
    refuse_hand_written(path, kind)
    if _own_stream(path) is not None:
        return
    with _not_written(path):
        target = _behind_links(path)
        if _takes_a_file(target) and not target.parent.is_dir():
            raise OSError(errno.ENOENT, os.strerror(errno.ENOENT))


def is_standard_output(path: Path) -> bool:
    """Say whether a path is `-` or another name of this process's standard output."""
    return _own_stream(path) == STANDARD_OUTPUT


def _own_stream(path: Path) -> int | None:
    """Give the number of the standard stream that a path names: it is written to as it is open."""
    if str(path) == "-":
        return STANDARD_OUTPUT
    for number in (STANDARD_OUTPUT, STANDARD_ERROR):
        try:
            if os.path.samestat(path.stat(), os.fstat(number)):
                return number
        except (OSError, ValueError):
            continue
    return None


def write_whole(path: Path, text: Text, inputs: Iterable[str] = ()) -> None:
    """Write text, or its parts one after the other, beside the target and move it over in one step.

    inputs: files that must not be written to. A link stays, the file it points to is replaced; a device,
    a pipe or the standard output (also by the name `-`) is written to as it is.
    Raises ChoreoError: plan.would-overwrite-input, plan.would-overwrite-hand-written; plan.not-written, the old file,
    if any, is untouched then. A standard output that fails raises OSError: that is the command line's business.
    """
    write_all(((path, text),), inputs)


def write_all(pairs: Iterable[tuple[Path, Text]], inputs: Iterable[str] = ()) -> None:
    """Write several texts, each as write_whole does, or none: no file is moved over before all texts are on disk.

    Devices, pipes and the standard output come between the two, they can't be taken back. Raises as write_whole.
    """
    targets = [(Path(path), text) for path, text in pairs]
    read = tuple(inputs)
    for target, text in targets:
        refuse_inputs(target, read)
        refuse_hand_written(target, _kind_of(text))
    scratches: list[tuple[Path, Path, Path]] = []
    try:
        streams = []
        for target, text in targets:
            if _own_stream(target) is not None:
                streams.append((target, text))
                continue
            with _not_written(target):
                real = _behind_links(target)
                if _takes_a_file(real):
                    _clear_scratches(real)
                    scratches.append((_scratch(real, text), real, target))
                else:
                    streams.append((target, text))
        # A folder fails here, before anything is moved.
        for target, text in streams:
            _stream(target, text)
        while scratches:
            scratch, real, target = scratches[0]
            with _not_written(target):
                os.replace(scratch, real)
            scratches.pop(0)
    finally:
        for scratch, _, _ in scratches:
            scratch.unlink(missing_ok=True)


def _put(stream: BinaryIO, text: Text) -> None:
    """Write all of it, words as UTF-8 and their lines as they end."""
    if isinstance(text, bytes):
        stream.write(text)
    else:
        parts = (text,) if isinstance(text, str) else text
        stream.writelines(part.encode("utf-8") for part in parts)


def _stream(target: Path, text: Text) -> None:
    """Write to what takes no file in its place."""
    number = _own_stream(target)
    if number == STANDARD_OUTPUT:
        sys.stdout.flush()
    if number is not None:
        with os.fdopen(os.dup(number), "wb") as stream:
            _put(stream, text)
        return
    with _not_written(target), _behind_links(target).open("wb") as stream:
        _put(stream, text)


@contextmanager
def _not_written(target: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise _fault(target, error) from None


def _behind_links(path: Path) -> Path:
    """What is written to: the file behind links; a pipe or a device goes by the name that it was given."""
    if path.exists() and not path.is_file():
        return path  # a shell's `>(command)` is a link to no name at all
    real = Path(os.path.realpath(path))
    if real.is_symlink():
        raise OSError(errno.ELOOP, os.strerror(errno.ELOOP))
    return real


def _takes_a_file(path: Path) -> bool:
    """A regular file, or nothing yet: what a new file may be moved over."""
    try:
        mode = path.stat().st_mode
    except FileNotFoundError:
        return True
    return stat.S_ISREG(mode)


def _scratch_prefix(target: Path) -> str:
    # A long name with an addition would be too long a name.
    return f".{target.name[:20]}.choreo-"


def _clear_scratches(target: Path) -> None:
    """Remove what writers of this file that were killed have left: one's own, and older than any writer lives."""
    oldest_s = time.time() - ABANDONED_S
    with suppress(OSError):
        for one in target.parent.glob(f"{glob.escape(_scratch_prefix(target))}*"):
            about = one.lstat()
            if about.st_uid == os.getuid() and about.st_mtime < oldest_s:
                one.unlink()


def _scratch(target: Path, text: Text) -> Path:
    """Write text to a file beside the target, with the target's permissions; gives its path."""
    handle, name = tempfile.mkstemp(prefix=_scratch_prefix(target), dir=target.parent)
    scratch = Path(name)
    try:
        with os.fdopen(handle, "wb") as stream:
            _put(stream, text)
            stream.flush()
            os.fsync(stream.fileno())
        scratch.chmod(_mode(target))
    except BaseException:
        scratch.unlink(missing_ok=True)
        raise
    return scratch


def _mode(target: Path) -> int:
    """The old file's permissions, or what a new file gets here."""
    try:
        return target.stat().st_mode & 0o777
    except OSError:
        mask = os.umask(0)
        os.umask(mask)
        return 0o666 & ~mask


def _fault(path: Path, error: OSError) -> ChoreoError:
    full = error.errno in FULL
    values = {
        "why": error.strerror or "no access",
        "instead": "Make room there, or choose another folder."
        if full
        else "Choose a folder that exists and that you may write to.",
    }
    return ChoreoError((Finding("plan.not-written", "error", Origin(str(path), 1, 1), values, ()),))
