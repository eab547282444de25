"""Finds every place in the package that treats the members of a kind apart, or asks for one of them by name.

Three ways of looking: the type checker, on a copy of the package in which every kind has one member more; the tables
whose keys are members; the comparisons with one member, where the type checker says nothing and a new one falls to the
other side.
"""

from __future__ import annotations

import ast
import re
import shutil
import subprocess
import sys
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cache, cached_property
from pathlib import Path
from typing import get_args

from choreo.words import kinds

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "choreo"
# What packages of others say takes half of the checker's time and is about no kind; what a file's models are, they say.
STRICT = "\n[tool.mypy]\nstrict = true\n"
UNREAD = 'follow_imports = "skip"\n'
READ = """
[[tool.mypy.overrides]]
module = ["pydantic.*", "pydantic_core.*"]
follow_imports = "normal"
"""
ERROR = re.compile(r"^choreo/(?P<module>[^:]+):(?P<line>\d+): error: (?P<message>.*)$")
# The annotation of a table by a kind; of which it is the first group.
TABLE = re.compile(r":\s+(?:dict|Mapping)\[(\w+), ")
# Classes that stand for a member but are not its own.
OTHERS = {"float"}


@dataclass(frozen=True)
class Union:
    """A union of classes of which each stands for a member, or several for one: its module and its name."""

    module: str
    name: str

    @cached_property
    def classes(self) -> list[str]:
        """Its classes, as its module writes them."""
        (value,) = (
            node.value
            for node in _tree(self.module).body
            if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == self.name
        )
        names = [one for one in ast.walk(value) if isinstance(one, ast.Name)]
        return [one.id for one in sorted(names, key=lambda one: (one.lineno, one.col_offset))]


@dataclass(frozen=True)
class Kind:
    """A kind that may get one more member: its Literal in words/kinds.py, and the unions that follow it.

    asked: what is compared is called so, where the words of the members mean other things as well. askers: functions
    that are called with a member.
    """

    literal: str
    unions: tuple[Union, ...] = ()
    asked: str = ""
    askers: frozenset[str] = frozenset()

    @property
    def members(self) -> frozenset[str]:
        return frozenset(get_args(getattr(kinds, self.literal)))

    @cached_property
    def classes(self) -> frozenset[str]:
        """The classes of its unions, by name."""
        return frozenset(one for union in self.unions for one in union.classes) - OTHERS

    @property
    def added(self) -> str:
        """The member that the widened copy has besides."""
        return f"added {self.literal}"

    def twin(self, union: Union) -> str:
        """The class that a union has besides in the widened copy."""
        return f"Added{self.literal}{self.unions.index(union)}"

    def named_in(self, message: str) -> bool:
        """Say whether an error of the type checker is about what was added to this kind."""
        return any(one in message for one in (self.added, *map(self.twin, self.unions)))


def _tree(module: str) -> ast.Module:
    return _parsed(PACKAGE / module)


@cache
def _parsed(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


def modules() -> list[str]:
    """Every module of the package, by its place in it."""
    return sorted(str(path.relative_to(PACKAGE)) for path in PACKAGE.rglob("*.py"))


def widened(folder: Path, every: Iterable[Kind]) -> Path:
    """Copy the package into a folder, with one member more of each kind and one class more in each union."""
    copy = folder / "choreo"
    shutil.copytree(PACKAGE, copy, ignore=shutil.ignore_patterns("__pycache__"))
    settings = folder / "pyproject.toml"
    settings.write_text(
        (ROOT / "pyproject.toml").read_text(encoding="utf-8") + READ, encoding="utf-8"
    )
    _replace(settings, STRICT, STRICT + UNREAD)
    for kind in every:
        opening = f"\n{kind.literal} = Literal["
        _replace(copy / "words" / "kinds.py", opening, f'{opening}"{kind.added}", ')
        for union in kind.unions:
            _add_twin(copy / union.module, kind, union)
    return copy


def _add_twin(module: Path, kind: Kind, union: Union) -> None:
    """A class like the union's last one, under a name of its own, right before the union."""
    text, last = module.read_text(encoding="utf-8"), union.classes[-1]
    (found,) = (
        node
        for node in ast.parse(text).body
        if isinstance(node, ast.ClassDef) and node.name == last
    )
    first = min([found.lineno, *(one.lineno for one in found.decorator_list)])
    source = "\n".join(text.splitlines()[first - 1 : found.end_lineno])
    twin = source.replace(f"class {last}", f"class {kind.twin(union)}")
    opening = f"\n{union.name} = "
    _replace(module, opening, f"\n{twin}\n{opening}{kind.twin(union)} | ")


def _replace(module: Path, old: str, new: str) -> None:
    text = module.read_text(encoding="utf-8")
    if text.count(old) != 1:
        raise AssertionError(f"{module.name} has {old!r} {text.count(old)} times")
    module.write_text(text.replace(old, new), encoding="utf-8")


@dataclass(frozen=True)
class Error:
    """What the type checker says of a line of a module, and the function that holds the line."""

    module: str
    function: str
    message: str


def type_errors(copy: Path) -> list[Error]:
    """What the type checker says of a copy of the package."""
    done = subprocess.run(
        [sys.executable, "-m", "mypy"], cwd=copy.parent, capture_output=True, text=True, check=False
    )
    matches = (ERROR.match(line) for line in done.stdout.splitlines())
    return [
        Error(one["module"], _function_at(copy / one["module"], int(one["line"])), one["message"])
        for one in matches
        if one
    ]


def _function_at(module: Path, line: int) -> str:
    tree = _parsed(module)
    inside = (
        name for name, one in functions(tree) if one.lineno <= line <= (one.end_lineno or line)
    )
    return next(inside, "")


def functions(tree: ast.AST, outer: str = "") -> Iterator[tuple[str, ast.FunctionDef]]:
    """Every function of a module with its name, methods as `Class.name`; inner ones count as part of their outer."""
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, ast.FunctionDef):
            yield f"{outer}{node.name}", node
        elif isinstance(node, ast.ClassDef):
            yield from functions(node, f"{node.name}.")


@cache
def _deciding(module: str) -> list[tuple[str, ast.Match | ast.Compare | ast.Call]]:
    """What may treat members apart in a module, each with the function that holds it."""
    return [
        (name, node)
        for name, function in functions(_tree(module))
        for node in ast.walk(function)
        if isinstance(node, ast.Match | ast.Compare | ast.Call)
    ]


def matched(kind: Kind, module: str) -> set[str]:
    """The functions of a module with a `match` whose cases are members of a kind, or classes of its unions."""
    nodes = _deciding(module)
    return {name for name, node in nodes if isinstance(node, ast.Match) and _matches(kind, node)}


def _matches(kind: Kind, node: ast.Match) -> bool:
    patterns = [one for case in node.cases for one in ast.walk(case.pattern)]
    values = [one.value for one in patterns if isinstance(one, ast.MatchValue)]
    words = {one.value for one in values if isinstance(one, ast.Constant)}
    asked = [one.cls for one in patterns if isinstance(one, ast.MatchClass)]
    classes = {ast.unparse(one).rpartition(".")[2] for one in asked}
    meant = kind.asked in ast.unparse(node.subject)
    return (bool(words) and words <= kind.members and meant) or bool(classes & kind.classes)


def asked_by_name(kind: Kind, module: str) -> set[str]:
    """The functions of a module that compare with a member of a kind, or ask for a class of its unions."""
    nodes = _deciding(module)
    return {name for name, node in nodes if _compares(kind, node) or _asks(kind, node)}


def _compares(kind: Kind, node: ast.AST) -> bool:
    if not isinstance(node, ast.Compare):
        return False
    sides = [one for side in (node.left, *node.comparators) for one in _items(side)]
    words = {one.value for one in sides if isinstance(one, ast.Constant)}
    names = [ast.unparse(one).rpartition(".")[2] for one in sides]
    return bool(words & kind.members) and any(kind.asked in name for name in names)


def _items(side: ast.expr) -> list[ast.expr]:
    return list(side.elts) if isinstance(side, ast.Tuple | ast.Set | ast.List) else [side]


def _asks(kind: Kind, node: ast.AST) -> bool:
    if not isinstance(node, ast.Call):
        return False
    called = ast.unparse(node.func).rpartition(".")[2]
    if called == "isinstance":
        names = {one.id for one in ast.walk(node.args[1]) if isinstance(one, ast.Name)}
        return bool(names & kind.classes)
    return called in kind.askers


def asked_by_script(kind: Kind) -> set[str]:
    """The scripts of the page that compare with a member of a kind."""
    words = "|".join(map(re.escape, sorted(kind.members)))
    comparison = re.compile(rf'{kind.asked}\b [!=]== "(?:{words})"')
    scripts = sorted((PACKAGE / "page" / "script").glob("*.js"))
    return {
        str(path.relative_to(PACKAGE))
        for path in scripts
        if comparison.search(path.read_text(encoding="utf-8"))
    }


@dataclass(frozen=True)
class Table:
    """A table written out with members of a kind as keys: its module, its kind, the keys that it has."""

    module: str
    kind: str
    keys: frozenset[str]


def tables() -> list[Table]:
    """Every table of the package that is annotated as one by a kind and written out with words for keys."""
    return [table for module in modules() for table in _tables_of(module)]


def _tables_of(module: str) -> Iterator[Table]:
    # Every process that collects tests asks for these: a module without one is not parsed.
    text = (PACKAGE / module).read_text(encoding="utf-8")
    if not any(hasattr(kinds, name) for name in TABLE.findall(text)):
        return
    for node in ast.walk(_tree(module)):
        if not isinstance(node, ast.AnnAssign) or not isinstance(node.value, ast.Dict):
            continue
        kind = TABLE.match(f": {ast.unparse(node.annotation)}")
        keys = [one.value for one in node.value.keys if isinstance(one, ast.Constant)]
        if kind and keys and hasattr(kinds, kind[1]):
            yield Table(module, kind[1], frozenset(map(str, keys)))
