"""Launches in words, and what drives that are late are told."""

from __future__ import annotations

from typing import assert_never

from choreo.plans.record import CommandPlan, MoverPlan, Plan
from choreo.report.sections import Section, Table
from choreo.words.display import kmh, metres, plain, seconds

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
    if mover.in_step is not None and mover.in_step.launched_at_m is not None:
        where = metres(mover.in_step.launched_at_m)
        words = f"with {mover.in_step.lead} at station {where}: by plan {words}"
    words += ", backwards" if mover.backwards_at(mover.start.station_m) else ""
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


def in_step_of(plan: Plan) -> list[Section]:
    """Give who goes by another one's progress, from when to when by plan, and how."""
    rows = []
    for name, mover in plan.movers.items():
        one = mover.in_step
        if one is not None:
            frozen = "-" if one.frozen_s is None else plain(one.frozen_s)
            spans = (plain(one.begins_s), plain(one.ends_s), frozen)
            how = (plain(100 * one.correction_ratio, 1), plain(one.link_s), f"{one.sampling_hz:g}")
            rows.append((name, one.lead, *spans, *how))
    if not rows:
        return []
    header = (
        "mover", "in step\nwith", "from,\nafter go s", "to\ns", "frozen\nfrom s",
        "correction\n+/- %", "link\ns", "sampling\nHz",
    )  # fmt: skip
    title = "in step: driven by another one's progress instead of by the clock"
    return [Table(title, header, tuple(rows), frozenset(range(2, 8)), key="in step")]


def in_step_words(mover: MoverPlan) -> str:
    """Say it of one mover in a sentence; nothing of one that goes by the clock."""
    one = mover.in_step
    if one is None:
        return ""
    frozen = "" if one.frozen_s is None else f", frozen from {seconds(one.frozen_s)}"
    return (
        f" In step with {one.lead} from {seconds(one.begins_s)} to {seconds(one.ends_s)}{frozen}: corrected by up to "
        f"{plain(100 * one.correction_ratio, 1)} % of its speed."
    )
