"""The process that plans: jobs come in as lines of JSON, answers go out as lines, until no more come in."""

from __future__ import annotations

import contextlib
import json
import os
import queue
import sys
from functools import partial
from pathlib import Path
from threading import Thread
from typing import Any, BinaryIO, TextIO

from choreo.live.html import live_page, live_policy
from choreo.live.planning import Overtaken, Planner, Told

STANDARD_OUTPUT, STANDARD_ERROR = 1, 2


def work(file: Path, asked: list[str], jobs: BinaryIO, answers: TextIO) -> None:
    """Plan a file as it is asked.

    A job: `do` (saved, what-if, write, or break off: nothing but an end to what is under way), `shown`, and a number
    that its answers have too: begun, then what became of it, then perhaps more. Before all, the page of the file, and
    what it may do: this process knows pages.
    """
    waiting: queue.Queue[dict[str, Any]] = queue.Queue()
    Thread(target=_read, args=(jobs, waiting), daemon=True).start()
    number = 0
    planner = Planner(
        file, asked, lambda: not waiting.empty(), lambda told: _tell(answers, number, told)
    )
    _tell(answers, 0, {"page": live_page(file.name), "policy": live_policy()})
    while True:
        job = waiting.get()
        if job["do"] == "break off":
            continue
        number = job["number"]
        tell = partial(_tell, answers, number)
        tell({"begun": True})
        try:
            told = _done(planner, job)
        except Overtaken:
            tell({"overtaken": True})
            continue
        tell(told)
        with contextlib.suppress(Overtaken):
            helped = planner.helped()
            if helped is not None:
                tell({**helped, "more": True})


def _done(planner: Planner, job: dict[str, Any]) -> Told:
    if job["do"] == "saved":
        return planner.saved()
    if job["do"] == "write":
        return planner.write(job["shown"])
    return planner.what_if(job["shown"])


def _tell(answers: TextIO, number: int, told: Told) -> None:
    answers.write(json.dumps({"number": number, **told}, allow_nan=False) + "\n")
    answers.flush()


def _read(jobs: BinaryIO, waiting: queue.Queue[dict[str, Any]]) -> None:
    """Jobs as they come; when nobody can send any more, this process has no business left."""
    for line in jobs:
        waiting.put(json.loads(line))
    os._exit(0)


def main() -> None:
    """Work on the file and with the sliders that the command line names."""
    answers = os.fdopen(os.dup(STANDARD_OUTPUT), "w", encoding="utf-8")
    # What libraries print must not stand among the answers.
    os.dup2(STANDARD_ERROR, STANDARD_OUTPUT)
    work(Path(sys.argv[1]), sys.argv[2:], sys.stdin.buffer, answers)


if __name__ == "__main__":
    main()
