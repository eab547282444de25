"""What to set for the next run: the scenario planned anew from marks and latencies as runs had them, damped.

Of n runs the share n / (n + 1) of the correction is told: the plan counts as one run more. One run alone moves a
setting half of the way, ten nine tenths: noise of single runs is not chased.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from choreo.case import Case
from choreo.measured.as_staged import check_staged
from choreo.measured.file import Measurements
from choreo.plans.record import Plan
from choreo.scoring.score import RunScore
from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class NextSetting:
    """One quantity for the next run, in `unit`: as planned, wholly corrected, and what to set."""

    what: str
    planned: float
    corrected: float
    to_set: float
    unit: str


@dataclass(frozen=True, slots=True)
class NextRun:
    """What to set. runs: on which it rests; share: of the correction that is taken; verdict: of the corrected plan."""

    runs: int
    share: float
    verdict: str
    settings: tuple[NextSetting, ...]
    marks_moved: tuple[str, ...]
    measured: tuple[tuple[str, float, str], ...]


def next_run(case: Case, plan: Plan, scores: Sequence[RunScore]) -> NextRun:
    """Correct a plan by runs: medians of start marks and latencies stand in for what is planned."""
    stations = {
        name: min(max(value, 0.0), case.paths[name].length_m)
        for name, value in _medians(scores, "start along").items()
    }
    latencies = {name: max(value, 0.0) for name, value in _medians(scores, "latency").items()}
    found = check_staged(case, plan, Measurements(stations, {}, latencies), marks_may_move=True)
    share = len(scores) / (len(scores) + 1.0)
    # A mark is corrected from where it was planned, not from where it was put.
    marks = {f"start mark of {name}": one.start.station_m for name, one in plan.movers.items()}
    settings = []
    for one in found.corrections:
        planned = marks.get(one.what, one.planned)
        to_set = planned + share * (one.corrected - planned)
        settings.append(NextSetting(one.what, planned, one.corrected, to_set, one.unit))
    measured = [(f"start mark of {name}", value, "m") for name, value in stations.items()]
    measured += [(f"latency of {name}", value, "s") for name, value in latencies.items()]
    return NextRun(
        len(scores),
        share,
        found.corrected_verdict,
        tuple(settings),
        found.marks_moved,
        tuple(measured),
    )


def _medians(scores: Sequence[RunScore], aspect: str) -> dict[str, float]:
    values: dict[str, list[float]] = {}
    for score in scores:
        for one in score.off:
            if one.aspect == aspect:
                values.setdefault(one.owner, []).append(one.recorded)
    return {name: float(np.median(found)) for name, found in values.items()}
