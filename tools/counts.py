"""How often solvers and paths are built for one answer: what is built twice is time lost.

python tools/counts.py            a table over the bundled scenarios
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from unittest import mock

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from choreo.case import whole_answer  # noqa: E402
from choreo.geometry import build  # noqa: E402
from choreo.repair import explain  # noqa: E402
from choreo.scenario import load  # noqa: E402
from choreo.solve import cache  # noqa: E402


@contextmanager
def counted() -> Iterator[Counter[str]]:
    """Count what is built inside: 'solvers', and 'path NAME' for each path built from its specification."""
    found: Counter[str] = Counter()
    solver, made = cache.Solver, build._Building._made

    def built(*arguments: object, **more: object) -> object:
        found["solvers"] += 1
        return solver(*arguments, **more)

    def drawn(self: object, name: str, spec: object) -> object:
        found[f"path {name}"] += 1
        return made(self, name, spec)

    with (
        mock.patch.object(cache, "Solver", built),
        mock.patch.object(build._Building, "_made", drawn),
    ):
        yield found


def count_plan(file: Path) -> Counter[str]:
    """Count for `choreo plan`."""
    return _count(lambda: whole_answer(load(file)))


def count_why(file: Path) -> Counter[str]:
    """Count for `choreo why`."""
    return _count(lambda: explain(whole_answer(load(file))))


def _count(action: Callable[[], object]) -> Counter[str]:
    with counted() as found:
        action()
    return found


def bundled() -> list[Path]:
    """Give all bundled scenarios that are good, impossible ones included."""
    folders = (ROOT / "scenarios", ROOT / "scenarios" / "impossible")
    return [file for folder in folders for file in sorted(folder.glob("*.yaml"))]


def main() -> None:
    """Print the table."""
    print("| scenario | solvers: plan, why | most builds of one path: plan, why |\n|---|---|---|")
    for file in bundled():
        counts = [count(file) for count in (count_plan, count_why)]
        solvers = ", ".join(str(one["solvers"]) for one in counts)
        paths = ", ".join(
            str(max((n for what, n in one.items() if what != "solvers"), default=0))
            for one in counts
        )
        print(f"| {file.stem} | {solvers} | {paths} |")


if __name__ == "__main__":
    main()
