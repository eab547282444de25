"""Fill the README's output blocks with what the commands really print.

    python tools/documents.py            write README.md anew
    python tools/documents.py --check    exit 1 when a block is stale

A block begins with `<!-- output: choreo ... -->` and is the indented text up to `<!-- end -->`.
"""

from __future__ import annotations

import re
import shlex
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
README = ROOT / "README.md"
BLOCK = re.compile(r"(<!-- output: (choreo .*?) -->\n).*?(<!-- end -->)", re.DOTALL)


def output_of(command: str) -> str:
    """Give what a command prints, errors and all, with the command line before it."""
    arguments = shlex.split(command)[1:]
    done = subprocess.run(
        [sys.executable, "-m", "choreo", *arguments],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        check=False,
    )
    return f"$ {command}\n{done.stdout.rstrip()}\n\n(exit code {done.returncode})"


def filled(text: str) -> str:
    """Give the README with every block made anew."""

    def block(match: re.Match[str]) -> str:
        lines = output_of(match.group(2)).splitlines()
        shown = "\n".join(f"    {line}".rstrip() for line in lines)
        return f"{match.group(1)}\n{shown}\n\n{match.group(3)}"

    return BLOCK.sub(block, text)


def main() -> int:
    """Write or check."""
    text = README.read_text(encoding="utf-8")
    new = filled(text)
    if "--check" in sys.argv[1:]:
        if new != text:
            print("README.md is stale: run python tools/documents.py", file=sys.stderr)
        return int(new != text)
    README.write_text(new, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
