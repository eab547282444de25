"""The whole verification: read the commands, run them as the scenario says, measure, judge."""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import lru_cache

import numpy as np

from choreo.geometry import Path
from choreo.plans.record import Plan
from choreo.scenario import Scenario
from choreo.verification.claims import check_claims
from choreo.verification.commands import check_commands, check_usable, own_motion
from choreo.verification.encounters import (
    check_encounters,
    check_order,
    check_unintended,
    spread_of,
)
from choreo.verification.execution import SPREAD_DELAYS, Run, execute, settings_of
from choreo.verification.integration import Motion
from choreo.verification.ledger import Ledger
from choreo.verification.limits import check_limits
from choreo.verification.moments import Moments, Scene
from choreo.verification.performing import Planned
from choreo.verification.programmes import check_programme
from choreo.verification.record import Verification
from choreo.verification.script import scripts_of
from choreo.verification.separation import Figure
from choreo.verification.triggers import check_triggers
from choreo.verification.windows import check_windows

# Phases that wait for a trigger are followed this long beyond the plan's own end.
PATIENCE_S = 30.0
# So many bodies on paths are kept.
SAME_FIGURES = 64


def verify(
    scenario: Scenario,
    paths: Mapping[str, Path],
    plan: Plan,
    programmed: Plan | None = None,
    *,
    whole: bool = True,
) -> Verification:
    """Simulate a plan from its commands and decide whether it does what the scenario asks.

    paths: by mover name, in the site frame. programmed: what movers that go in step refer to, where it is another plan.
    whole: what only warns is looked at too, told peaks and the spread by late detection; it decides nothing.
    Faults of the plan become findings, never exceptions; a plan with numbers that are none is not simulated at all.
    """
    ledger = Ledger(scenario)
    if not check_usable(ledger, plan):
        return _record(ledger, math.inf, None, {})
    own_motions = check_commands(ledger, paths, plan)
    scripts = scripts_of(scenario, plan.movers)
    planned = _planned(scenario, programmed or plan)
    settings = settings_of(scenario, plan)
    horizon_s = max((motion.end_s for motion in own_motions.values()), default=0.0) + PATIENCE_S
    nominal_run = execute(scenario, paths, scripts, settings, horizon_s=horizon_s, planned=planned)
    scene = Scene(scenario, paths, _figures(scenario, paths))
    moments = Moments(scene, nominal_run)
    for name, script in scripts.items():
        check_programme(ledger, script, plan.movers[name], moments)
        motion = nominal_run.motions[name]
        check_limits(ledger, scenario.movers[name], script, motion, paths[name])
        spec = scenario.paths.get(scenario.movers[name].path or "")
        if spec is not None:
            check_windows(ledger, script, motion, paths[name], spec)
    check_triggers(ledger, plan, scripts, nominal_run)
    worst = check_encounters(ledger, plan, moments)
    check_order(ledger, moments)
    check_unintended(ledger, moments)
    check_claims(ledger, plan, paths, own_motions, moments, peaks=whole)
    spread: dict[str, tuple[float, float]] = {}
    if scenario.triggers and whole:
        others = tuple(
            Moments(
                scene,
                execute(
                    scenario,
                    paths,
                    scripts,
                    settings,
                    horizon_s=horizon_s,
                    delay_periods=delay,
                    planned=planned,
                ),
            )
            for delay in SPREAD_DELAYS
        )
        spread = spread_of(ledger, moments, others)
    return _record(ledger, worst, moments, spread)


def _planned(scenario: Scenario, plan: Plan) -> dict[str, Planned]:
    if all(mover.in_step is None for mover in scenario.movers.values()):
        return {}
    scripts = scripts_of(scenario, plan.movers)
    return {name: Planned(one, own_motion(plan.movers[name])) for name, one in scripts.items()}


def _figures(scenario: Scenario, paths: Mapping[str, Path]) -> dict[str, Figure]:
    return {
        name: _figure(paths[name], mover.body.corners_m) for name, mover in scenario.movers.items()
    }


@lru_cache(maxsize=SAME_FIGURES)
def _figure(path: Path, corners_m: tuple[tuple[float, float], ...]) -> Figure:
    """A body on a path: variants of a scenario have the same ones."""
    return Figure(path, np.array(corners_m, dtype=np.float64))


def _record(
    ledger: Ledger,
    worst: float,
    moments: Moments | None,
    spread: dict[str, tuple[float, float]],
) -> Verification:
    run = moments.run if moments is not None else Run({}, {}, {}, {})
    found = {}
    for name in ledger.scenario.encounters if moments is not None else ():
        measured = moments.encounter(name) if moments is not None else None
        if measured is not None and math.isfinite(measured.value):
            found[name] = measured
    motions: Mapping[str, Motion] = run.motions
    return Verification(
        worst_encounter_error=worst,
        worst_limit_use=ledger.worst_limit_use,
        findings=tuple(ledger.findings),
        encounters=found,
        crossings_s=run.crossings_s,
        acts_s=run.acts_s,
        spread=spread,
        motions=motions,
    )
