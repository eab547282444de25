"""What `choreo check` looks at: files, a saved plan, the marks as staged."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import click

from choreo.commands.exits import BAD_INPUT, NO, OF_VERDICT, WELL
from choreo.commands.faults import fault, report_findings
from choreo.geometry import Path as GeometryPath
from choreo.plans.record import Plan
from choreo.problem import (
    build_staging,
    paths_by_mover,
    structural_findings,
    with_lateral_goals,
)
from choreo.proof import broken_budgets
from choreo.scenario import Scenario, load
from choreo.scenario.making.companions import kind_told
from choreo.scenario.text.document import parse_document, read_text
from choreo.words import ChoreoError, Finding, Origin, errors_of
from choreo.words.display import quantity, visible
from choreo.words.quantities import quoted

# A mark beside its path by more than this (m) is worth a word.
BESIDE_M = 0.02
# So many names stand in one message.
MOST_NAMES = 5


def _circuit(file: Path) -> tuple[Finding, ...]:
    from choreo.circuits.reading import load_circuit

    return load_circuit(file).notes


def _share(file: Path) -> tuple[Finding, ...]:
    from choreo.sharing.reading import load_share

    shared = load_share(file)
    return (*(note for one in shared.circuits.values() for note in one.notes), *shared.notes)


def _campaign(file: Path) -> tuple[Finding, ...]:
    from choreo.campaigns.reading import load_campaign

    load_campaign(file)
    return ()


# What is looked over besides scenarios, by how it begins: the warnings of it.
OTHER_KINDS: Mapping[str, Callable[[Path], tuple[Finding, ...]]] = {
    "choreo circuit": _circuit,
    "choreo share": _share,
    "choreo campaign": _campaign,
}


def check_files(files: tuple[Path, ...], *, as_json: bool) -> int:
    """Look each file over: faults, warnings, and budgets that can't fit. Returns the exit code."""
    code = WELL
    documents = []
    for file in files:
        found, impossible = _look(file)
        faulty = bool(errors_of(found))
        code = max(code, BAD_INPUT if faulty else NO if impossible else WELL)
        documents.append(
            {"file": str(file), "faults": [fault(one) for one in found], "impossible": impossible}
        )
        if not as_json:
            _say(file, found, impossible, faulty=faulty)
    if as_json:
        click.echo(json.dumps({"files": documents, "well": code == WELL}, indent=2))
    return code


def _look(file: Path) -> tuple[tuple[Finding, ...], list[str]]:
    try:
        kind = kind_told(parse_document(read_text(file), str(file)).data)
        if kind is not None and kind[0] in OTHER_KINDS:
            return OTHER_KINDS[kind[0]](file), []
        written = load(file)
        if written.rules is not None:
            from choreo.rules.applied import applied

            written = applied(written)
        if any(one.course and one.course.line != "centres" for one in written.paths.values()):
            from choreo.case.driven_lines import with_driven_lines

            written = with_driven_lines(written)
        paths = paths_by_mover(written)
        scenario = _on_its_site(with_lateral_goals(written, paths), paths)
        if any(phase.drive for one in scenario.movers.values() for phase in one.programme):
            from choreo.pace import with_drives

            scenario = with_drives(scenario, paths)
        if scenario.keep or scenario.cheap:
            from choreo.case.settings import check_kept

            check_kept(scenario)
        staging = build_staging(scenario, paths)
    except ChoreoError as error:
        return error.findings, []
    found = (*scenario.notes, *staging.notes, *structural_findings(staging.problem))
    if errors_of(found):
        return found, []
    single = all(len(meeting.candidates) == 1 for meeting in staging.meetings.values())
    broken = broken_budgets(staging.problem.loose) if single else ()
    return found, [
        f"{budget.title}: short by {budget.short_by:.3f} {budget.unit}" for budget in broken
    ]


def _on_its_site(scenario: Scenario, paths: Mapping[str, GeometryPath]) -> Scenario:
    """The scenario with the limits that its site's ground leaves; only a site that draws ground costs time."""
    if scenario.site is None or not scenario.site.drawn:
        return scenario
    from choreo.ground import ground_of
    from choreo.ground.limits import limits_on_ground

    return limits_on_ground(scenario, paths, ground_of(scenario)).scenario


def _say(file: Path, found: tuple[Finding, ...], impossible: list[str], *, faulty: bool) -> None:
    word = "FAULTY" if faulty else "IMPOSSIBLE" if impossible else "well"
    click.echo(f"{visible(str(file))}: {word}")
    for line in impossible:
        click.echo(f"    {line}")
    report_findings(found)


def check_plan(file: Path, plan_file: Path, *, as_json: bool) -> int:
    """Is the saved plan of this scenario as it is now, does the simulation still agree, is its room as it says?"""
    from choreo.case import case_of, check_room, with_sights_of
    from choreo.export.files import load_plan
    from choreo.verification import verify

    written, plan = load(file), load_plan(plan_file)
    case = case_of(written)
    about = {"file": str(file), "plan": str(plan_file), "fingerprint": plan.fingerprint}
    other = _other_scenario(file, case.scenario, plan, plan_file)
    _end_if_other(other, about | {"agrees": None, "well": False}, as_json=as_json)
    if plan.verdict != "feasible":
        if as_json:
            own: dict[str, Any] = {
                "agrees": None,
                "well": False,
                "verdict": plan.verdict,
                "faults": [],
            }
            click.echo(json.dumps(about | own, indent=2))
        else:
            said = f"the plan's own verdict is {plan.verdict}"
            click.echo(f"{visible(str(plan_file))}: {said}", err=True)
        return OF_VERDICT[plan.verdict]
    same_names(case.scenario, plan, plan_file)
    case = with_sights_of(case, plan)
    verification = verify(case.scenario, case.paths, plan)
    found = verification.findings
    if verification.agrees:
        found = (*found, *check_room(case, plan, str(plan_file)))
    well = not errors_of(found)
    if as_json:
        faults = [fault(one) for one in found]
        rest = {"agrees": verification.agrees, "well": well, "faults": faults}
        click.echo(json.dumps(about | rest, indent=2))
    else:
        agrees = "the simulation agrees" if verification.agrees else "the simulation does NOT agree"
        word = f"well, {agrees}" if well else agrees if not verification.agrees else "NOT well"
        click.echo(
            f"{visible(str(plan_file))}: the scenario is unchanged ({plan.fingerprint}); {word}"
        )
        report_findings(found)
    return WELL if well else NO


def _other_scenario(
    file: Path, scenario: Scenario, plan: Plan, plan_file: Path
) -> tuple[Finding, ...]:
    """A plan of another scenario answers another question: both fingerprints, and both titles where they differ."""
    from choreo.plans.fingerprint import fingerprint_of

    now = fingerprint_of(scenario.meaning())
    if plan.fingerprint == now:
        return ()
    what = "another state of this scenario"
    if plan.title != scenario.title:
        what = f"another scenario: `{quoted(plan.title)}`, not `{quoted(scenario.title)}`"
    values = {"what": what, "planned": plan.fingerprint, "now": now, "file": str(file)}
    return (Finding("plan.scenario-changed", "error", Origin(str(plan_file), 1, 1), values, ()),)


def _end_if_other(found: tuple[Finding, ...], document: dict[str, Any], *, as_json: bool) -> None:
    """Say that a plan is of another scenario, and end with exit code 1; nothing where it isn't."""
    if not found:
        return
    if as_json:
        click.echo(json.dumps(document | {"faults": [fault(one) for one in found]}, indent=2))
    else:
        report_findings(found)
    sys.exit(NO)


def same_names(scenario: Scenario, plan: Plan, plan_file: Path) -> None:
    """What a plan names beyond its scenario could never be checked, and a crew might act on it."""
    place = Origin(str(plan_file), 1, 1)
    findings = []
    for what in ("movers", "triggers", "encounters", "instants"):
        other = sorted(set(getattr(plan, what)) - set(getattr(scenario, what)))
        if other:
            names = ", ".join(f"`{quoted(name)}`" for name in other[:MOST_NAMES])
            more = "" if len(other) <= MOST_NAMES else f" and {len(other) - MOST_NAMES} more"
            values = {"what": what, "names": f"{names}{more}"}
            findings.append(Finding("plan.other-names", "error", place, values, ()))
    if findings:
        raise ChoreoError(findings)


def check_staging(file: Path, plan_file: Path | None, staged: Path, *, as_json: bool) -> int:
    """With the marks and latencies as measured: still in tolerance, and what would put it right?"""
    from choreo.case import case_of, whole_answer, with_sights_of
    from choreo.export.files import load_plan
    from choreo.measured.as_staged import check_staged
    from choreo.measured.file import load_measured

    if plan_file is None:
        found = whole_answer(load(file))
        case, plan = found.case, found.plan
    else:
        case, plan = case_of(load(file)), load_plan(plan_file)
        other = _other_scenario(file, case.scenario, plan, plan_file)
        _end_if_other(other, {"file": str(file), "within": None}, as_json=as_json)
        case = with_sights_of(case, plan)
    measured = load_measured(staged, case.scenario)
    if plan.verdict != "feasible":
        values: dict[str, Any] = {"verdict": plan.verdict}
        raise ChoreoError(
            (Finding("plan.not-feasible", "error", Origin(str(file), 1, 1), values, ()),)
        )
    same_names(case.scenario, plan, plan_file or file)
    result = check_staged(case, plan, measured)
    if as_json:
        click.echo(json.dumps(_staged_document(file, result), indent=2))
    else:
        _say_staged(file, result)
    return WELL if result.within else NO


def _staged_document(file: Path, result: Any) -> dict[str, Any]:
    return {
        "file": str(file),
        "within": result.within,
        "moved": {
            name: {"along_m": along, "beside_m": beside}
            for name, (along, beside) in result.moved.items()
        },
        "encounters": {
            one.name: {
                "wanted": list(one.planned.wanted),
                "unit": one.planned.unit,
                "tolerance": one.planned.tolerance,
                "as_staged": one.measured,
                "within": one.within,
            }
            for one in result.encounters
        },
        "broken": [fault(one) for one in result.broken],
        "marks_kept": result.marks_kept,
        "marks_moved": list(result.marks_moved),
        "corrections": [
            {"what": c.what, "planned": c.planned, "corrected": c.corrected, "unit": c.unit}
            for c in result.corrections
        ],
        "corrected_verdict": result.corrected_verdict,
    }


def _say_staged(file: Path, result: Any) -> None:
    click.echo(
        f"{visible(str(file))}: as staged, {'in tolerance' if result.within else 'OUT OF TOLERANCE'}"
    )
    click.echo("marks moved (along the path / beside it)")
    for name, (along, beside) in result.moved.items():
        click.echo(f"  {name}: {round(along, 3) + 0.0:+.3f} m / {round(beside, 3) + 0.0:+.3f} m")
    if any(abs(beside) > BESIDE_M for _, beside in result.moved.values()):
        click.echo(
            "  a mark beside its path: simulated with the whole path moved sideways by that much"
        )
    click.echo("encounters as they would come out")
    for one in result.encounters:
        wanted = quantity(one.planned.wanted[0], one.planned.unit)
        came = (
            "does not happen" if one.measured is None else quantity(one.measured, one.planned.unit)
        )
        tolerance = quantity(one.planned.tolerance, one.planned.unit)
        word = "in" if one.within else "OUT"
        click.echo(f"  {one.name}: {came}, wanted {wanted} +/- {tolerance}: {word}")
    for finding in result.broken:
        click.echo(f"  also: {finding.text}")
    _say_corrections(result)


def _say_corrections(result: Any) -> None:
    if result.corrected_verdict != "feasible":
        click.echo(f"no correction found ({result.corrected_verdict}): move the marks back")
        return
    if not result.corrections:
        click.echo(
            "nothing to correct"
            if result.within
            else "no setting puts this right: bring the marks back to where the plan has them"
        )
        return
    moved = result.marks_moved
    where = "every start mark stays where it is"
    if moved:
        marks = "mark" if len(moved) == 1 else "marks"
        where = f"no setting is enough, the start {marks} of {' and '.join(moved)} must move"
    click.echo(f"corrected, all of these together; {where}")
    for c in result.corrections:
        click.echo(f"  {c.what}: {quantity(c.planned, c.unit)} -> {quantity(c.corrected, c.unit)}")
