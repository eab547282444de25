"""The plan of a solution, as an independent simulation judges it."""

from __future__ import annotations

from dataclasses import replace

from choreo.case.at_speed import speed_findings
from choreo.case.chain import chain_of
from choreo.case.passing import pass_findings
from choreo.case.record import Case
from choreo.case.start_places import start_findings
from choreo.plans.fingerprint import fingerprint_of
from choreo.plans.message import Message, messages_of
from choreo.plans.record import Conflict, Plan
from choreo.solve import Solved, plan_of
from choreo.verification import Verification, verify
from choreo.words import errors_of, remarks_of
from choreo.words.kinds import Verdict


def planned(case: Case, solved: Solved, warnings: tuple[Message, ...]) -> Plan:
    """The plan of a solution, not yet simulated."""
    fingerprint = fingerprint_of(case.scenario.meaning())
    plan = plan_of(case.scenario, solved, fingerprint, peaks=not case.brief)
    told = *pass_findings(case.scenario, solved), *speed_findings(solved)
    more = messages_of((*told, *start_findings(case, solved)))
    return replace(plan, warnings=(*warnings, *more), tried=solved.solution.tried)


def simulated(
    case: Case, solved: Solved, warnings: tuple[Message, ...]
) -> tuple[Plan, Verification]:
    """The plan of a solution as the simulation judges it, and what the simulation saw."""
    plan = planned(case, solved, warnings)
    verification = verify(case.scenario, case.paths, plan, whole=not case.brief)
    found = judged(plan, verification)
    if not case.brief:
        found = replace(found, critical_chain=chain_of(solved.staging.problem, plan))
    return found, verification


def judged(plan: Plan, verification: Verification) -> Plan:
    """Put the verifier's measured values and its verdict into the plan."""
    encounters = {}
    for name, encounter in plan.encounters.items():
        measured = verification.measured.get(name)
        if measured is None:
            encounters[name] = encounter
            continue
        found = verification.encounters[name]
        within = encounter.is_within(measured) and encounter.holds(found.held)
        # How fast outlines near each other depends on which corner touches and how a body turns: as simulated.
        closing_mps = found.closing_mps if encounter.touches else encounter.closing_mps
        encounters[name] = replace(
            encounter,
            predicted=measured,
            within=within,
            held=found.held,
            closing_mps=closing_mps,
        )
    verdict: Verdict = "feasible" if verification.agrees else "undecided"
    warnings = remarks_of(messages_of(verification.findings))
    return replace(
        plan,
        verdict=verdict,
        encounters=encounters,
        warnings=(*plan.warnings, *warnings),
        conflicts=() if verification.agrees else _disagreements(verification),
        verification=verification.summary(),
    )


def _disagreements(verification: Verification) -> tuple[Conflict, ...]:
    return tuple(
        Conflict(
            f"simulation: {finding.text}",
            None,
            "",
            None if finding.origin is None else str(finding.origin),
        )
        for finding in errors_of(verification.findings)
    )
