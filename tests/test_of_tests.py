"""Tests that cannot fail are defects: this reads the tests."""

import ast
from pathlib import Path

TESTS = Path(__file__).resolve().parent
FILES = sorted(TESTS.rglob("test_*.py"))


def _functions() -> list[tuple[Path, ast.FunctionDef]]:
    found = []
    for path in FILES:
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.FunctionDef) and node.name.startswith("test_"):
                found.append((path, node))
    return found


def _asserts(node: ast.AST) -> bool:
    for part in ast.walk(node):
        if isinstance(part, ast.Assert):
            return True
        if isinstance(part, ast.Call):
            name = ast.unparse(part.func)
            if name.endswith(("raises", "fail")) or name.split(".")[-1].startswith("assert"):
                return True
            if name.split(".")[-1].startswith("_assert"):
                return True
    return False


def test_every_test_asserts_something() -> None:
    silent = [f"{path.name}::{node.name}" for path, node in _functions() if not _asserts(node)]
    assert silent == []


def test_no_comparison_stands_alone() -> None:
    bare = []
    for path in FILES:
        for node in ast.walk(ast.parse(path.read_text())):
            if not isinstance(node, ast.Expr):
                continue
            call = isinstance(node.value, ast.Call) and ast.unparse(node.value.func).endswith(
                ("allclose", "isclose", "array_equal")
            )
            if call or isinstance(node.value, ast.Compare):
                bare.append(f"{path.name}:{node.lineno}")
    assert bare == []


def test_no_negative_decimal_is_allowed() -> None:
    loose = [path.name for path in FILES if "decimal=" + "-" in path.read_text()]
    assert loose == []
