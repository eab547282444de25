"""Fill the output blocks of the README and of the guide's pages with what the commands really print.

    python tools/documents.py            write all of them anew
    python tools/documents.py --check    exit 1 when a block is stale

A block is the indented text between a comment that says where it comes from and `<!-- end -->`:

    <!-- output: choreo plan a.yaml -->                              all that the command prints
    <!-- output: choreo plan a.yaml | only: FEASIBLE; runway -->     paragraphs that begin so, `...` for the others
    <!-- file: a.csv -->                                             a file for the commands below, written by hand

The README's commands run in the repository, a page's one after the other in a folder of its own, so that whoever
follows the page has the same.
"""

from __future__ import annotations

import os
import re
import shlex
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path
from textwrap import dedent, indent

from click.testing import CliRunner

from choreo.commands import screen
from choreo.commands.entry import group
from choreo.guide.pages import PAGES

ROOT = Path(__file__).resolve().parent.parent
README = ROOT / "README.md"
GUIDE = ROOT / "choreo" / "guide"
BLOCK = re.compile(r"<!-- (output|file): (.*?) -->\n(.*?)<!-- end -->", re.DOTALL)
LEFT_OUT = "..."
# A page is read on a terminal of 80 columns, where blocks are set in by 4.
PAGE_COLUMNS = 76


@dataclass(frozen=True)
class Document:
    """A file with blocks, the folder that its commands run in, and how wide they print."""

    file: Path
    folder: Path
    columns: int

    def filled(self) -> str:
        """Give the text with every block made anew."""
        text = self.file.read_text(encoding="utf-8")
        here, pipe = Path.cwd(), screen.WIDTH_IN_A_PIPE
        os.chdir(self.folder)
        screen.WIDTH_IN_A_PIPE = self.columns
        try:
            return BLOCK.sub(_block, text)
        finally:
            os.chdir(here)
            screen.WIDTH_IN_A_PIPE = pipe


def _block(match: re.Match[str]) -> str:
    kind, what, body = match.groups()
    if kind == "file":
        Path(what).write_text(dedent(body).strip("\n") + "\n", encoding="utf-8")
        return match[0]
    command, _, wanted = what.partition(" | only: ")
    output = output_of(command)
    if wanted:
        output = excerpt(output, wanted.split("; "))
    shown = indent(f"$ {command}\n{output}", "    ")
    return f"<!-- output: {what} -->\n\n{shown}\n\n<!-- end -->"


def output_of(command: str) -> str:
    """Give what a command prints, faults and all, and its exit code."""
    done = CliRunner().invoke(
        group, shlex.split(command)[1:], prog_name="choreo", catch_exceptions=False
    )
    lines = [line.rstrip() for line in done.output.rstrip().splitlines()]
    return "\n".join([*lines, "", f"(exit code {done.exit_code})"])


def excerpt(output: str, wanted: list[str]) -> str:
    """Give the paragraphs that begin with the wanted words, in their order, with a mark where others are left out.

    The last one, with the exit code, is always kept. Raises ValueError where no paragraph begins so.
    """
    paragraphs = output.split("\n\n")
    for words in wanted:
        if not any(one.startswith(words) for one in paragraphs):
            raise ValueError(f"no paragraph begins with {words!r} in:\n{output}")
    kept: list[str] = []
    for one in paragraphs:
        if one is paragraphs[-1] or any(one.startswith(words) for words in wanted):
            kept.append(one)
        elif kept[-1:] != [LEFT_OUT]:
            kept.append(LEFT_OUT)
    return "\n\n".join(kept)


def stale(*, write: bool) -> list[str]:
    """Give the names of the documents that a run changes; write: and change them."""
    found = []
    with tempfile.TemporaryDirectory() as scratch:
        documents = [Document(README, ROOT, screen.WIDTH_IN_A_PIPE)]
        for page in PAGES:
            folder = Path(scratch) / page
            folder.mkdir()
            documents.append(Document(GUIDE / f"{page}.md", folder, PAGE_COLUMNS))
        for document in documents:
            text = document.filled()
            if text != document.file.read_text(encoding="utf-8"):
                found.append(str(document.file.relative_to(ROOT)))
                if write:
                    document.file.write_text(text, encoding="utf-8")
    return found


def main() -> int:
    """Write or check."""
    check = "--check" in sys.argv[1:]
    found = stale(write=not check)
    for name in found if check else ():
        print(f"{name} is stale: run python tools/documents.py", file=sys.stderr)
    return int(check and bool(found))


if __name__ == "__main__":
    sys.exit(main())
