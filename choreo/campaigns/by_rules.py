"""What the rules of a campaign's scenarios say of it: how often a variant is run, how long is between runs."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from choreo.campaigns.day.spec import DaySpec
from choreo.rules.applied import rules_of
from choreo.rules.records import BetweenRuns, CampaignRule
from choreo.scenario import Scenario


def repeats_of(scenario: Scenario) -> int:
    """Give how often the scenario's rules want each variant run; once where they don't say, or where there are none.

    Raises ChoreoError: as rules_of.
    """
    rules = rules_of(scenario)
    if rules is None:
        return 1
    return max([1, *(rule.repeats for rule in rules.cast.family.of(CampaignRule))])


def spaced(spec: DaySpec, scenarios: Iterable[Scenario]) -> DaySpec:
    """Give a day with the time between runs that the rules of its scenarios allow, the strictest of each end.

    Raises ChoreoError: as rules_of.
    """
    found: list[BetweenRuns] = []
    for scenario in scenarios:
        rules = rules_of(scenario)
        if rules is not None:
            found += [
                rule
                for rule in rules.cast.family.of(BetweenRuns)
                if rule.quantity == "time since the last run"
            ]
    if not found:
        return spec
    least_s = max((rule.lower or 0.0 for rule in found), default=0.0)
    most_s = min((rule.upper for rule in found if rule.upper is not None), default=None)
    clauses = ", ".join(dict.fromkeys(rule.source.words for rule in found))
    track = replace(spec.rules, least_gap_s=least_s, most_gap_s=most_s)
    return replace(spec, rules=track, spacing_by=clauses)
