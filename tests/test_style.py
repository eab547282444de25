"""The linter, the formatter and the type checker are satisfied; so are rules of ours that they don't know."""

import ast
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "choreo"
MODULES = sorted(PACKAGE.rglob("*.py"))
FOLDERS = sorted({path.parent for path in MODULES})
# Packages in which each module is named after what it holds, never after one function of it.
NAMED_APART = (
    "words",
    "scenario",
    "geometry",
    "ground",
    "page",
    "report",
    "room",
    "sight",
    "track",
    "plans",
    "export",
    "verification",
    "measured",
)
# Packages in which whoever takes arrays says their shape.
SHAPES_SAID = ("geometry", "ground", "room", "errors", "sight", "track", "verification", "page")
ARRAY = re.compile(r"\b(Array|Floats|ArrayLike|NDArray)\b")


def run(*command: str) -> subprocess.CompletedProcess[str]:
    """Run a tool of this environment on the project."""
    return subprocess.run(
        [sys.executable, "-m", *command], cwd=ROOT, capture_output=True, text=True, check=False
    )


def test_linter_has_nothing_to_say() -> None:
    done = run("ruff", "check", ".")
    assert done.returncode == 0, done.stdout


def test_everything_is_formatted() -> None:
    done = run("ruff", "format", "--check", ".")
    assert done.returncode == 0, done.stdout


def test_types_are_right() -> None:
    done = run("mypy")
    assert done.returncode == 0, done.stdout


def constants_below_their_use(source: str) -> list[str]:
    """Names in capitals that a module's text uses on an earlier line than it defines them."""
    tree = ast.parse(source)
    defined: dict[str, int] = {}
    for node in tree.body:
        targets = node.targets if isinstance(node, ast.Assign) else []
        targets = [node.target] if isinstance(node, ast.AnnAssign) else targets
        names = [one.id for one in targets if isinstance(one, ast.Name)]
        for name in filter(str.isupper, names):
            defined.setdefault(name, node.lineno)
    used = [
        node
        for node in ast.walk(tree)
        if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Load)
    ]
    return sorted({one.id for one in used if one.lineno < defined.get(one.id, 0)})


def test_rule_of_constants_sees_one_below_its_use() -> None:
    below = "def twice(x):\n    return FACTOR * x\n\nFACTOR = 2\nOTHER: int = 3\nprint(OTHER)\n"
    assert constants_below_their_use(below) == ["FACTOR"]
    assert constants_below_their_use("FACTOR = 2\n" + below) == []


def test_constants_stand_above_their_use() -> None:
    below = {
        str(path.relative_to(ROOT)): names
        for path in MODULES
        if (names := constants_below_their_use(path.read_text(encoding="utf-8")))
    }
    assert below == {}


def modules_of(folder: Path) -> set[str]:
    """The names of a package's modules and packages."""
    inner = {one.parent.name for one in folder.glob("*/__init__.py")}
    return {one.stem for one in folder.glob("*.py")} | inner


def functions_of(path: Path) -> Iterator[ast.FunctionDef]:
    """The functions of a module and the methods of its classes."""
    for node in ast.parse(path.read_text(encoding="utf-8")).body:
        inner = node.body if isinstance(node, ast.ClassDef) else [node]
        yield from (one for one in inner if isinstance(one, ast.FunctionDef))


@pytest.mark.parametrize("folder", FOLDERS, ids=lambda folder: str(folder.relative_to(ROOT)))
def test_no_package_exports_a_name_that_hides_a_module_of_it(folder: Path) -> None:
    """`import choreo.x.y` would give the function then."""
    tree = ast.parse((folder / "__init__.py").read_text(encoding="utf-8"))
    imports = [node for node in tree.body if isinstance(node, ast.ImportFrom)]
    exported = {one.asname or one.name for node in imports for one in node.names}
    assert exported & modules_of(folder) == set()


@pytest.mark.parametrize("name", NAMED_APART)
def test_no_module_is_named_as_a_function_beside_it(name: str) -> None:
    packages = [one.parent for one in (PACKAGE / name).rglob("__init__.py")]
    assert packages
    alike = [
        f"{path.relative_to(ROOT)}: {node.name}"
        for folder in packages
        for path in folder.glob("*.py")
        for node in ast.parse(path.read_text(encoding="utf-8")).body
        if isinstance(node, ast.FunctionDef) and node.name in modules_of(folder)
    ]
    assert alike == []


@pytest.mark.parametrize("name", SHAPES_SAID)
def test_public_function_of_arrays_says_their_shape(name: str) -> None:
    taking_arrays = [
        (path, node)
        for path in sorted((PACKAGE / name).rglob("*.py"))
        for node in functions_of(path)
        if not node.name.startswith("_")
        and any(
            ARRAY.search(ast.unparse(one.annotation))
            for one in [*node.args.args, *node.args.kwonlyargs]
            if one.annotation is not None
        )
    ]
    assert taking_arrays
    silent = [
        f"{path.name}: {node.name}"
        for path, node in taking_arrays
        if "shape" not in (ast.get_docstring(node) or "")
    ]
    assert silent == []
