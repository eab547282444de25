"""Does the plan tell every command to a late drive, early enough and not before go?"""

from __future__ import annotations

import math
from collections.abc import Iterator

from choreo.plans.record import MoverPlan
from choreo.verification.execution import Run
from choreo.verification.ledger import Ledger
from choreo.verification.script import Script
from choreo.verification.tolerances import DRIFT, TIME_S


def check_commands(ledger: Ledger, script: Script, planned: MoverPlan, run: Run) -> None:
    """Compare the commands that a plan tells with the motions of the nominal run."""
    name = script.name
    found = {one.phase: (one.time_s, one.moves_s) for one in planned.commands}
    wanted = dict(_commands(script, run))
    for phase in {**wanted, **found}:
        told_s, moves_s = found.get(phase, (math.nan, math.nan))
        command_s, motion_s = wanted.get(phase, (math.nan, math.nan))
        right = abs(told_s - command_s) <= TIME_S and abs(moves_s - motion_s) <= TIME_S
        if not right or command_s < -TIME_S:
            ledger.error(
                "command",
                "movers",
                name,
                "programme",
                mover=name,
                phase=phase,
                planned_s=told_s,
                found_s=command_s,
            )


def _commands(script: Script, run: Run) -> Iterator[tuple[str, tuple[float, float]]]:
    """Commands and motions in s after go, by phase: of all that begin to move from rest, or to brake."""
    motion, spans = run.motions[script.name], run.spans[script.name]
    for phase in script.phases:
        moves_s = spans[phase.index].start_s if phase.index in spans else math.inf
        if not phase.durations_s or phase.phase.kind not in ("ramp", "stop"):
            continue
        from_rest = abs(motion.state(moves_s)[1]) <= DRIFT
        late_s = script.brake_late_s if phase.brakes else 0.0
        if from_rest and not phase.brakes:
            late_s = script.launch_late_s
        if late_s > 0.0:
            yield phase.phase.name, (moves_s - late_s, moves_s)
