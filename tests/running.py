"""Runs the `choreo` command: within this process, which saves a start, or in one of its own."""

from __future__ import annotations

import io
import signal
import subprocess
import sys
from contextlib import chdir, redirect_stderr, redirect_stdout
from pathlib import Path

from choreo.commands.entry import main

ROOT = Path(__file__).resolve().parent.parent
Done = subprocess.CompletedProcess[str]


def choreo(*arguments: object, folder: Path = ROOT) -> Done:
    """Run the whole command line within this process, in a folder, its output piped."""
    words = [str(one) for one in arguments]
    output, errors = (io.TextIOWrapper(io.BytesIO(), encoding="utf-8") for _ in range(2))
    interrupts = signal.getsignal(signal.SIGINT)
    code = 0
    try:
        with chdir(folder), redirect_stdout(output), redirect_stderr(errors):
            main(words)
    except SystemExit as leaving:
        code = _exit_code(leaving)
    finally:
        signal.signal(signal.SIGINT, interrupts)
    return subprocess.CompletedProcess(words, code, _read(output), _read(errors))


def choreo_alone(*arguments: object, folder: Path = ROOT) -> Done:
    """Run the command in a process of its own."""
    return subprocess.run(
        [sys.executable, "-m", "choreo", *(str(one) for one in arguments)],
        cwd=folder,
        capture_output=True,
        encoding="utf-8",
        check=False,
    )


def _exit_code(leaving: SystemExit) -> int:
    assert leaving.code is None or isinstance(leaving.code, int), leaving.code
    return leaving.code or 0


def _read(stream: io.TextIOWrapper) -> str:
    stream.flush()
    buffer = stream.buffer
    assert isinstance(buffer, io.BytesIO)
    return buffer.getvalue().decode("utf-8")
