"""Plans on disk: a write either is whole or leaves the old file as it was."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from choreo.plan.document import from_text, to_text
from choreo.plan.record import Plan
from choreo.words import ChoreoError, Finding
from choreo.words.origin import Origin


def save_plan(plan: Plan, path: Path) -> None:
    """Write a plan document. Raises ChoreoError: plan.not-written."""
    write_whole(path, to_text(plan))


def load_plan(path: Path) -> Plan:
    """Read a plan document. Raises ChoreoError: plan.unreadable, plan.broken, plan.other-format."""
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise _fault("plan.unreadable", path, error) from None
    return from_text(text, str(path))


def write_whole(path: Path, text: str) -> None:
    """Write text beside the target and move it over in one step.

    Raises ChoreoError: plan.not-written; the old file, if any, is untouched then.
    """
    target = Path(path)
    scratch: str | None = None
    try:
        handle, scratch = tempfile.mkstemp(prefix=f".{target.name}.", dir=target.parent or ".")
        with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as stream:
            stream.write(text)
            stream.flush()
            os.fsync(stream.fileno())
        os.chmod(scratch, _mode(target))
        os.replace(scratch, target)
        scratch = None
    except OSError as error:
        raise _fault("plan.not-written", target, error) from None
    finally:
        if scratch is not None:
            Path(scratch).unlink(missing_ok=True)


def _mode(target: Path) -> int:
    """The old file's permissions, or what a new file gets here."""
    try:
        return target.stat().st_mode & 0o777
    except OSError:
        mask = os.umask(0)
        os.umask(mask)
        return 0o666 & ~mask


def _fault(code: str, path: Path, error: Exception) -> ChoreoError:
    why = getattr(error, "strerror", None) or "it is not text"
    return ChoreoError((Finding(code, "error", Origin(str(path), 1, 1), {"why": why}, ()),))
