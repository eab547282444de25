"""The wheel in an environment of its own, far from the repository: what travels with it is enough to begin."""

import json
import os
import subprocess
import sys
import sysconfig
from pathlib import Path

import pytest

from choreo.guide.pages import page_of

ROOT = Path(__file__).parents[2]


def run(*command: str | Path, cwd: Path) -> subprocess.CompletedProcess[str]:
    """Run a process that knows nothing of the repository."""
    clean = {key: value for key, value in os.environ.items() if not key.startswith("PYTHON")}
    return subprocess.run(
        [str(word) for word in command],
        cwd=cwd,
        env=clean,
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Build the wheel and install it; gives the `choreo` of that environment.

    What choreo needs is taken from the running environment by a path file, so that no network is needed.
    """
    folder = tmp_path_factory.mktemp("wheel")
    done = run(sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", folder, cwd=ROOT)
    assert done.returncode == 0, done.stderr
    (wheel,) = folder.glob("*.whl")
    home = folder / "environment"
    done = run(sys.executable, "-m", "venv", "--without-pip", home, cwd=folder)
    assert done.returncode == 0, done.stderr
    python = home / "bin" / "python"
    options = ("--no-deps", "--no-index", "--quiet", "--disable-pip-version-check")
    done = run(
        sys.executable, "-m", "pip", "--python", python, "install", *options, wheel, cwd=folder
    )
    assert done.returncode == 0, done.stderr
    (packages,) = (home / "lib").glob("python*/site-packages")
    (packages / "needed.pth").write_text(sysconfig.get_path("purelib") + "\n")
    return home / "bin" / "choreo"


def test_a_laptop_with_the_wheel_alone_can_begin(installed: Path, tmp_path: Path) -> None:
    done = run(installed, "new", "runway-too-short", "-o", "mine.yaml", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "sites" / "strip.yaml").exists()
    done = run(installed, "plan", "mine.yaml", "--json", cwd=tmp_path)
    assert done.returncode == 1, done.stderr
    assert json.loads(done.stdout)["verdict"] == "infeasible"
    assert run(installed, "new", "surveyed-road-walker", cwd=tmp_path).returncode == 0
    done = run(installed, "plan", "surveyed-road-walker.yaml", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("FEASIBLE  ")


def test_the_guide_travels_with_the_wheel(installed: Path, tmp_path: Path) -> None:
    done = run(installed, "guide", "format", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert done.stdout == page_of("format").text


def test_the_wheel_has_its_own_package_and_no_faulty_files(installed: Path) -> None:
    python = installed.parent / "python"
    code = "import choreo, pathlib; print(pathlib.Path(choreo.__file__).parent)"
    package = Path(run(python, "-c", code, cwd=installed.parent).stdout.strip())
    assert package.is_relative_to(installed.parent.parent)
    assert (package / "scenarios" / "sites" / "ring.geojson").exists()
    assert not (package / "scenarios" / "faulty").exists()
    assert not (package.parent / "scenarios").exists()
