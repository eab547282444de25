"""The process that plans, seen from the server: one job at a time; broken off where something newer can't wait."""

from __future__ import annotations

import asyncio
import json
import sys
from collections.abc import Sequence
from contextlib import suppress
from typing import Any

from choreo.live.session import Session

# So long (s) a job may take to begin, and one that is broken off to end, before its process is ended.
GRACE_S = 2.0
# What a slider asks waits so long (s) for the one before, or until its motion is told; a save waits for nothing.
SLOW_S = 0.6
# So often (s) a job under way is looked after.
LOOKS_S = 0.1
LONGEST_LINE_BYTES = 64_000_000
# A value is being written into the file: that is never cut short.
WHOLE = "write"

Job = dict[str, Any]


def planning_of(file: str, asked: Sequence[str]) -> list[str]:
    """Give the command that plans a scenario file. asked: sliders by name."""
    # Without the folder one happens to be in among those of modules.
    return [sys.executable, "-P", "-m", "choreo.live.child", file, *asked]


class Worker:
    """Plans what a session wants in a process of its own, which is begun anew when it has died."""

    def __init__(self, command: Sequence[str]) -> None:
        """command: begins a process that plans, as planning_of gives it.

        page, policy: HTML of the page and what it may do, once has_page.
        """
        self.session: Session
        self._command = tuple(command)
        self._woken = asyncio.Event()
        self._process: asyncio.subprocess.Process | None = None
        self._reading: asyncio.Task[None] | None = None
        self._job: Job = {}
        self._number = 0
        self._begun, self._glimpsed, self._done = False, False, asyncio.Event()
        self.page, self.policy, self.has_page = "", "", asyncio.Event()

    def wake(self) -> None:
        """There may be something to plan."""
        self._woken.set()

    async def run(self) -> None:
        """Plan what is wanted, until cancelled; the process ends then."""
        try:
            while True:
                await self._woken.wait()
                self._woken.clear()
                while (job := self.session.wanted.take()) is not None:
                    await self._do(job)
        finally:
            await self._end()

    async def _do(self, job: Job) -> None:
        """Have one job done; broken off where something newer can't wait."""
        new = self._process is None
        if new and job["do"] != "saved":
            self.session.wanted.again(job)
            return
        process = self._process or await self._begin()
        self._job, self._number = job, self._number + 1
        self._begun = self._glimpsed = False
        self._done.clear()
        self.session.begun(job)
        now = asyncio.get_running_loop().time
        sent, broken_off = now(), 0.0
        await _send(process, {"number": self._number, **job})
        while not await self._ended():
            wanted = self.session.wanted
            told = self._glimpsed or now() - sent > SLOW_S
            newer = wanted.saved or (wanted.shown is not None and told)
            if newer and not broken_off and job["do"] != WHOLE:
                broken_off = now()
                await _send(process, {"do": "break off"})
            stuck = not new and not self._begun and now() - sent > GRACE_S
            if stuck or (broken_off and now() - broken_off > GRACE_S):
                await self._end()
                if not newer:
                    wanted.again(job)
                wanted.saved = True
                return

    async def _ended(self) -> bool:
        """Whether the job has ended, after a moment's wait or as soon as something is wanted."""
        done = asyncio.ensure_future(self._done.wait())
        woken = asyncio.ensure_future(self._woken.wait())
        _, rest = await asyncio.wait(
            {done, woken}, return_when=asyncio.FIRST_COMPLETED, timeout=LOOKS_S
        )
        for one in rest:
            one.cancel()
        if not self._done.is_set():
            self._woken.clear()
        return self._done.is_set()

    async def _read(self, process: asyncio.subprocess.Process) -> None:
        """Take answers in as they come; those to older jobs are of no use."""
        assert process.stdout is not None
        while line := await process.stdout.readline():
            told = json.loads(line)
            if "page" in told:
                self.page, self.policy = told["page"], told["policy"]
                self.has_page.set()
            if told.pop("number") != self._number:
                continue
            if "begun" in told:
                self._begun = True
                continue
            if "first" in told:
                self.session.glimpsed(told["first"])
                self._glimpsed = True
                self._woken.set()
                continue
            if "overtaken" not in told:
                self.session.answered(self._job, told)
            self._done.set()
        if process is self._process:
            self._process = None
            self.session.died()
            self._done.set()

    async def _begin(self) -> asyncio.subprocess.Process:
        # In a session of its own: Ctrl-C is for the server, which ends it.
        process = await asyncio.create_subprocess_exec(
            *self._command,
            stdin=asyncio.subprocess.PIPE,
            stdout=asyncio.subprocess.PIPE,
            limit=LONGEST_LINE_BYTES,
            start_new_session=True,
        )
        self._process = process
        self._reading = asyncio.create_task(self._read(process))
        return process

    async def _end(self) -> None:
        process, self._process = self._process, None
        if process is None:
            return
        with suppress(ProcessLookupError):
            process.kill()
        await process.wait()
        if self._reading is not None:
            await self._reading


async def _send(process: asyncio.subprocess.Process, job: Job) -> None:
    assert process.stdin is not None
    with suppress(BrokenPipeError, ConnectionResetError):
        process.stdin.write(json.dumps(job).encode() + b"\n")
        await process.stdin.drain()
