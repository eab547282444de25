"""Every run as a line of a CSV file: what was drawn, what came of it; units in the names of the columns."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

import numpy as np

from choreo.errors.draws import Draws
from choreo.errors.motions import NEVER_S
from choreo.errors.outcomes import VALID, Outcomes
from choreo.errors.stage import Stage
from choreo.scenario import ErrorSource
from choreo.words.kinds import ERRORS, MEASURES, Unit

SUFFIXES: dict[Unit, str] = {"m": "m", "s": "s", "m/s": "mps", "m/s2": "mps2", "m/s3": "mps3"}


def rows_of(
    stage: Stage, sources: tuple[ErrorSource, ...], chunks: Iterable[tuple[Draws, Outcomes]]
) -> Iterator[str]:
    """Give the header and then all runs, a chunk of lines at a time; numbers as drawn, in SI.

    What wanders has no number of its own in a run, and no column. An encounter that is missed has empty cells.
    """
    told = [index for index, one in enumerate(sources) if ERRORS[one.kind].over is None]
    columns = ["run", *(_column(sources[index]) for index in told), *_outcome_columns(stage)]
    yield ",".join(columns) + "\n"
    for draws, found in chunks:
        yield "".join(_lines(stage, draws, told, found))


def _column(source: ErrorSource) -> str:
    unit = ERRORS[source.kind].unit
    suffix = "ratio" if unit is None else SUFFIXES[unit]
    return f"{source.owner}_{source.kind}_{suffix}".replace(" ", "_")


def _outcome_columns(stage: Stage) -> Iterator[str]:
    for name in stage.scenario.encounters:
        unit = SUFFIXES[MEASURES[stage.plan.encounters[name].measure]]
        yield from (f"{name}_{unit}", f"{name}_time_s", f"{name}_closing_mps")
    yield from ("valid", "failed")


def _lines(stage: Stage, draws: Draws, told: list[int], found: Outcomes) -> Iterator[str]:
    columns = [draws.values[:, index] for index in told]
    for name in stage.scenario.encounters:
        met = found.encounters[name]
        time_s = np.where(met.time_s < NEVER_S, met.time_s, np.nan)
        columns += [met.value, time_s, met.closing_mps]
    conditions = stage.conditions
    for index, numbers in enumerate(zip(*(one.tolist() for one in columns), strict=True)):
        cells = ["" if math.isnan(number) else f"{number:.9g}" for number in numbers]
        code = int(found.failed[index])
        failed = "" if code == VALID else conditions[code]
        yield (
            ",".join([str(draws.first + index + 1), *cells, str(int(code == VALID)), failed]) + "\n"
        )
