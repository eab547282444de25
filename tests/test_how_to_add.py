"""DEVELOPERS.md is true: its files and tests are there, its layers are those of pyproject.toml, and its 'How to add'
names every place in which a kind is handled.
"""

import re
import tomllib
from dataclasses import dataclass
from typing import get_args

import pytest

from choreo.commands.entry import COMMANDS
from choreo.words import kinds
from tests.places import (
    PACKAGE,
    ROOT,
    Error,
    Kind,
    Table,
    Union,
    asked_by_name,
    asked_by_script,
    matched,
    modules,
    tables,
    type_errors,
    widened,
)

PAGE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
# Read in one sitting; lists of modules grow a little.
MOST_BYTES = 25_000
# What matches text that happens to have such words.
TEXT = {("plans/record.py", "MoverPlan.launch_kind")}

WRITTEN = "scenario/written/scenario.py"
RECORDS = "scenario/records/scenario.py"
PROBLEM = "problem/records.py"
PHASES = "problem/phase_records.py"
# The kinds that the page has a section for, by its heading.
SECTIONS = {
    "A trigger condition": Kind("Condition", asked="condition"),
    "A phase kind": Kind(
        "PhaseKind",
        (Union(WRITTEN, "PhaseBlock"), Union(PHASES, "Phase")),
        askers=frozenset({"ends_of"}),
    ),
    "An encounter kind": Kind(
        "EncounterKind",
        (
            Union(WRITTEN, "EncounterWritten"),
            Union(RECORDS, "Encounter"),
            Union(PROBLEM, "Encounter"),
        ),
        asked="kind",
    ),
    "A path piece": Kind("PieceKind", (Union("scenario/written/paths.py", "PieceBlock"),)),
}
# Every other Literal of words/kinds.py: whoever matches its members must be told of one more, too.
OTHERS = [
    Kind(name)
    for name in re.findall(r"^(\w+) = Literal\[", (PACKAGE / "words/kinds.py").read_text(), re.M)
    if name not in {kind.literal for kind in SECTIONS.values()}
]


@dataclass(frozen=True)
class Found:
    """What the type checker says of a package with one member more in every kind."""

    errors: list[Error]

    def places(self, kind: Kind) -> set[tuple[str, str]]:
        """Module and function of the errors that are about a kind; some only say that a `return` is missing."""
        return {
            (one.module, one.function)
            for one in self.errors
            if kind.named_in(one.message)
            or ("Missing return" in one.message and one.function in matched(kind, one.module))
        }


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> Found:
    """Widen every kind at once: the type checker takes ten seconds."""
    copy = widened(tmp_path_factory.mktemp("widened"), [*SECTIONS.values(), *OTHERS])
    return Found(type_errors(copy))


def section(heading: str) -> str:
    """The text of the page below a heading."""
    _, _, rest = PAGE.partition(f"\n### {heading}\n")
    assert rest, heading
    return re.split(r"^##", rest, flags=re.MULTILINE)[0]


def listed(heading: str, opening: str) -> set[str]:
    """The modules of the paragraph of a section that begins with these words."""
    (paragraph,) = re.findall(rf"^{opening}: (.*?)(?:\n\n|\Z)", section(heading), re.M | re.S)
    return set(re.findall(r"`([^`]+)`", paragraph))


@pytest.mark.parametrize("heading", SECTIONS)
def test_type_checker_names_the_modules_that_the_page_lists(heading: str, found: Found) -> None:
    named = {module for module, _ in found.places(SECTIONS[heading])}
    assert listed(heading, "mypy names") == named


@pytest.mark.parametrize("heading", SECTIONS)
def test_page_lists_who_asks_for_a_member_by_name(heading: str) -> None:
    kind = SECTIONS[heading]
    asking = {module for module in modules() if asked_by_name(kind, module)}
    assert listed(heading, "By name") == asking | asked_by_script(kind)


@pytest.mark.parametrize("kind", [*SECTIONS.values(), *OTHERS], ids=lambda kind: kind.literal)
def test_whoever_matches_a_kind_is_told_of_a_new_member(kind: Kind, found: Found) -> None:
    """A `match` without `assert_never` passes over it."""
    matching = {(module, name) for module in modules() for name in matched(kind, module)}
    told = {(one.module, one.function) for one in found.errors} | TEXT
    assert matching - told == set()


@pytest.mark.parametrize("table", tables(), ids=lambda table: f"{table.module}-{table.kind}")
def test_table_of_a_kind_has_all_its_members(table: Table) -> None:
    assert table.keys == set(get_args(getattr(kinds, table.kind)))


def test_layers_of_the_page_are_those_of_the_contract() -> None:
    contract = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["importlinter"]
    of_layers = [one["layers"] for one in contract["contracts"] if one["type"] == "layers"]
    (layers,) = (one for one in of_layers if "commands" in one)
    rows = re.findall(
        r"^\| (`.*?) \|", PAGE.partition("## Layers")[2].partition("## Words")[0], re.M
    )
    told = [name for row in rows for name in re.findall(r"`(\w+)`", row)]
    assert told == [name for layer in layers for name in layer.split(" | ")]


def test_every_file_that_the_page_names_is_there() -> None:
    words = set(re.findall(r"`([^`\s]+)`", PAGE)) | set(
        re.findall(r"^ +(?:-> )?([a-z]+/) ", PAGE, re.M)
    )
    files = {
        word for word in words if re.fullmatch(r"[\w./-]*(/|\.(py|pyi|md|toml))[\w./-]*", word)
    }
    files -= {"scenarios/faulty/CODE.yaml", "commands/NAME.py", "choreo/scenarios/"}
    assert len(files) > 60
    near = (ROOT, PACKAGE, PACKAGE / "solve")
    assert [
        file for file in sorted(files) if not any((folder / file).exists() for folder in near)
    ] == []


def test_every_test_that_the_page_names_is_there() -> None:
    names = set(re.findall(r"`(test_\w+)`", PAGE))
    texts = [path.read_text(encoding="utf-8") for path in (ROOT / "tests").rglob("test_*.py")]
    assert len(names) > 8
    assert [
        name for name in sorted(names) if not any(f"def {name}(" in text for text in texts)
    ] == []


def test_page_stays_readable() -> None:
    assert len(PAGE.encode()) < MOST_BYTES


def test_every_command_has_a_module_and_no_module_is_left_over() -> None:
    folder = PACKAGE / "commands"
    having = {path.stem for path in folder.glob("*.py") if "\n@click.command(" in path.read_text()}
    assert having == set(COMMANDS)
