"""A process that plans may be slow, deaf or dead: what is wanted then is planned all the same."""

from __future__ import annotations

import asyncio
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest

from choreo.live import worker as worker_module
from choreo.live.session import Session
from choreo.live.worker import Worker

# Answers as it is told by the lines of a file that it shortens: one for each job.
PLANS = """
import json, sys, time
from pathlib import Path
script = Path(sys.argv[1])
for line in sys.stdin:
    job = json.loads(line)
    if job["do"] == "break off":
        continue
    first, *rest = script.read_text().split()
    script.write_text(" ".join(rest))
    print(json.dumps({"number": job["number"], "begun": True}), flush=True)
    if first == "dies":
        sys.exit(1)
    if first == "hangs":
        continue
    if first == "glimpses":
        print(json.dumps({"number": job["number"], "first": {"of": job}}), flush=True)
        assert json.loads(sys.stdin.readline())["do"] == "break off"
        print(json.dumps({"number": job["number"], "overtaken": True}), flush=True)
        continue
    told = {"faults": [], "picture": {"of": job}, "verdict": first, "seconds": 0.0}
    print(json.dumps({"number": job["number"] - 1, **told, "verdict": "late"}), flush=True)
    print(json.dumps({"number": job["number"], **told}), flush=True)
"""


class Plan:
    """A session whose process answers as a test says, and what became of it."""

    def __init__(self, script: Path, answers: str) -> None:
        script.write_text(answers)
        self.script = script
        self.worker = Worker([sys.executable, "-c", PLANS, str(script)])
        self.session = Session("a.yaml", self.worker.wake, lambda _files: None, lambda _line: None)
        self.worker.session = self.session
        self.got: list[str] = []

    def send(self, text: str) -> None:
        self.got.append(text)
        asyncio.get_running_loop().call_soon(self.session.heard, self, {"do": "drawn"})

    async def until(self, words: str) -> str:
        """Wait until a page is told something; gives what it was told."""
        while words not in "".join(self.got):
            await asyncio.sleep(0.01)
        return self.got[-1]

    async def until_left(self, answers: str) -> None:
        while self.script.read_text() != answers:
            await asyncio.sleep(0.01)


def _run(plan: Plan, story: Any) -> None:
    async def whole() -> None:
        plan.session.joined(plan)
        running = asyncio.create_task(plan.worker.run())
        try:
            await asyncio.wait_for(story(), 20)
        finally:
            running.cancel()
            await asyncio.wait([running])

    # In a thread of its own: the browser of other tests has a loop in this one.
    with ThreadPoolExecutor(1) as pool:
        pool.submit(asyncio.run, whole()).result()


def test_a_save_ends_a_process_that_hears_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(worker_module, "GRACE_S", 0.05)
    plan = Plan(tmp_path / "answers", "hangs feasible")

    async def story() -> None:
        plan.session.saved()
        await plan.until_left("feasible")
        plan.session.saved()
        assert "late" not in await plan.until('"verdict": "feasible"')

    _run(plan, story)


def test_a_process_that_dies_is_told_and_begun_anew(tmp_path: Path) -> None:
    plan = Plan(tmp_path / "answers", "dies feasible infeasible")

    async def story() -> None:
        plan.session.saved()
        await plan.until("planning ended by a fault of this program")
        # The file comes first where a new process is asked for anything.
        plan.session.wanted.shown = {"walker speed": 5.1}
        plan.worker.wake()
        told = await plan.until('"verdict": "infeasible"')
        assert '"shown": {"walker speed": 5.1}' in told

    _run(plan, story)


def test_a_move_waits_for_the_motion_of_the_one_before_and_no_longer(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(worker_module, "SLOW_S", 60.0)
    plan = Plan(tmp_path / "answers", "feasible glimpses infeasible")

    async def story() -> None:
        plan.session.saved()
        await plan.until('"verdict": "feasible"')
        plan.session.wanted.shown = {"walker speed": 5.1}
        plan.worker.wake()
        plan.session.wanted.shown = {"walker speed": 5.2}
        assert '"shown": {"walker speed": 5.2}' in await plan.until('"first"')
        plan.session.wanted.shown = {"walker speed": 5.3}
        plan.worker.wake()
        told = await plan.until('"verdict": "infeasible"')
        assert '"shown": {"walker speed": 5.3}' in told

    _run(plan, story)
