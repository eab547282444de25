"""Tests that cannot fail are defects: this reads the tests."""

import ast
from functools import cache
from pathlib import Path

import pytest

from tests.hollow import Module, Reader, is_assertion

TESTS = Path(__file__).resolve().parent


@cache
def files() -> dict[Path, Module]:
    """Every file of tests, read: when first asked, as each process collects all tests but runs only some."""
    return {path: Module(ast.parse(path.read_text())) for path in sorted(TESTS.rglob("test_*.py"))}


def readers() -> list[tuple[str, Reader]]:
    """Every test with its name."""
    return [
        (f"{path.name}::{test.name}", Reader(test, module))
        for path, module in files().items()
        for test in module.tests
    ]


def test_every_test_asserts_something() -> None:
    silent = [
        f"{path.name}::{test.name}"
        for path, module in files().items()
        for test in module.tests
        if not any(is_assertion(part) for part in ast.walk(test))
    ]
    assert silent == []


def test_no_test_passes_because_a_collection_is_empty_or_a_branch_is_not_taken() -> None:
    every = readers()
    hollow = [name for name, test in every if not test.asserts()]
    hollow += [f"{name}, line {line}" for name, test in every for line in test.hollow_lines()]
    assert hollow == [], "assert first that what is looped over has items (or what it holds)"


def _test(body: str) -> Reader:
    helpers = "def checks(a): assert a\ndef maybe(a):\n for x in a: assert x\n"
    module = Module(ast.parse(f"MADE = [1, 2]\n{helpers}def test_it():\n {body}\n"))
    return Reader(module.tests[0], module)


@pytest.mark.parametrize(
    "body",
    [
        "assert one",
        "for x in [1, 2]: assert x",
        "for i, x in enumerate(sorted(MADE)): assert x",
        "for x, y in zip(MADE, made, strict=True): assert x",
        "for x in MADE[1:]: assert x",
        "for x in range(3): assert x",
        "assert made.parts\n for x in made.parts.values(): assert x",
        "assert len(made) == 2\n for x in made: assert x",
        "if a: assert b\n else: assert c",
        "with pytest.raises(ValueError): made()",
        "checks(made)",
        "assert all(x for x in MADE)",
        "assert made and all(x for x in made)",
    ],
)
def test_assertions_that_are_sure_to_run_are_let_through(body: str) -> None:
    assert _test(body).asserts()
    assert _test(body).hollow_lines() == []


@pytest.mark.parametrize(
    "body",
    [
        "for x in made: assert x",
        "for x in range(made): assert x",
        "for x in range(3, 3): assert x",
        "for x in []: assert x",
        "for x in MADE[2:]: assert x",
        "for x, y in zip(MADE, made, strict=False): assert x",
        "for x in MADE:\n  for y in x: assert y",
        "if a: assert b",
        "if a: return\n assert b",
        "while a: assert b",
        "with suppress(ValueError): assert a",
        "try:\n  assert a\n except ValueError: pass",
        "def inner(): assert a\n a()",
        "maybe(made)",
        "assert all(x for x in made)",
        "assert all(x for x in MADE if x)",
    ],
)
def test_assertions_that_may_never_run_are_found(body: str) -> None:
    assert not _test(body).asserts()


@pytest.mark.parametrize(
    "body",
    [
        "assert other\n for x in made: assert x",
        "assert made.title\n for x in made.parts: assert x",
        "assert other\n assert all(x for x in made)",
        "for x in made: assert x\n assert made",
    ],
)
def test_loop_over_what_no_assertion_before_it_names_is_found(body: str) -> None:
    assert _test(body).hollow_lines() != []


def test_no_comparison_stands_alone() -> None:
    bare = []
    for path, module in files().items():
        for node in ast.walk(module.tree):
            if not isinstance(node, ast.Expr):
                continue
            call = isinstance(node.value, ast.Call) and ast.unparse(node.value.func).endswith(
                ("allclose", "isclose", "array_equal")
            )
            if call or isinstance(node.value, ast.Compare):
                bare.append(f"{path.name}:{node.lineno}")
    assert bare == []


def test_no_negative_decimal_is_allowed() -> None:
    loose = [path.name for path in files() if "decimal=" + "-" in path.read_text()]
    assert loose == []
