"""What `choreo score` does: plan, read one run after the other, judge it, tell."""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Iterator
from dataclasses import field
from pathlib import Path

import click

from choreo.case import Case, answer, case_of
from choreo.commands.exits import BAD_INPUT, NO, UNDECIDED, WELL
from choreo.commands.faults import fault, report_findings
from choreo.commands.screen import screen
from choreo.errors.asking import Asked, errors_of_plan
from choreo.errors.stage import Stage, stage_of
from choreo.export.files import check_target, is_standard_output, load_plan, write_whole
from choreo.page.run import run_page_of
from choreo.plans.document import plain_data
from choreo.plans.fingerprint import fingerprint_of
from choreo.plans.record import Plan
from choreo.recordings.description import Description, load_description
from choreo.recordings.reading import read_run
from choreo.report import print_content
from choreo.report.content import headline_of
from choreo.rules.applied import Rules, rules_of
from choreo.rules.records import CampaignRule
from choreo.scenario import Scenario, load
from choreo.scoring.correcting import NextRun, next_run
from choreo.scoring.rows import table_lines
from choreo.scoring.run import RecordedRun
from choreo.scoring.score import Options, RunScore, score
from choreo.scoring.series import SeriesTold, series_of
from choreo.scoring.showing import seen_run
from choreo.scoring.telling import run_content, series_content
from choreo.words import ChoreoError, Finding, Origin
from choreo.words.nearest import nearest_word
from choreo.words.quantities import quoted
from choreo.words.records import dataclass

SCORES_FORMAT = "choreo scores 1"
# So many runs tell what stress foresees.
FORESEEN_RUNS = 4000


@dataclass(frozen=True, slots=True)
class Wanted:
    """What of it is wanted; runs: only these files."""

    runs: tuple[Path, ...] = ()
    plan_file: Path | None = None
    options: Options = field(default_factory=Options)
    wants_next: bool = False
    foreseen: bool = False
    as_json: bool = False
    table: Path | None = None
    page: Path | None = None
    width: int | None = None

    @property
    def prints_table(self) -> bool:
        """Whether the rows take the place of the answer on standard output."""
        return self.table is not None and is_standard_output(self.table)


@dataclass(frozen=True, eq=False)
class Driven:
    """A scenario with the plan that was driven, set up to be compared with runs."""

    scenario: Scenario
    case: Case
    plan: Plan
    stage: Stage
    rules: Rules | None = None


def driven_plan(file: Path, plan_file: Path | None) -> Driven:
    """Load a scenario and the plan that was driven: the saved one, or solved anew.

    Raises ChoreoError: faults of either; plan.other-scenario; recording.no-plan where there is none.
    """
    scenario = load(file)
    case = case_of(scenario)
    if plan_file is None:
        plan = answer(case).plan
    else:
        plan = load_plan(plan_file)
        now = fingerprint_of(case.scenario.meaning())
        if plan.fingerprint != now:
            values = {
                "why": f"the plan is of another scenario (`{quoted(plan.title)}`), or this one was changed since",
                "instead": "Name the scenario as it was driven, or leave `--plan` out.",
            }
            place = Origin(str(plan_file), 1, 1)
            raise ChoreoError([Finding("recording.unfit", "error", place, values)])
    if plan.verdict != "feasible":
        values = {"headline": headline_of(plan)}
        raise ChoreoError([Finding("recording.no-plan", "error", Origin(str(file), 1, 1), values)])
    stage = stage_of(case.scenario, case.paths, plan)
    return Driven(scenario, case, plan, stage, rules_of(case.scenario))


def scored_runs(
    driven: Driven,
    description: Description,
    only: tuple[Path, ...],
    options: Options | None = None,
    faults: list[Finding] | None = None,
) -> Iterator[tuple[RunScore, RecordedRun]]:
    """Give one run after the other; only: of these files, all where there are none named.

    faults: takes those of files that can't be read, as long as others can. Raises ChoreoError: no run can be read,
    or one can't that nobody takes the faults of.
    """
    site = driven.scenario.site
    place = description.origin("movers")
    read = 0
    for files in chosen(description, only):
        try:
            recording = read_run(description, files, None if site is None else site.anchor)
        except ChoreoError as error:
            if faults is None or not _of_a_file(error, description):
                raise
            faults += error.findings
            continue
        try:
            told = score(driven.stage, recording, place, driven.rules, options)
        except ChoreoError as error:
            unfit = [_in_file(one, next(iter(files.values()))) for one in error.findings]
            if faults is None or not _of_a_file(ChoreoError(unfit), description):
                raise ChoreoError(unfit) from None
            faults += unfit
            continue
        read += 1
        yield told
    if faults and not read:
        raise ChoreoError(faults)


def _in_file(finding: Finding, run: Path) -> Finding:
    """Where go can't be told it is the run that lacks it, not the description."""
    if finding.code != "recording.no-launch":
        return finding
    return dataclasses.replace(finding, origin=Origin(str(run), 1, 1))


def _of_a_file(error: ChoreoError, description: Description) -> bool:
    """Whether a fault is of a recorded file, not of the description, which all runs share."""
    return all(
        one.origin is not None and one.origin.file != str(description.path)
        for one in error.findings
    )


def chosen(description: Description, only: tuple[Path, ...]) -> list[dict[str | None, Path]]:
    """Give the runs that are asked for. Raises ChoreoError: one is none of the recording's."""
    runs = description.runs()
    if not only:
        return runs
    wanted = {one.resolve() for one in only}
    known = {path.resolve() for run in runs for path in run.values()}
    strange = [one for one in only if one.resolve() not in known]
    if strange:
        values = {
            "why": f"{quoted(str(strange[0]))} is no file of this recording",
            "instead": f"Its runs are {quoted(str(next(iter(runs[0].values()))))} and its like.",
        }
        place = description.origin("files")
        raise ChoreoError([Finding("recording.unfit", "error", place, values)])
    return [run for run in runs if wanted & {path.resolve() for path in run.values()}]


def score_runs(file: Path, recording: Path, wanted: Wanted) -> int:
    """Score runs and print what came of them; returns the exit code. Raises ChoreoError: faults of any file."""
    description = load_description(recording)
    driven = driven_plan(file, wanted.plan_file)
    inputs = (*driven.scenario.source_files, str(recording))
    for target in (wanted.table, wanted.page):
        if target is not None:
            check_target(target, inputs)
    if wanted.page is not None:
        _refuse_many(description, wanted)
    _refuse_unknown(driven, wanted)
    faults: list[Finding] = []
    found = scored_runs(driven, description, wanted.runs, wanted.options, faults)
    scores = []
    shown: tuple[RunScore, RecordedRun] | None = None
    for told, run in found:
        scores.append(told)
        shown = None if wanted.page is None else (told, run)
    after = next_run(driven.case, driven.plan, scores) if wanted.wants_next else None
    units = {name: one.unit for name, one in driven.plan.encounters.items()}
    foreseen = _foreseen(driven) if wanted.foreseen else None
    series = series_of(scores, {**units}, foreseen, _extra(driven))
    if wanted.table is not None:
        write_whole(wanted.table, table_lines(scores), inputs)
    if shown is not None and wanted.page is not None:
        write_whole(wanted.page, _page(driven, *shown, after), inputs)
    if not wanted.prints_table:
        _print(driven, scores, series, after, faults, wanted)
    if wanted.table is not None and not wanted.prints_table:
        click.echo(f"rows saved to {wanted.table}", err=True)
    if wanted.page is not None:
        click.echo(f"page saved to {wanted.page}", err=True)
    if faults:
        one = "1 run is" if len(scores) == 1 else f"{len(scores)} runs are"
        report_findings(tuple(faults), f"the other {one} scored")
        return BAD_INPUT
    if series.invalid:
        return NO
    return UNDECIDED if series.undecided else WELL


def _extra(driven: Driven) -> int:
    """How many runs the rules ask for after a failed one."""
    asked = () if driven.rules is None else driven.rules.cast.family.of(CampaignRule)
    return max((rule.extra for rule in asked), default=0)


def _refuse_many(description: Description, wanted: Wanted) -> None:
    """A page is of one run."""
    runs = chosen(description, wanted.runs)
    if len(runs) > 1:
        first = next(iter(runs[0].values()))
        values = {
            "why": f"a page shows one run, and here are {len(runs)}",
            "instead": f"Name one, like `--run {quoted(str(first))}`.",
        }
        place = description.origin("files")
        raise ChoreoError([Finding("recording.unfit", "error", place, values)])


def _page(driven: Driven, told: RunScore, run: RecordedRun, after: NextRun | None) -> str:
    content = run_content(driven.plan.title, told, after)
    seen = seen_run(run, told, content)
    case = driven.case
    return run_page_of(case.scenario, driven.plan, case.paths, case.ground, seen)


def _refuse_unknown(driven: Driven, wanted: Wanted) -> None:
    """Rules that are left out must be some of the scenario's."""
    known = () if driven.rules is None else driven.rules.cast.family.rules
    ids = [rule.id for rule in known]
    for name in wanted.options.without:
        if name not in ids:
            nearest = nearest_word(name, ids)
            instead = f"Did you mean `{nearest}`?" if nearest else "`choreo rules` lists them."
            why = f"the scenario's rules have no `{quoted(name)}` to leave out"
            place = Origin(driven.scenario.source_files[0], 1, 1)
            values = {"why": why, "instead": instead}
            raise ChoreoError([Finding("recording.unfit", "error", place, values)])


def _print(
    driven: Driven,
    scores: list[RunScore],
    series: SeriesTold,
    after: NextRun | None,
    faults: list[Finding],
    wanted: Wanted,
) -> None:
    title = driven.plan.title
    if wanted.as_json:
        document = _document(driven, scores, series, after)
        document["unread"] = [fault(one) for one in faults]
        click.echo(json.dumps(document, indent=2, allow_nan=False))
    elif len(scores) == 1:
        print_content(run_content(title, scores[0], after), screen(wanted.width))
    else:
        print_content(series_content(title, series, scores, after), screen(wanted.width))


def _foreseen(driven: Driven) -> dict[str, float]:
    """The spread of each encounter's value that stress foresees."""
    told = errors_of_plan(
        driven.case.scenario, driven.case.paths, driven.plan, Asked(runs=FORESEEN_RUNS)
    )
    return {name: one.values.spread for name, one in told.encounters.items() if one.values}


def _document(
    driven: Driven, scores: list[RunScore], series: SeriesTold, after: NextRun | None
) -> dict[str, object]:
    """Everything as one document: SI, its units in the names of the keys or beside the values."""
    return {
        "format": SCORES_FORMAT,
        "title": driven.plan.title,
        "fingerprint": driven.plan.fingerprint,
        "series": plain_data(series),
        "runs": plain_data(scores),
        "next": plain_data(after),
    }
