"""choreo as a library: load, plan, verify, explain, stress, place. What `import choreo` offers comes from here.

Nothing here can skip the site: limits are always what its ground leaves, and a plan always has its room surveyed.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

from choreo.case import Answer, case_of, whole_answer, with_sights_of
from choreo.errors.asking import Asked, errors_of_plan
from choreo.ground import Ground, build_ground, ground_of
from choreo.placement import Options, Placement, place_on_ground
from choreo.plans import Plan
from choreo.plans.errors_record import ErrorsPlan
from choreo.repair import Change, Explanation, Margin, Repair
from choreo.repair import explain as explain_answer
from choreo.scenario import Scenario, load_site
from choreo.scenario import load as load_file
from choreo.verification import Verification
from choreo.verification import verify as simulate
from choreo.words import ChoreoError, Finding

__all__ = [
    "Answer",
    "Change",
    "ChoreoError",
    "ErrorsPlan",
    "Explanation",
    "Finding",
    "Margin",
    "Placement",
    "Plan",
    "Repair",
    "Scenario",
    "Verification",
    "explain",
    "load",
    "place",
    "plan",
    "stress",
    "verify",
]

Progress = Callable[[str], None]


def load(file: str | os.PathLike[str]) -> Scenario:
    """Read a scenario file with all the files that it names; numbers in SI, frames as in the file.

    Raises ChoreoError: every fault of the file at once (`error.findings`, each with code, text, advice, place).
    """
    return load_file(Path(file))


def plan(scenario: Scenario, *, progress: Progress | None = None) -> Answer:
    """Plan a scenario on its site, simulate the plan independently, and survey the room that it takes.

    progress: called with a word for each step. Returns the answer: `plan` (SI units in the names of its fields, times
    in s after go, places in the site frame in m), `plan.verdict` ('feasible', 'infeasible', 'undecided'), and `clear`:
    whether it may be run as far as choreo can see. Raises ChoreoError: faults that only geometry, the ground or the
    event graph show.
    """
    return whole_answer(scenario, progress=progress)


def verify(scenario: Scenario, plan: Plan) -> Verification:
    """Simulate a plan, a saved or changed one say, by means that share no equation with the solver.

    Returns what was found (`agrees`, `findings`, `measured`: value of each encounter in m or s). Raises ChoreoError:
    as `plan`.
    """
    case = with_sights_of(case_of(scenario), plan)
    return simulate(case.scenario, case.paths, plan)


def explain(answer: Answer) -> Explanation:
    """Explain an answer: `plan.budgets` prove what doesn't fit; repairs, or margins of a feasible one, in SI."""
    return explain_answer(answer)


def stress(
    answer: Answer,
    *,
    runs: int = 20_000,
    seed: int = 1,
    jobs: int = 1,
    quasi: bool = False,
    only_given: bool = False,
    progress: Progress | None = None,
) -> ErrorsPlan:
    """Run the plan of an answer many times with what may be off.

    The same seed gives the same runs, whatever `jobs` is: the number of processes. quasi: points of low discrepancy.
    only_given: what the file doesn't say is off is perfect. Returns, in SI, the chance of a valid run with its
    interval, each encounter's values, what decides them, and why runs fail. Raises ValueError: a plan that isn't
    feasible, no runs, no process.
    """
    if not answer.feasible:
        raise ValueError(f"the plan is {answer.plan.verdict}: there is nothing to run")
    asked = Asked(runs, seed, jobs, quasi, only_given)
    return errors_of_plan(answer.scenario, answer.paths, answer.plan, asked, progress=progress)


def place(
    scenario: Scenario,
    site: str | os.PathLike[str] | None = None,
    *,
    least_margin_m: float = 0.0,
    not_towards: tuple[str, ...] = (),
    not_bearing: tuple[str, ...] = (),
    progress: Progress | None = None,
) -> Placement:
    """Find the pose on a site at which all that a scenario sweeps fits with the most room.

    site: a site file; without one the scenario's own. least_margin_m: room in m that a place must have. not_towards,
    not_bearing: headings and bearings left out, as written ('235 deg +/- 30 deg'). Returns the placement: `verdict`
    ('found', 'none', 'undecided', 'no plan'), `best` with its pose in m and deg, alternatives. Raises ChoreoError:
    faults of the site, directions that can't be read, what planning raises; ValueError without any ground.
    """
    ground = _ground_of(scenario, site)
    options = Options(least_margin_m, tuple(not_towards), tuple(not_bearing))
    file = "" if site is None else str(site)
    return place_on_ground(
        scenario, ground, options, file=file, own=site is None, progress=progress
    )


def _ground_of(scenario: Scenario, site: str | os.PathLike[str] | None) -> Ground:
    if site is not None:
        return build_ground(load_site(Path(site)))
    ground = ground_of(scenario)
    if ground is None:
        raise ValueError("the scenario's own site draws no drivable area: give a site file")
    return ground
