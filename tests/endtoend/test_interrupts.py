"""Ctrl-C at any step: one line, exit code 130, nothing saved and no file half written; and no standard error at all."""

import os
import pty
import subprocess
import sys
from pathlib import Path

import pytest

from tests.running import ROOT, choreo

SLOW = "scenarios/impossible/side-road-too-short.yaml"
GOOD = "scenarios/two-encounters.yaml"
INTERRUPTED = 130


# The signal comes from within, as the step is shown: from without, a quick step would be over before it arrived.
INTERRUPTING = """
import signal, sys
# Whoever runs in the background is born with an ear that is deaf to Ctrl-C.
signal.signal(signal.SIGINT, signal.default_int_handler)
from choreo.commands.entry import main
step, write = sys.argv.pop(1), sys.stderr.write
def shown(text):
    written = write(text)
    if step in text:
        signal.raise_signal(signal.SIGINT)
    return written
sys.stderr.write = shown
main(sys.argv[1:])
"""


def interrupted_at(step: str, *arguments: str) -> tuple[int, str, str]:
    """Run a command on a terminal, interrupt it when it shows that step, and give code, output and error lines."""
    terminal, inner = pty.openpty()
    process = subprocess.Popen(
        [sys.executable, "-c", INTERRUPTING, step, *arguments],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=inner,
        start_new_session=True,
        text=True,
    )
    os.close(inner)
    shown = b""
    with process:
        output, _ = process.communicate()
    while True:
        try:
            piece = os.read(terminal, 1000)
        except OSError:  # the terminal's other end is closed
            break
        if not piece:
            break
        shown += piece
    os.close(terminal)
    # Progress is wiped by a return and an escape code.
    _, said = shown.decode().split(step, 1)
    lines = said.replace("\r\n", "\n").split("\x1b[2K")[-1].strip("\n")
    return process.returncode, output, lines


@pytest.mark.parametrize(
    ("step", "arguments"),
    [
        ("timing", ("plan", GOOD)),
        ("room", ("plan", GOOD)),
        ("solve", ("why", SLOW)),
        ("looking for what would help", ("why", SLOW)),
    ],
)
def test_interrupt_ends_at_once_in_one_line(step: str, arguments: tuple[str, ...]) -> None:
    code, output, said = interrupted_at(step, *arguments)
    assert (code, output) == (INTERRUPTED, "")
    assert said == "choreo: interrupted."


def test_interrupted_plan_leaves_the_old_file_and_nothing_else(tmp_path: Path) -> None:
    old = tmp_path / "plan.json"
    old.write_text("old", encoding="utf-8")
    code, _, _ = interrupted_at("verify", "plan", GOOD, "-o", str(old))
    assert code == INTERRUPTED
    assert old.read_text(encoding="utf-8") == "old"
    assert list(tmp_path.iterdir()) == [old]


@pytest.mark.parametrize(
    ("arguments", "code"),
    [(("plan", GOOD), 0), (("plan", SLOW), 1), (("check", "scenarios/faulty/input.tag.yaml"), 2)],
)
def test_without_standard_error_the_answer_is_the_same(
    arguments: tuple[str, ...], code: int, tmp_path: Path
) -> None:
    """In a shell `2>&-`: what is written next must not land in a file opened in its place."""
    command = [sys.executable, "-m", "choreo", *arguments]
    usual = choreo(*arguments)
    closed = subprocess.run(
        ["sh", "-c", 'exec "$@" 2>&-', "sh", *command],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        encoding="utf-8",
        check=False,
    )
    assert (usual.returncode, closed.returncode) == (code, code)
    assert closed.stdout == usual.stdout
