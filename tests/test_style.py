"""The linter and the type checker are satisfied."""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent


def run(*command: str) -> subprocess.CompletedProcess[str]:
    """Run a tool of this environment on the project."""
    return subprocess.run(
        [sys.executable, "-m", *command], cwd=ROOT, capture_output=True, text=True, check=False
    )


def test_linter_has_nothing_to_say() -> None:
    done = run("ruff", "check", ".")
    assert done.returncode == 0, done.stdout


def test_types_are_right() -> None:
    done = run("mypy")
    assert done.returncode == 0, done.stdout
