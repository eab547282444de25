"""Whether one of the files that a scenario is read from was saved, deleted or restored.

They are asked for, many times a second: what an editor does (rename, write in place, write twice) needs no care then,
network folders work, and a look at five files costs 20 microseconds.
"""

from __future__ import annotations

import hashlib
import os
import time
from collections.abc import Iterable
from pathlib import Path

# A file's time stands still for this long (s) on some disks: so long its content is compared too.
COARSE_S = 2.0
# A file that is not there, or empty, is believed to be so after so many looks: editors are about to write it.
GONE_LOOKS = 12
# Larger ones are compared by time and size alone, and not again and again while they are young.
LARGEST_BYTES = 1_000_000

Stat = tuple[int, int, int] | None


def digest_of(file: str | Path) -> str:
    """Give a hash of a file's bytes; empty where there is none."""
    try:
        return hashlib.sha256(Path(file).read_bytes()).hexdigest()
    except OSError:
        return ""


class Watch:
    """Looks at files again and again; says once that something changed, when it stands still again."""

    def __init__(self, files: Iterable[str]) -> None:
        self._seen: dict[str, tuple[Stat, str]] = {}
        self._told: dict[str, str] = {}
        self._gone: dict[str, int] = {}
        self._restless = False
        self.follow(files)

    @property
    def files(self) -> tuple[str, ...]:
        """What is looked at."""
        return tuple(self._seen)

    def follow(self, files: Iterable[str]) -> None:
        """Look at these files from now on; of those that are known already nothing is forgotten."""
        wanted = set(files)
        for one in [name for name in self._seen if name not in wanted]:
            del self._seen[one], self._told[one]
        for one in sorted(wanted - set(self._seen)):
            stat = _stat(one)
            self._seen[one] = (stat, _print_of(one, stat))
            self._told[one] = self._seen[one][1]

    def changed(self) -> bool:
        """Look once; true when a file has other bytes than were last told, and no file changed since the last look.

        So a file that is being written is waited for.
        """
        moved = [one for one in self._seen if self._look(one)]
        if moved:
            self._restless = True
            return False
        if not self._restless:
            return False
        self._restless = False
        now = {name: digest for name, (_, digest) in self._seen.items()}
        if now == self._told:
            return False
        self._told = now
        return True

    def _look(self, name: str) -> bool:
        """Whether a file has moved since the last look."""
        before, digest = self._seen[name]
        stat = _stat(name)
        empty = stat is None or stat[1] == 0
        if empty and before is not None and before[1] != 0:
            self._gone[name] = self._gone.get(name, 0) + 1
            if self._gone[name] < GONE_LOOKS:
                return False
        self._gone.pop(name, None)
        small = stat is not None and stat[1] <= LARGEST_BYTES
        young = small and stat is not None and abs(time.time() - stat[0] / 1e9) < COARSE_S
        if stat == before and not young:
            return False
        new = _print_of(name, stat)
        self._seen[name] = (stat, new)
        return new != digest


def _print_of(name: str, stat: Stat) -> str:
    """What tells one content of a file from another."""
    return str(stat) if stat is not None and stat[1] > LARGEST_BYTES else digest_of(name)


def _stat(name: str) -> Stat:
    try:
        about = os.stat(name)
    except OSError:
        return None
    return about.st_mtime_ns, about.st_size, about.st_ino
