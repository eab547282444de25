"""Does a drive keep to the speeds that pieces of its path say?"""

from __future__ import annotations

import math

import numpy as np

from choreo.geometry import Path
from choreo.geometry.sections import Section, sections_of
from choreo.scenario import PathSpec
from choreo.verification.integration import Motion
from choreo.verification.ledger import Ledger
from choreo.verification.script import Script
from choreo.verification.tolerances import DRIFT, LATERAL_CLOCK_S, LIMIT_RATIO


def check_windows(
    ledger: Ledger, script: Script, motion: Motion, path: Path, spec: PathSpec
) -> None:
    """Look at the speed of every drive on a dense clock; a little inside of both ends of each piece."""
    drives = [phase for phase in script.phases if phase.phase.driven]
    if not drives or not motion.moves:
        return
    sections = [one for one in sections_of(spec, path) if _bounds(one)]
    start = motion.launch_s
    for phase in script.phases:
        end = start + sum(phase.durations_s)
        if phase.phase.driven and end > start:
            for section in sections:
                if not _kept(ledger, script.name, phase.index, motion, section, (start, end)):
                    return
        start = end


def _bounds(section: Section) -> bool:
    return section.least_mps > 0.0 or math.isfinite(section.most_mps)


def _kept(
    ledger: Ledger,
    mover: str,
    index: int,
    motion: Motion,
    section: Section,
    times_s: tuple[float, float],
) -> bool:
    count = max(2, math.ceil((times_s[1] - times_s[0]) / LATERAL_CLOCK_S))
    clock = np.linspace(*times_s, count)
    stations, speeds, _ = motion.at(clock)
    inside = (stations > section.start_m + DRIFT) & (stations < section.end_m - DRIFT)
    if not inside.any():
        return True
    slack = LIMIT_RATIO * speeds + DRIFT
    wrong = inside & ((speeds < section.least_mps - slack) | (speeds > section.most_mps + slack))
    if math.isfinite(section.most_mps):
        ledger.use(float(speeds[inside].max()) / section.most_mps)
    if not wrong.any():
        return True
    first = int(np.argmax(wrong))
    ledger.error(
        "window",
        "movers",
        mover,
        "programme",
        index,
        mover=mover,
        speed_mps=float(speeds[first]),
        least_mps=section.least_mps,
        most_mps=section.most_mps,
        station_m=float(stations[first]),
        time_s=float(clock[first]),
    )
    return False
