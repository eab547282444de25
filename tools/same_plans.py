"""Every bundled scenario's answers written down, and two such sets compared.

    python tools/same_plans.py save before
    ... change the code ...
    python tools/same_plans.py save after
    python tools/same_plans.py compare before after

`save` writes what the commands print (`plan --json`, `why --json`, `show`, `show --sheet`, and once `place`, `export`
and `check --staged`) into a folder, one file each, with the exit code. `compare` says where two folders differ:
numbers of JSON documents by more than 1e-12 of their size (or of 1), anything else at all; keys that only the second
has are counted apart (a document may grow). Exit code 1 when they differ.
"""

from __future__ import annotations

import argparse
import json
import math
import re
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from click.testing import CliRunner

from choreo.commands.entry import group

ROOT = Path(__file__).parent.parent
# The documents repeat to the last bit on one machine; this leaves room for another order of a sum.
RELATIVE = 1e-12
# Stands for the file that a command is to write.
HERE = "{here}"


def runs() -> Iterator[tuple[str, list[str]]]:
    """Give a name and the words of each command to write down."""
    for folder in ("", "impossible"):
        for file in sorted((ROOT / "scenarios" / folder).glob("*.yaml")):
            name, path = file.stem, str(file.relative_to(ROOT))
            yield f"plan-{name}.json", ["plan", path, "--json"]
            yield f"plan-{name}.txt", ["plan", path, "--picture", "--width", "100"]
            yield f"why-{name}.json", ["why", path, "--json"]
            yield f"show-{name}.html", ["show", path, "-o", HERE]
            yield f"sheet-{name}.html", ["show", path, "--sheet", "-o", HERE]
            yield f"export-{name}.txt", ["export", path]
    for file in sorted((ROOT / "scenarios" / "faulty").glob("*.yaml")):
        yield f"check-{file.stem}.txt", ["check", str(file.relative_to(ROOT))]
    nearside = "scenarios/walker-nearside.yaml"
    measured = "scenarios/staged/walker-nearside.csv"
    yield "staged.json", ["check", nearside, "--staged", measured, "--json"]
    junction, pad = "scenarios/junction-crossing.yaml", "scenarios/sites/l-pad.yaml"
    yield "place.json", ["place", junction, "--site", pad, "--json"]
    yield "smallest.json", ["place", "scenarios/stationary-target.yaml", "--smallest", "--json"]
    yield "schema.json", ["schema"]


# Keys that only the second folder's documents have.
ADDED: set[str] = set()
# List places are left out where added keys are told.
WITHOUT_NAMES = re.compile(r"\[\d+\]")


def save(folder: Path, only: str) -> None:
    """Write every command's output and exit code into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, words in runs():
        if only not in name:
            continue
        target = str(folder / name)
        given = [target if word == HERE else word for word in words]
        result = CliRunner().invoke(group, given, env={"COLUMNS": "100"})
        if HERE not in words:
            (folder / name).write_text(result.stdout, encoding="utf-8")
        (folder / f"{name}.exit").write_text(f"{result.exit_code}\n", encoding="utf-8")
        print(f"{result.exit_code} {name}", file=sys.stderr)


def compare(before: Path, after: Path) -> int:
    """Print where two folders differ; returns how many files do."""
    names = {path.name for path in before.iterdir()} | {path.name for path in after.iterdir()}
    different = 0
    for name in sorted(names):
        left, right = before / name, after / name
        if not left.exists() or not right.exists():
            found = [f"only in {before if left.exists() else after}"]
        elif name.endswith(".json"):
            found = list(_apart(_read(left), _read(right), ""))
        else:
            found = _lines_apart(left.read_text(), right.read_text())
        if found:
            different += 1
            print(f"{name}: {len(found)} differences")
            for line in found[:5]:
                print(f"    {line}")
    if ADDED:
        print(f"added: {', '.join(sorted(ADDED))}")
    print(f"{different} of {len(names)} files differ")
    return different


def _read(file: Path) -> Any:
    text = file.read_text()
    return json.loads(text) if text else None


def _apart(left: Any, right: Any, place: str) -> Iterator[str]:
    if isinstance(left, dict) and isinstance(right, dict):
        if gone := [key for key in left if key not in right]:
            yield f"{place}: without {gone}"
        ADDED.update(f"{WITHOUT_NAMES.sub('.*', place)}.{key}" for key in right if key not in left)
        if [key for key in right if key in left] != [key for key in left if key in right]:
            yield f"{place}: keys in another order"
        for key in left.keys() & right.keys():
            yield from _apart(left[key], right[key], f"{place}.{key}")
    elif isinstance(left, list) and isinstance(right, list):
        if len(left) != len(right):
            yield f"{place}: {len(left)} against {len(right)} entries"
        for index, (one, other) in enumerate(zip(left, right, strict=False)):
            yield from _apart(one, other, f"{place}[{index}]")
    elif isinstance(left, float) and isinstance(right, (int, float)):
        if not math.isclose(left, right, rel_tol=RELATIVE, abs_tol=RELATIVE):
            yield f"{place}: {left!r} against {right!r}"
    elif left != right:
        yield f"{place}: {left!r} against {right!r}"


def _lines_apart(left: str, right: str) -> list[str]:
    before, after = left.splitlines(), right.splitlines()
    found = [
        f"line {number}: {one[:150]!r} against {other[:150]!r}"
        for number, (one, other) in enumerate(zip(before, after, strict=False), 1)
        if one != other
    ]
    if len(before) != len(after):
        found.append(f"{len(before)} against {len(after)} lines")
    return found


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    commands = parser.add_subparsers(dest="what", required=True)
    saving = commands.add_parser("save")
    saving.add_argument("folder", type=Path)
    saving.add_argument("--only", default="", help="only outputs whose name holds this")
    comparing = commands.add_parser("compare")
    comparing.add_argument("before", type=Path)
    comparing.add_argument("after", type=Path)
    given = parser.parse_args()
    if given.what == "save":
        save(given.folder, given.only)
    elif compare(given.before, given.after):
        sys.exit(1)
