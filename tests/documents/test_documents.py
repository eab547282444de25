"""README and guide show what the commands really print, and the README names every command."""

import importlib.util
import re
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

from choreo.commands.entry import COMMANDS
from choreo.guide.pages import PAGES, all_pages
from choreo.scenario import loads
from choreo.words.catalogue import CATALOGUE
from choreo.words.caution import NOT_MODELLED

ROOT = Path(__file__).resolve().parent.parent.parent
README = (ROOT / "README.md").read_text()
# Set by someone who reads on a telephone.
MOST_README_BYTES = 13_000


def tool() -> ModuleType:
    """Import tools/documents.py, which is no package's module."""
    spec = importlib.util.spec_from_file_location("documents", ROOT / "tools" / "documents.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["documents"] = module
    spec.loader.exec_module(module)
    return module


def test_output_blocks_are_what_the_commands_print() -> None:
    done = subprocess.run(
        [sys.executable, "tools/documents.py", "--check"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize("file", ["README.md", "choreo/guide/guarantees.md"])
def test_readme_and_guide_list_all_that_is_not_modelled(file: str) -> None:
    words = " ".join((ROOT / file).read_text(encoding="utf-8").split())
    assert [one for one in NOT_MODELLED if one not in words] == []


def test_a_block_that_is_out_of_date_is_made_anew(tmp_path: Path) -> None:
    page = tmp_path / "page.md"
    page.write_text(
        "before\n\n<!-- output: choreo new cut-in -->\n\n    old words\n\n<!-- end -->\n\nafter\n"
    )
    text = tool().Document(page, tmp_path, 76).filled()
    assert "old words" not in text
    assert "    $ choreo new cut-in\n" in text
    assert "    (exit code 0)\n" in text
    assert text.startswith("before\n")
    assert text.endswith("\nafter\n")
    assert (tmp_path / "cut-in.yaml").exists()


def test_an_excerpt_marks_what_it_leaves_out_and_wants_all_that_it_names() -> None:
    excerpt = tool().excerpt
    output = "one\n  1\n\ntwo\n\nthree\n\nfour\n\n(exit code 0)"
    assert excerpt(output, ["one", "four"]) == "one\n  1\n\n...\n\nfour\n\n(exit code 0)"
    assert excerpt(output, ["two"]) == "...\n\ntwo\n\n...\n\n(exit code 0)"
    with pytest.raises(ValueError, match="'five'"):
        excerpt(output, ["one", "five"])


def test_every_command_is_in_the_readme() -> None:
    assert [name for name in COMMANDS if f"choreo {name}" not in README] == []


def test_readme_stays_short_and_names_every_page() -> None:
    assert len(README.encode()) < MOST_README_BYTES
    assert [name for name in PAGES if f"choreo/guide/{name}.md" not in README] == []


@pytest.mark.parametrize("name", ["README.md", "choreo/guide/format.md"])
def test_the_scenario_shown_is_a_good_one(name: str) -> None:
    (example,) = re.findall(r"```yaml\n(.*?)```", (ROOT / name).read_text(), re.DOTALL)
    scenario = loads(example, name, ROOT)
    assert scenario.title
    assert [note.code for note in scenario.notes] == []


def test_the_library_shown_works() -> None:
    (example,) = re.findall(r"```python\n(.*?)```", README, re.DOTALL)
    done = subprocess.run(
        [sys.executable, "-c", example], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("feasible True\nsubject 355.445")


def test_links_lead_to_files_and_headings_that_are_there() -> None:
    texts = {ROOT / "README.md": README}
    texts |= {ROOT / "choreo" / "guide" / f"{page.name}.md": page.text for page in all_pages()}
    broken = [
        f"{file.name}: {link}"
        for file, text in texts.items()
        for link in re.findall(r"\]\(([^)]+)\)", text)
        if not _leads_somewhere(file, link)
    ]
    assert broken == []


def _leads_somewhere(file: Path, link: str) -> bool:
    name, _, heading = link.partition("#")
    target = file.parent / name if name else file
    if not target.exists() or not heading:
        return target.exists()
    headings = re.findall(r"^#+ (.*)$", target.read_text(), re.MULTILINE)
    return heading in {re.sub(r"[^\w -]", "", one.lower()).replace(" ", "-") for one in headings}


def test_ci_runs_the_readmes_test_command() -> None:
    (command,) = re.findall(r"^    (python3 .* -m pytest.*)$", README, re.MULTILINE)
    assert command in (ROOT / ".ci" / "run").read_text()


def test_every_catalogue_entry_says_what_it_means() -> None:
    empty = [code for code, entry in CATALOGUE.items() if not (entry.title and entry.meaning)]
    assert empty == []
    assert len(CATALOGUE) > 100
    assert all(re.fullmatch(r"[a-z]+\.[a-z-]+", code) for code in CATALOGUE)
