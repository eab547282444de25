"""Property tests depend neither on the clock nor on chance; processes of a run share answers; garbage can wait."""

import gc
import os
import shutil
import sys
import tempfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

from tests.answers import SHARED

settings.register_profile(
    "same-everywhere",
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("same-everywhere")


def pytest_configure(config: pytest.Config) -> None:
    """Make the folder in which the processes of this run share answers: workers inherit its name."""
    if not hasattr(config, "workerinput"):
        os.environ[SHARED] = tempfile.mkdtemp(prefix="choreo-tests-")
    if sys.dont_write_bytecode and (
        hasattr(config, "workerinput") or not config.getoption("numprocesses", None)
    ):
        # Commands that tests start would each compile all of the package: what one has compiled is kept there, too.
        os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
        os.environ["PYTHONPYCACHEPREFIX"] = str(Path(os.environ[SHARED], "compiled"))


def pytest_unconfigure(config: pytest.Config) -> None:
    """Remove that folder."""
    if not hasattr(config, "workerinput"):
        shutil.rmtree(os.environ.pop(SHARED), ignore_errors=True)


def pytest_collection_finish() -> None:
    """What is loaded by now stays: looking through it for garbage again and again would cost a tenth of all time."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(10_000, 20, 50)
