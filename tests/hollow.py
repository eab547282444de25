"""Finds assertions that never run: inside loops and branches, over what may hold nothing.

A test is read, not run. An assertion is certain if it stands outside of any branch, or in a loop over what holds
at least one item: a literal, a name that is bound to nothing else, or such a thing counted, sorted, zipped.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import dataclass, field

# Calls that give an item if each of their arguments does; in `zip` with strict one is enough.
KEEPERS = ("enumerate", "sorted", "reversed", "zip", "product", "list", "tuple", "set", "array")
COUNTERS = ("linspace", "arange", "range")
DEEPEST = 5


def is_assertion(part: ast.AST) -> bool:
    """Say whether a node asserts: the statement, `raises`, `fail`, a helper called assert_..."""
    if isinstance(part, ast.Assert):
        return True
    if not isinstance(part, ast.Call):
        return False
    name = _called(part)
    return name.endswith(("raises", "fail")) or name.startswith(("assert", "_assert"))


def _called(call: ast.Call) -> str:
    return getattr(call.func, "attr", getattr(call.func, "id", ""))


@dataclass
class Module:
    """What the tests of a file see: its helpers, and what its names are bound to."""

    tree: ast.Module
    helpers: dict[str, ast.FunctionDef] = field(init=False)
    bound: dict[str, list[ast.expr]] = field(init=False)

    def __post_init__(self) -> None:
        functions = [node for node in ast.walk(self.tree) if isinstance(node, ast.FunctionDef)]
        self.tests = [one for one in functions if one.name.startswith("test_")]
        self.helpers = {one.name: one for one in functions if not one.name.startswith("test_")}
        self.bound = _bound(self.tree.body)


def _bound(nodes: list[ast.stmt]) -> dict[str, list[ast.expr]]:
    bound: dict[str, list[ast.expr]] = {}
    for node in nodes:
        if isinstance(node, ast.Assign | ast.AnnAssign) and node.value is not None:
            for target in node.targets if isinstance(node, ast.Assign) else [node.target]:
                if isinstance(target, ast.Name):
                    bound.setdefault(target.id, []).append(node.value)
    return bound


class Reader:
    """Reads one test function, or a helper that it calls."""

    def __init__(self, function: ast.FunctionDef, module: Module, depth: int = 0) -> None:
        self.function, self.module, self.depth = function, module, depth
        inside = [node for node in ast.walk(function) if isinstance(node, ast.stmt)]
        self.bound = module.bound | _bound(inside)

    def asserts(self) -> bool:
        """Say whether an assertion is certain to run."""
        return self._body(self.function.body)

    def hollow_lines(self) -> list[int]:
        """Give the lines of loops, and of `all`, over what may be empty and what no assertion before them names."""
        return list(self._hollow(self.function.body, set()))

    def _body(self, body: list[ast.stmt]) -> bool:
        for one in body:
            if self._statement(one):
                return True
            if isinstance(one, ast.If | ast.For | ast.While) and _leaves(one):
                return False
        return False

    def _statement(self, one: ast.stmt) -> bool:
        match one:
            case ast.Assert(test=test):
                return not all(
                    isinstance(part, ast.Call) and self._of_none(part) for part in _parts(test)
                )
            case ast.If(body=body, orelse=orelse):
                return self._body(body) and self._body(orelse)
            case ast.For(iter=over, body=body):
                return self.filled(over) and self._body(body)
            case ast.With(items=items, body=body):
                if any("suppress" in ast.unparse(item.context_expr) for item in items):
                    return False
                return any(self._runs(item.context_expr) for item in items) or self._body(body)
            case ast.Try(body=body, handlers=handlers, finalbody=last):
                tried = self._body(body) and all(self._body(one.body) for one in handlers)
                return tried or self._body(last)
            case ast.While() | ast.FunctionDef() | ast.ClassDef() | ast.Match():
                return False
        return self._runs(one)

    def _runs(self, one: ast.AST) -> bool:
        """Say whether it asserts, or calls a helper that is certain to."""
        for part in ast.walk(one):
            if is_assertion(part):
                return True
            if isinstance(part, ast.Call) and self.depth < DEEPEST:
                helper = self.module.helpers.get(_called(part))
                if helper is not None and Reader(helper, self.module, self.depth + 1).asserts():
                    return True
        return False

    def _of_none(self, call: ast.Call) -> bool:
        """`all(... for x in xs)` holds if there is no x."""
        over = call.args[0] if call.args else None
        made = isinstance(over, ast.GeneratorExp | ast.ListComp)
        return _called(call) == "all" and made and not self.filled(over)

    def _hollow(self, body: list[ast.stmt], named: set[str]) -> Iterator[int]:
        for one in body:
            if isinstance(one, ast.Assert):
                parts = _parts(one.test)
                vague = [
                    part for part in parts if isinstance(part, ast.Call) and self._of_none(part)
                ]
                named |= {name for part in parts if part not in vague for name in _chains(part)}
                if any(not self._looked_at(part.args[0], named) for part in vague):
                    yield one.lineno
            elif isinstance(one, ast.For) and self._may_skip(one, named):
                yield one.lineno
            for inner in ("body", "orelse", "finalbody"):
                yield from self._hollow(getattr(one, inner, []), named)

    def _may_skip(self, loop: ast.For, named: set[str]) -> bool:
        if not any(is_assertion(part) for part in ast.walk(loop)):
            return False
        return not (self.filled(loop.iter) or self._looked_at(loop.iter, named))

    def _looked_at(self, over: ast.expr, named: set[str]) -> bool:
        loops = over.generators if isinstance(over, ast.GeneratorExp | ast.ListComp) else None
        parts = (
            [over] if loops is None else [loop.iter for loop in loops if not self.filled(loop.iter)]
        )
        return all(not named.isdisjoint(_chains(part, whole=True)) for part in parts)

    def filled(self, over: ast.expr | None, depth: int = 0) -> bool:
        """Say whether an iterable is sure to give an item."""
        match over:
            case ast.List(elts=parts) | ast.Tuple(elts=parts) | ast.Set(elts=parts):
                return any(not isinstance(part, ast.Starred) for part in parts)
            case ast.Dict(keys=keys):
                return any(key is not None for key in keys)
            case ast.Constant(value=value):
                return isinstance(value, str) and bool(value)
            case ast.BinOp(left=left, op=ast.Add() | ast.BitOr(), right=right):
                return self.filled(left, depth) or self.filled(right, depth)
            case ast.GeneratorExp(generators=loops) | ast.ListComp(generators=loops):
                return all(not loop.ifs and self.filled(loop.iter, depth) for loop in loops)
            case ast.Name(id=name):
                values = self.bound.get(name, [])
                return (
                    depth < DEEPEST
                    and bool(values)
                    and all(self.filled(v, depth + 1) for v in values)
                )
            case ast.Subscript(value=value, slice=ast.Slice(lower=lower, upper=None)):
                first = 0 if lower is None else getattr(lower, "value", None)
                return isinstance(first, int) and 0 <= first < self._size(value)
            case ast.Call(func=ast.Attribute(value=value, attr="items" | "values" | "keys")):
                return self.filled(value, depth)
            case ast.Call(args=args, keywords=keywords):
                if _called(over) in COUNTERS:
                    return self._counts(_called(over), args)
                strict = any(
                    one.arg == "strict" and getattr(one.value, "value", False) for one in keywords
                )
                held = [self.filled(one, depth) for one in args]
                return (
                    _called(over) in KEEPERS and bool(held) and (any(held) if strict else all(held))
                )
        return False

    def _size(self, value: ast.expr) -> int:
        """How many items a literal has, or a name that is bound to one; 0 where that isn't known."""
        if isinstance(value, ast.Name):
            values = self.bound.get(value.id, [])
            value = values[0] if len(values) == 1 else value
        return len(getattr(value, "elts", ()))

    def _counts(self, name: str, args: list[ast.expr]) -> bool:
        """Say whether `range`, `arange` or `linspace` of plain numbers gives one."""
        if name == "linspace":
            return len(args) == 3 and getattr(args[2], "value", 0) > 0
        plain = [self.bound.get(getattr(one, "id", ""), [one])[0] for one in args]
        try:
            numbers = [ast.literal_eval(one) for one in plain]
        except ValueError:
            return False
        begin, end, step = (0, numbers[0], 1) if len(numbers) == 1 else (*numbers, 1)[:3]
        return bool((end - begin) * step > 0)


def _parts(test: ast.expr) -> list[ast.expr]:
    """What an assertion demands, joined by `and`."""
    return test.values if isinstance(test, ast.BoolOp) and isinstance(test.op, ast.And) else [test]


def _chains(node: ast.expr, whole: bool = False) -> set[str]:
    """Names with their attributes, `plan.movers`; whole: the longest ones alone, without what is called."""
    parts = [part for part in ast.walk(node) if isinstance(part, ast.Name | ast.Attribute)]
    if not whole:
        return {ast.unparse(part) for part in parts}
    called = [part.func for part in ast.walk(node) if isinstance(part, ast.Call)]
    inner = [part.value for part in parts if isinstance(part, ast.Attribute) and part not in called]
    return {ast.unparse(part) for part in parts if part not in inner and part not in called}


def _leaves(one: ast.stmt) -> bool:
    """Say whether some branch ends the test before what follows."""
    return any(isinstance(part, ast.Return) for part in ast.walk(one))
