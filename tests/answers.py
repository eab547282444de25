"""A scenario's timing alone: as if its ground were level and had enough grip, its room not looked at."""

from choreo.case import answer, case_at
from choreo.plans.record import Plan
from choreo.repair import Explanation, explain
from choreo.scenario import Scenario


def timing_of(scenario: Scenario) -> Plan:
    """Solve, verify and judge a scenario, with its limits as written."""
    return answer(case_at(scenario, None)).plan


def explained(scenario: Scenario) -> Explanation:
    """Explain the verdict of a scenario with its limits as written."""
    return explain(answer(case_at(scenario, None)))
