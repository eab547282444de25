"""The layer table in pyproject.toml holds, and every module can be imported alone."""

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent


def test_layers_import_one_way_and_packages_stay_at_home() -> None:
    done = subprocess.run(
        [sys.executable, "-c", "from importlinter.cli import lint_imports_command as c; c()"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr


def test_no_module_is_named_after_nothing() -> None:
    vague = {"utils", "helpers", "common", "misc", "base", "manager", "tools"}
    found = [path for path in (ROOT / "choreo").rglob("*.py") if path.stem in vague]
    assert found == []


def test_files_stay_small() -> None:
    long = {
        str(path.relative_to(ROOT)): lines
        for path in (ROOT / "choreo").rglob("*.py")
        if (lines := len(path.read_text().splitlines())) > 420
    }
    assert long == {}


@pytest.mark.parametrize("argument", ["--help", "check --help"])
def test_heavy_packages_are_not_loaded_for_help(argument: str) -> None:
    code = (
        "import sys\n"
        "from choreo.commands.entry import group\n"
        f"try:\n    group.main({argument.split()!r})\nexcept SystemExit:\n    pass\n"
        "heavy = {'numpy', 'casadi', 'highspy', 'pydantic', 'networkx', 'scipy', 'rich'} & set(sys.modules)\n"
        "sys.exit(f'loaded {heavy}' if heavy else 0)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


def test_casadi_and_scipy_are_not_on_the_way_to_check() -> None:
    code = (
        "import sys\n"
        "import choreo.problem, choreo.proof, choreo.scenario\n"
        "heavy = {'casadi', 'highspy', 'scipy', 'shapely'} & set(sys.modules)\n"
        "sys.exit(f'loaded {heavy}' if heavy else 0)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
