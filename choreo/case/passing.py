"""What to warn of where two pass: the later one slows down or speeds up before it enters the zone."""

from __future__ import annotations

from collections.abc import Iterator

from choreo.problem.records import PassAt
from choreo.scenario import Scenario
from choreo.solve import Solved
from choreo.words import Finding
from choreo.words.display import kmh

# Speeds that differ by less than this (m/s) are held.
SAME_SPEED_MPS = 0.05


def pass_findings(scenario: Scenario, staged: Solved) -> Iterator[Finding]:
    """Warn where the later mover of a pass is no longer at its speed when it enters the zone."""
    for encounter in staged.staging.problem.encounters:
        if (
            not isinstance(encounter, PassAt)
            or encounter.name not in staged.solution.reading.moments
        ):
            continue
        motion = staged.solution.reading.movers[encounter.second]
        entered = motion.when(encounter.entry_second_m)
        if entered is None or not motion.phases:
            continue
        leaves = staged.solution.reading.moments[encounter.name].time_s
        before, then = motion.at(min(leaves, entered))[1], motion.at(entered)[1]
        if abs(before - then) > SAME_SPEED_MPS:
            values = {
                "encounter": encounter.name,
                "mover": encounter.second,
                "before": kmh(before, 1),
                "then": kmh(then, 1),
            }
            origin = scenario.origin("encounters", encounter.name)
            yield Finding("plan.pass-slows", "warning", origin, values, ())
