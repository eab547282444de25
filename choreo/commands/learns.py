"""What `choreo learn` does: score runs, estimate, tell, write the fleet file anew."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from pathlib import Path

import click

from choreo.commands.exits import BAD_INPUT, WELL
from choreo.commands.faults import fault, report_findings
from choreo.commands.scores import driven_plan, scored_runs
from choreo.commands.screen import screen
from choreo.export.files import check_target, write_whole
from choreo.learning.fleet_text import comment, errors_lines, pasteable, with_errors, written
from choreo.learning.learnt import Learnt, learn, without_wander
from choreo.learning.limits_text import LearntLimit, limits_of, rebased, with_limits_of
from choreo.learning.rates import BuildUp, Driven, Rate
from choreo.learning.wander import Gathering, Wander
from choreo.plans.document import plain_data
from choreo.recordings.description import load_description
from choreo.report import print_content
from choreo.report.content import Content, caution_notes
from choreo.report.effects import small
from choreo.report.sections import Notes, Section, Table
from choreo.report.terminal import INDENT
from choreo.scenario import Scenario
from choreo.scenario.text.document import parse_document, read_text
from choreo.scoring.score import Options
from choreo.scoring.telling import SIMULATED, shown
from choreo.words import ChoreoError, Finding, Origin
from choreo.words.display import how_many, seconds
from choreo.words.kinds import Unit
from choreo.words.records import dataclass

# Fewer runs show no spread.
LEAST_SPREAD = 3
LEARNT_FORMAT = "choreo learnt 1"


@dataclass(frozen=True, slots=True)
class Wanted:
    """What of it is wanted. with_limits: limits too are written into the output."""

    plan_file: Path | None = None
    output: Path | None = None
    with_limits: bool = False
    as_json: bool = False
    width: int | None = None


@dataclass(frozen=True, eq=False)
class Lessons:
    """What all runs show. about: what they are, in words."""

    found: Sequence[Learnt]
    wanders: Sequence[Wander]
    rates: Sequence[Rate]
    builds: Sequence[BuildUp]
    about: str


def learn_runs(file: Path, recording: Path, wanted: Wanted) -> int:
    """Learn from runs and print it; returns the exit code.

    Raises ChoreoError: faults of any file, a fleet file that can't be written anew.
    """
    description = load_description(recording)
    driven, output = driven_plan(file, wanted.plan_file), wanted.output
    inputs = (*driven.scenario.source_files, str(recording))
    if output is not None:
        check_target(output, inputs, "fleet")
    faults: list[Finding] = []
    options = Options(simple=True)
    scores, gathering, ramps = [], Gathering(), Driven()
    for told, run in scored_runs(driven, description, (), options, faults):
        scores.append(told)
        gathering.take(run)
        ramps.take(run)
    wanders = gathering.wanders()
    found = without_wander(learn(scores), wanders)
    simulated = any(one.simulated for one in scores)
    about = "simulated runs, no measurement" if simulated else "runs"
    lessons = Lessons(found, wanders, ramps.rates(), ramps.build_ups(), about)
    if output is not None:
        _write(driven.scenario, (file, output), lessons, with_limits=wanted.with_limits)
    if wanted.as_json:
        document = {
            "format": LEARNT_FORMAT,
            "title": driven.plan.title,
            "runs": len(scores),
            "simulated": simulated,
            "learnt": plain_data(found),
            "wanders": plain_data(wanders),
            "rates": plain_data(lessons.rates),
            "build_ups": plain_data(lessons.builds),
            "unread": [fault(one) for one in faults],
        }
        click.echo(json.dumps(document, indent=2, allow_nan=False))
    else:
        words = f"{how_many(len(scores), 'run')}. {SIMULATED if simulated else ''}".strip()
        title = driven.plan.title
        console = screen(wanted.width)
        sections = tuple(_sections(driven.scenario, lessons, scores[0].aligned_by, console.width))
        print_content(Content("feasible", "LEARNT", title, words, sections), console)
    if output is not None:
        click.echo(f"fleet saved to {output}", err=True)
    if faults:
        report_findings(tuple(faults), f"learnt from the other {len(scores)}")
        return BAD_INPUT
    return WELL


def _sections(scenario: Scenario, lessons: Lessons, aligned_by: str, columns: int) -> list[Section]:
    found, wanders, about = lessons.found, lessons.wanders, lessons.about
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
    sections += _of_rates(lessons.rates)
    sections += _of_build_ups(lessons.builds)
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
    lines = ["movers:", *lines] if lines else []
    late = [one for one in found if one.aspect == "latency" and one.spread is not None]
    for one in late:
        lines += ["triggers:"] if one is late[0] else []
        lines += [f"  {one.owner}:", f"    latency: {written(one)}  # {comment(one, about)}"]
    if lines:
        sections.append(Notes("as the scenario has it", tuple(pasteable(lines, columns - INDENT))))
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


def _of_rates(rates: Sequence[Rate]) -> Iterator[Table]:
    """How hard each accelerates and brakes, speed by speed."""
    rows = tuple(
        (
            one.owner,
            one.way,
            f"{3.6 * one.from_mps:.3g}..{3.6 * one.to_mps:.3g} km/h",
            shown(one.planned_mps2, "m/s2"),
            shown(one.found.mean, "m/s2"),
            "-" if one.found.mean_half is None else small(one.found.mean_half, "m/s2"),
            "-" if one.found.spread is None else small(one.found.spread, "m/s2"),
            str(one.found.count),
        )
        for one in rates
    )
    if rows:
        header = ("of", "what", "speed", "plan", "runs' mean", "+/-", "spread", "runs")
        yield Table("acceleration and braking over speed", header, rows, frozenset(range(2, 8)))


def _of_build_ups(builds: Sequence[BuildUp]) -> Iterator[Table]:
    """How long it takes until each accelerates or brakes as hard as it then does."""
    rows = tuple(
        (
            one.owner,
            one.way,
            seconds(one.planned_s),
            seconds(one.found.mean),
            "-" if one.found.mean_half is None else small(one.found.mean_half, "s"),
            "too short to say" if one.jerk_mps3 is None else shown(one.jerk_mps3.mean, "m/s3"),
            str(one.found.count),
        )
        for one in builds
    )
    if rows:
        header = ("of", "what", "plan", "runs' mean", "+/-", "jerk", "runs")
        yield Table("how it builds up", header, rows, frozenset((2, 3, 4, 5, 6)))


def _write(
    scenario: Scenario, files: tuple[Path, Path], lessons: Lessons, *, with_limits: bool
) -> None:
    """Put what was learnt into a copy of the fleet file whose entries the movers are like."""
    file, output = files
    limits: dict[str, list[LearntLimit]] = {}
    data = parse_document(read_text(file), str(file)).data
    fleet = data.get("fleet")
    movers = data.get("movers", {})
    entries: dict[str, list[Learnt]] = {}
    wandering: dict[str, list[Wander]] = {}
    for name, mover in movers.items():
        like = mover.get("like") if isinstance(mover, dict) else None
        own = [
            one
            for one in lessons.found
            if one.owner == name and one.aspect != "latency" and one.spread is not None
        ]
        if isinstance(like, str) and own and like not in entries:
            if with_limits:
                known = scenario.movers[name].limits
                limits[like] = limits_of(name, known, lessons.rates, lessons.builds)
            entries[like] = rebased(own, limits.get(like, ()))
            wandering[like] = [one for one in lessons.wanders if one.owner == name]
    if not isinstance(fleet, str) or not entries:
        why = "no mover of the scenario is `like` an entry of its one fleet file"
        instead = "Leave `-o` out and copy the lines that are printed into the scenario."
        count = max((one.found.count for one in lessons.found), default=0)
        if count < LEAST_SPREAD:
            why = f"of {how_many(count, 'run')} nothing is written into a fleet file: they show no spread"
            instead = f"Record {LEAST_SPREAD} runs or more; without `-o` what they show is printed."
        values = {"why": why, "instead": instead}
        raise ChoreoError([Finding("recording.unfit", "error", Origin(str(file), 1, 1), values)])
    text = with_errors(file.parent / fleet, entries, lessons.about, wandering)
    for entry, those in limits.items():
        text = with_limits_of(text, fleet, entry, those)
    write_whole(output, text, scenario.source_files)
