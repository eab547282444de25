"""What is asked of a plan: so many runs with what is off, told in one record."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace

from choreo.errors.allocation import allowed
from choreo.errors.authority import authorities_of
from choreo.errors.clouds import clouds_of
from choreo.errors.monte_carlo import told_of
from choreo.errors.releases import Drawing, releases_of
from choreo.errors.rows import rows_of
from choreo.errors.sources import sources_of
from choreo.errors.stage import stage_of
from choreo.errors.statistics import tries_enough
from choreo.geometry import Path
from choreo.plans.allowed_record import AllowedPlan
from choreo.plans.authority_record import Authority
from choreo.plans.errors_record import Cloud, ErrorsPlan, Tries
from choreo.plans.record import Plan
from choreo.plans.releases_record import Releases
from choreo.scenario import Scenario
from choreo.words.records import dataclass

# How many valid runs a test usually wants.
VALID_RUNS = (1, 3, 10)
# Runs that are gone through again and again to see what may be allowed.
ALLOWING_RUNS, ALLOWING_RUNS_IN_STEP = 2000, 500


@dataclass(frozen=True, slots=True)
class Asked:
    """How many runs, drawn how, and whether usual errors stand in for those that nobody wrote."""

    runs: int = 20_000
    seed: int = 1
    jobs: int = 1
    quasi: bool = False
    only_given: bool = False


def errors_of_plan(
    scenario: Scenario,
    paths: Mapping[str, Path],
    plan: Plan,
    asked: Asked,
    *,
    progress: Callable[[str], None] | None = None,
    write: Callable[[Iterator[str]], None] | None = None,
) -> ErrorsPlan:
    """Run a feasible plan as often as asked. scenario: as its ground lets it be driven; paths: by mover.

    write: takes the same runs as lines of a CSV file, after a header, to the last.
    """
    stage = stage_of(scenario, paths, plan)
    sources = sources_of(scenario, only_given=asked.only_given)
    told = told_of(
        stage,
        sources,
        asked.runs,
        asked.seed,
        quasi=asked.quasi,
        jobs=asked.jobs,
        progress=progress,
        consume=None if write is None else lambda chunks: write(rows_of(stage, sources, chunks)),
    )
    return replace(told, tries=tries_of(told))


def tries_of(told: ErrorsPlan) -> tuple[Tries, ...]:
    """Give how many tries it takes to get some valid runs, by the chance that was counted."""
    ratio = told.chance.ratio
    return tuple(
        Tries(valid, valid / ratio if ratio else None, tries_enough(ratio, valid))
        for valid in VALID_RUNS
    )


def clouds_of_plan(
    scenario: Scenario, paths: Mapping[str, Path], plan: Plan, asked: Asked
) -> tuple[Cloud, ...]:
    """Give where movers are at the encounters in the first of the same runs."""
    sources = sources_of(scenario, only_given=asked.only_given)
    return clouds_of(stage_of(scenario, paths, plan), sources, asked.seed)


def releases_of_plan(
    scenario: Scenario,
    paths: Mapping[str, Path],
    plan: Plan,
    asked: Asked,
    *,
    progress: Callable[[str], None] | None = None,
) -> tuple[Releases, ...]:
    """Compare other ways of releasing each mover that something releases, on the same runs."""
    drawing = Drawing(asked.runs, asked.seed, quasi=asked.quasi, jobs=asked.jobs)
    return releases_of(
        scenario, paths, plan, drawing, only_given=asked.only_given, progress=progress
    )


def authorities_of_plan(
    scenario: Scenario, paths: Mapping[str, Path], plan: Plan
) -> tuple[Authority, ...]:
    """Give what every mover that goes in step can still make good, over time."""
    return authorities_of(stage_of(scenario, paths, plan))


def allowed_of_plan(
    scenario: Scenario,
    paths: Mapping[str, Path],
    plan: Plan,
    asked: Asked,
    wanted_ratio: float,
    *,
    progress: Callable[[str], None] | None = None,
    each: bool = True,
) -> AllowedPlan:
    """Say how large each error may be for a chance of a valid run, wanted_ratio; each: else only all at once."""
    sources = sources_of(scenario, only_given=asked.only_given)
    stage = stage_of(scenario, paths, plan)
    in_step = any(one.stepping is not None for one in stage.actors.values())
    runs = min(asked.runs, ALLOWING_RUNS_IN_STEP if in_step else ALLOWING_RUNS)
    return allowed(stage, sources, wanted_ratio, runs, asked.seed, progress, each=each)
