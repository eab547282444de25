"""The README shows what the commands really print, and names every command."""

import re
import subprocess
import sys
from pathlib import Path

from choreo.commands.main import COMMANDS
from choreo.scenario import loads
from choreo.words.catalogue import CATALOGUE

ROOT = Path(__file__).resolve().parent.parent.parent
README = (ROOT / "README.md").read_text()


def test_output_blocks_are_what_the_commands_print() -> None:
    done = subprocess.run(
        [sys.executable, "tools/documents.py", "--check"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr


def test_every_command_is_in_the_readme() -> None:
    assert [name for name in COMMANDS if f"choreo {name}" not in README] == []


def test_the_format_example_is_a_good_scenario() -> None:
    (example,) = re.findall(r"```yaml\n(.*?)```", README, re.DOTALL)
    assert loads(example, "README.md", ROOT).title


def test_ci_runs_the_readmes_test_command() -> None:
    (command,) = re.findall(r"^    (python3 .* -m pytest.*)$", README, re.MULTILINE)
    assert command in (ROOT / ".ci" / "run").read_text()


def test_every_catalogue_entry_says_what_it_means() -> None:
    empty = [code for code, entry in CATALOGUE.items() if not (entry.title and entry.meaning)]
    assert empty == []
    assert len(CATALOGUE) > 100
    assert all(re.fullmatch(r"[a-z]+\.[a-z-]+", code) for code in CATALOGUE)
