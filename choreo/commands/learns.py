"""What `choreo learn` does: score runs, estimate, tell, write the fleet file anew."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path

import click

from choreo.commands.exits import BAD_INPUT, WELL
from choreo.commands.faults import fault, report_findings
from choreo.commands.scores import driven_plan, scored_runs
from choreo.commands.screen import screen
from choreo.export.files import check_target, write_whole
from choreo.learning.fleet_text import errors_lines, with_errors, written
from choreo.learning.learnt import Learnt, learn, without_wander
from choreo.learning.wander import Gathering, Wander
from choreo.plans.document import plain_data
from choreo.recordings.description import load_description
from choreo.report import print_content
from choreo.report.content import Content, caution_notes
from choreo.report.effects import small
from choreo.report.sections import Notes, Section, Table
from choreo.scenario import Scenario
from choreo.scenario.text.document import parse_document, read_text
from choreo.scoring.score import Options
from choreo.scoring.telling import SIMULATED, shown
from choreo.words import ChoreoError, Finding, Origin
from choreo.words.kinds import Unit

LEARNT_FORMAT = "choreo learnt 1"


def learn_runs(
    file: Path,
    recording: Path,
    plan_file: Path | None,
    output: Path | None,
    *,
    as_json: bool,
    width: int | None,
) -> int:
    """Learn from runs and print it; returns the exit code.

    Raises ChoreoError: faults of any file, a fleet file that can't be written anew.
    """
    description = load_description(recording)
    driven = driven_plan(file, plan_file)
    inputs = (*driven.scenario.source_files, str(recording))
    if output is not None:
        check_target(output, inputs)
    faults: list[Finding] = []
    options = Options(simple=True)
    scores, gathering = [], Gathering()
    for told, run in scored_runs(driven, description, (), options, faults):
        scores.append(told)
        gathering.take(run)
    wanders = gathering.wanders()
    found = without_wander(learn(scores), wanders)
    simulated = any(one.simulated for one in scores)
    about = "simulated runs, no measurement" if simulated else "runs"
    if output is not None:
        _write(driven.scenario, (file, output), found, wanders, about)
    if as_json:
        document = {
            "format": LEARNT_FORMAT,
            "title": driven.plan.title,
            "runs": len(scores),
            "simulated": simulated,
            "learnt": plain_data(found),
            "wanders": plain_data(wanders),
            "unread": [fault(one) for one in faults],
        }
        click.echo(json.dumps(document, indent=2, allow_nan=False))
    else:
        words = f"{len(scores)} run{'' if len(scores) == 1 else 's'}. {SIMULATED if simulated else ''}".strip()
        title = driven.plan.title
        sections = tuple(_sections(driven.scenario, found, wanders, about, scores[0].aligned_by))
        print_content(Content("feasible", "LEARNT", title, words, sections), screen(width))
    if output is not None:
        click.echo(f"fleet saved to {output}", err=True)
    if faults:
        report_findings(tuple(faults), f"learnt from the other {len(scores)}")
        return BAD_INPUT
    return WELL


def _sections(
    scenario: Scenario,
    found: Sequence[Learnt],
    wanders: Sequence[Wander],
    about: str,
    aligned_by: str,
) -> list[Section]:
    rows = tuple(
        (
            one.owner,
            one.aspect,
            shown(one.found.mean, one.unit),
            "-" if one.found.mean_half is None else small(one.found.mean_half, one.unit),
            "-" if one.spread is None else small(one.spread, one.unit),
            "-" if one.found.next_half is None else small(one.found.next_half, one.unit),
            str(one.found.count),
        )
        for one in found
    )
    header = ("of", "what", "mean", "+/-", "spread", "next +/-", "runs")
    sections: list[Section] = [Table("learnt, with 95 %", header, rows, frozenset(range(2, 7)))]
    if wanders:
        sections.append(_of_wanders(wanders))
    if any(one.spread is None for one in found):
        sections.append(
            Notes(
                "few runs", ("Fewer than three runs: no spread is claimed, and none is written.",)
            )
        )
    lines: list[str] = []
    for name in scenario.movers:
        own = [one for one in wanders if one.owner == name]
        block = errors_lines([one for one in found if one.owner == name], about, "    ", own)
        lines += [f"  {name}:", *block] if block else []
    lines += [
        f"  {one.owner}: {{... latency: {written(one)}}}"
        for one in found
        if one.aspect == "latency" and one.spread is not None
    ]
    if lines:
        sections.append(Notes("as the scenario has it", tuple(lines)))
    note = f"Time counts from {aligned_by}: the delay of that launch itself can't be seen."
    return [*sections, Notes("what this leaves out", (note,)), caution_notes()]


def _of_wanders(wanders: Sequence[Wander]) -> Table:
    """What wanders, how much and for how long."""
    rows = []
    for one in wanders:
        unit: Unit = "m/s" if one.what == "speed wander" else "m"
        over = "s" if one.what == "speed wander" else "m"
        most = "and more" if one.over_high is None else f"to {one.over_high:.2g} {over}"
        rows.append(
            (
                one.owner,
                one.what,
                small(one.size, unit),
                f"{small(one.size_low, unit)} to {small(one.size_high, unit)}",
                f"{one.over:.2g} {over}",
                f"{one.over_low:.2g} {most}",
                str(one.count),
            )
        )
    header = ("of", "what", "size", "95 %", "over", "95 %", "runs")
    return Table("what wanders", header, tuple(rows), frozenset(range(2, 7)))


def _write(
    scenario: Scenario,
    files: tuple[Path, Path],
    found: Sequence[Learnt],
    wanders: Sequence[Wander],
    about: str,
) -> None:
    """Put what was learnt into a copy of the fleet file whose entries the movers are like."""
    file, output = files
    data = parse_document(read_text(file), str(file)).data
    fleet = data.get("fleet")
    movers = data.get("movers", {})
    entries: dict[str, list[Learnt]] = {}
    wandering: dict[str, list[Wander]] = {}
    for name, mover in movers.items():
        like = mover.get("like") if isinstance(mover, dict) else None
        own = [
            one
            for one in found
            if one.owner == name and one.aspect != "latency" and one.spread is not None
        ]
        if isinstance(like, str) and own:
            entries.setdefault(like, own)
            wandering.setdefault(like, [one for one in wanders if one.owner == name])
    if not isinstance(fleet, str) or not entries:
        why = "no mover of the scenario is `like` an entry of its one fleet file, or too few runs were recorded"
        instead = "Leave `-o` out and copy the lines that are printed into the scenario."
        values = {"why": why, "instead": instead}
        raise ChoreoError([Finding("recording.unfit", "error", Origin(str(file), 1, 1), values)])
    text = with_errors(file.parent / fleet, entries, about, wandering)
    write_whole(output, text, scenario.source_files)
