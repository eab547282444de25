"""What `choreo stress --record` does: plan, run the plan a few times with errors, write what would be recorded."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import assert_never

import click
import numpy as np

from choreo.case import Answer, whole_answer
from choreo.commands.exits import code_of
from choreo.commands.progress import progress_on
from choreo.errors.asking import Asked
from choreo.errors.execution import Performed
from choreo.errors.outcomes import outcomes
from choreo.errors.recorded import clock_of, detected_of, tracks_of
from choreo.errors.rows import rows_of
from choreo.errors.sources import sources_of
from choreo.errors.stage import Stage, stage_of
from choreo.errors.traces import performed_runs
from choreo.export.files import Text, write_all
from choreo.ground.earth import Earth
from choreo.plans.document import to_text
from choreo.recordings.columns import MARK, Columns, columns_of
from choreo.recordings.formats import reader_of
from choreo.recordings.iso_mme import files_of
from choreo.recordings.recorder import Recorder
from choreo.recordings.writing import ENDINGS, Kind, csv_lines, description_of
from choreo.report.content import headline_of
from choreo.scenario import ErrorSource, load
from choreo.words import ChoreoError, Finding, Origin
from choreo.words.display import how_many
from choreo.words.records import dataclass

# Kinds of files that an optional package writes, with the extra that brings it.
EXTRAS: dict[Kind, str] = {"mdf4": "mdf", "parquet": "parquet"}
TRUTH, DESCRIPTION, PLAN = "truth.csv", "recording.yaml", "plan.json"


@dataclass(frozen=True, eq=False)
class _Runs:
    """Runs that were performed, to be recorded."""

    answer: Answer
    asked: Asked
    recorder: Recorder
    kind: Kind
    stage: Stage
    sources: tuple[ErrorSource, ...]
    earth: Earth | None

    def performed(self) -> Iterator[Performed]:
        """Chunks of runs."""
        asked = self.asked
        return performed_runs(self.stage, self.sources, asked.runs, asked.seed, quasi=asked.quasi)

    def truth(self) -> Iterator[str]:
        """What was drawn for each run, and what came of it."""
        yield f"# {MARK}, no measurement: what was drawn for each run and what came of it\n"
        chunks = ((one.draws, outcomes(self.stage, one)) for one in self.performed())
        yield from rows_of(self.stage, self.sources, chunks)

    def about(self, number: int) -> str:
        """What one run is, for its first line."""
        title = self.answer.plan.title
        return f"run {number} of {self.asked.runs}, seed {self.asked.seed}, of `{title}`"

    def columns(self, performed: Performed, run: int, number: int) -> Columns:
        """One run as a measuring system has it."""
        times = clock_of(self.stage, performed, run, self.recorder.rate_hz)
        random = np.random.default_rng((self.asked.seed, number))
        tracks = {
            name: self.recorder.measured(track, random)
            for name, track in tracks_of(self.stage, performed, run, times).items()
        }
        seen = detected_of(self.stage, performed, run)
        detected = {name: (times >= at).astype(float) for name, at in seen.items()}
        since = times - times[0]
        return columns_of(
            self.about(number), since, tracks, detected, self.recorder, self.earth, number
        )


def record(file: Path, folder: Path, asked: Asked, recorder: Recorder, kind: Kind) -> int:
    """Write simulated recordings of a scenario's runs into a folder; returns the exit code.

    Raises ChoreoError: faults of the file, a folder that can't be written to, places on earth without an anchor.
    """
    scenario = load(file)
    if kind in EXTRAS:
        reader_of(EXTRAS[kind], str(folder), kind)
    anchor = None if scenario.site is None else scenario.site.anchor
    if recorder.places == "earth" and anchor is None:
        place = scenario.origin("site")
        raise ChoreoError((Finding("recording.no-anchor", "error", place, {"what": "places"}),))
    with progress_on(quiet=False) as progress:
        answer = whole_answer(scenario, progress=progress)
    if not answer.feasible:
        click.echo(f"{headline_of(answer.plan)}  {answer.plan.title}")
        click.echo("There is no plan that could be run. `choreo why` says what doesn't fit.")
        return code_of(answer.plan.verdict, fails_checks=answer.plan.fails_checks)
    on_earth = Earth(anchor) if anchor is not None and recorder.places == "earth" else None
    stage = stage_of(answer.scenario, answer.paths, answer.plan)
    sources = sources_of(answer.scenario, only_given=asked.only_given)
    runs = _Runs(answer, asked, recorder, kind, stage, sources, on_earth)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        why = error.strerror or "no access"
        values = {"why": why, "instead": "Choose a folder that you may write to."}
        place = Origin(str(folder), 1, 1)
        raise ChoreoError((Finding("plan.not-written", "error", place, values),)) from None
    write_all(_files(runs, folder), scenario.source_files)
    click.echo(
        f"{how_many(asked.runs, 'simulated recording')} of `{answer.plan.title}` in {folder}: "
        f"no measurement. What was drawn is in {folder / TRUTH}."
    )
    click.echo(f"  choreo score {file} {folder / DESCRIPTION} --plan {folder / PLAN}")
    return code_of(answer.plan.verdict, fails_checks=answer.plan.fails_checks)


def _files(runs: _Runs, folder: Path) -> Iterator[tuple[Path, Text]]:
    title = runs.answer.plan.title
    about = f"{runs.asked.runs} runs, seed {runs.asked.seed}, of `{title}`"
    lines = description_of(
        about, runs.stage.actors, runs.stage.scenario.triggers, runs.recorder, runs.kind
    )
    yield folder / DESCRIPTION, "".join(lines)
    yield folder / PLAN, to_text(runs.answer.plan)
    yield folder / TRUTH, "".join(runs.truth())
    for performed in runs.performed():
        for run in range(performed.draws.runs):
            number = performed.draws.first + run + 1
            yield from _run_files(runs, folder, performed, run, number)


def _run_files(
    runs: _Runs, folder: Path, performed: Performed, run: int, number: int
) -> Iterator[tuple[Path, Text]]:
    """The files of one run."""
    columns, name = runs.columns(performed, run, number), f"simulated-{number:03d}"
    match runs.kind:
        case "csv":
            yield folder / f"{name}{ENDINGS['csv']}", csv_lines(columns)
        case "iso-mme":
            (folder / name / "Channel").mkdir(parents=True, exist_ok=True)
            for one, text in files_of(columns, name):
                yield folder / name / one, text
        case "mdf4" | "parquet":
            writer = reader_of(EXTRAS[runs.kind], str(folder), runs.kind)
            raw: bytes = writer.written(columns)
            yield folder / f"{name}{ENDINGS[runs.kind]}", raw
        case _ as never:
            assert_never(never)
