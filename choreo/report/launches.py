"""Launches in words, and what drives that are late are told."""

from __future__ import annotations

from typing import assert_never

from choreo.plans.record import CommandPlan, MoverPlan, Plan
from choreo.report.sections import Section, Table
from choreo.words.display import kmh, plain, seconds

# What moves within this (s) of the launch is the launch.
AT_LAUNCH_S = 1e-6


def launch_words(mover: MoverPlan, by_trigger: str = "trigger {name} ({when})") -> str:
    """Say how a mover is launched; by_trigger: the words for a trigger, with its name and when."""
    if not mover.pieces:
        return "stands"
    rolling = f", rolling at {kmh(mover.start.speed_mps)}" if mover.start.speed_mps > 0 else ""
    match mover.launch_kind:
        case "go":
            words = f"at go{rolling}"
        case "time":
            words = f"{seconds(mover.launch_s)} after go{rolling}"
        case "trigger":
            words = by_trigger.format(name=mover.launched_by, when=seconds(mover.launch_s))
        case _:
            assert_never(mover.launch_kind)
    words += ", backwards" if mover.backwards else ""
    for command in mover.commands:
        if abs(command.moves_s - mover.launch_s) < AT_LAUNCH_S:
            words = _with_command(words, mover, command)
    return words


def _with_command(words: str, mover: MoverPlan, command: CommandPlan) -> str:
    """What isn't said yet: of a launch at go when it moves, of others when they are told to."""
    if mover.launch_kind == "go":
        return f"{words}, moves at {seconds(command.moves_s)}"
    return f"{words}, told at {seconds(command.time_s)}"


def commands_of(plan: Plan) -> list[Section]:
    """Give what drives that are late are told, and when."""
    rows = tuple(
        (name, one.phase, plain(one.time_s), plain(one.moves_s))
        for name, mover in plan.movers.items()
        for one in mover.commands
    )
    if not rows:
        return []
    header = ("mover", "command\nfor", "given, after go\ns", "moves\ns")
    return [Table("commands to drives that are late", header, rows, frozenset({2, 3}))]
