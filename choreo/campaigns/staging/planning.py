"""Members planned anew from given marks, here or in several processes."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from multiprocessing import get_context

from choreo.campaigns.processes import end_with_parent
from choreo.campaigns.staging.member import Member
from choreo.plans import Plan
from choreo.words import ChoreoError

Starts = Mapping[str, float]
Task = tuple[Member, Starts]
# Gives the plan of each task, in order, with the room that it takes; None where there is none.
Planning = Callable[[Sequence[Task]], Iterator[Plan | None]]

# Fewer tasks than this are not worth a process.
FEW = 4


def planned(member: Member, at: Starts) -> Plan | None:
    """Give a member's plan from given start stations (m), with the room that it takes; None where there is none."""
    try:
        if member.far_from(at) == 0.0:
            return member.planned_at({}).plan
        if not member.may_run_from(at):
            return None
        return member.planned_at(at).plan
    except ChoreoError:  # with that start something in the file makes no sense
        return None


def here(tasks: Sequence[Task]) -> Iterator[Plan | None]:
    """Plan one after the other."""
    return (planned(member, at) for member, at in tasks)


def in_processes(jobs: int) -> Planning:
    """Plan in so many processes, where they can begin as copies of this one; the same plans in any number."""

    def planning(tasks: Sequence[Task]) -> Iterator[Plan | None]:
        if jobs <= 1 or len(tasks) < FEW or sys.platform != "linux":
            yield from here(tasks)
            return
        done = 0
        try:
            with ProcessPoolExecutor(jobs, get_context("fork"), _begin, (tasks,)) as pool:
                for plan in pool.map(_number, range(len(tasks))):
                    yield plan
                    done += 1
        except BrokenProcessPool:
            yield from here(tasks[done:])

    return planning


_TASKS: list[Task] = []


def _begin(tasks: Sequence[Task]) -> None:
    end_with_parent()
    _TASKS[:] = tasks


def _number(number: int) -> Plan | None:
    return planned(*_TASKS[number])
