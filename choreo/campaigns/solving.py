"""One variant after the other: planned, verified, and told in a row.

A variant takes over from the one before it only what doesn't depend on it: ground, paths, meetings, programmes that are
written. Every search starts plain, so that no answer depends on the order.
"""

from __future__ import annotations

import hashlib
import zlib
from collections.abc import Iterable, Iterator
from dataclasses import field, replace
from functools import cache
from importlib.metadata import version

from choreo.campaigns.records import Campaign, Row, Variant
from choreo.case import Answer, Case, case_of
from choreo.case.departures import DEPARTURES
from choreo.case.whole import answer_with_sights, survey
from choreo.linear import Memory
from choreo.plans.document import to_text
from choreo.plans.fingerprint import fingerprint_of
from choreo.plans.record import Budget, Plan
from choreo.repair import Patience, explain
from choreo.scenario import Scenario
from choreo.words import ChoreoError, errors_of
from choreo.words.display import quantity
from choreo.words.records import dataclass

# Rows of a ramp that are called like what its author wrote.
RAMP_KEYS = ("within", "over", "lasting")
# Of conditions that can't all hold so many are named in a line.
MOST_NEEDS = 4
# What would help is looked for so long, of each variant (s).
REPAIRS_S = 20.0
# Of compression: the quickest.
LEVEL = 1


@dataclass(frozen=True, slots=True)
class Asked:
    """What is asked of every variant.

    room: the room that a plan takes is surveyed too. repairs: of what isn't feasible the best repair, looked for no
    longer than so many seconds; 0 for none. documents: plan documents are wanted.
    """

    room: bool = False
    repairs_s: float = 0.0
    documents: bool = False

    @property
    def or_more(self) -> tuple[Asked, ...]:
        """This, then all that asks for this and more: its answers serve as well."""
        return tuple(
            replace(self, room=room, repairs_s=repairs_s)
            for room in dict.fromkeys((self.room, True))
            for repairs_s in dict.fromkeys((self.repairs_s, REPAIRS_S))
        )


@dataclass()
class Walk:
    """Goes from variant to variant of a campaign."""

    campaign: Campaign
    asked: Asked
    _last: dict[str, Case] = field(default_factory=dict)

    def rows(self, variants: Iterable[Variant]) -> Iterator[Row]:
        """Give the row of each variant, in their order."""
        for variant in variants:
            yield self.row(variant)

    def row(self, variant: Variant) -> Row:
        """Plan and verify one variant. Faults that its values bring are its reason, without a verdict."""
        row = Row(variant.name, variant.run, variant.values, "", "", None)
        try:
            scenario = self.campaign.scenario_of(variant)
            if self.asked.documents:  # only what is kept is ever compared
                row = replace(row, asked=asked_of(scenario, self.asked))
            found = self._answered(variant.run, scenario)
        except ChoreoError as error:
            return replace(row, reason=errors_of(error.findings)[0].text)
        plan, offer = found.plan, ""
        if self.asked.repairs_s and plan.verdict != "feasible":
            told = explain(found, patience=Patience(self.asked.repairs_s), most=1)
            plan = told.plan
            changes = told.repairs[0].changes if told.repairs else ()
            offer = " and ".join(
                f"{one.quantity.name} {quantity(one.value, one.quantity.unit)}" for one in changes
            )
        document = packed(plan) if self.asked.documents else b""
        return replace(
            row,
            fingerprint=plan.fingerprint,
            verdict=plan.verdict,
            clear=None if plan.space is None else plan.space.clear,
            reason=reason_of(plan),
            repair=offer,
            figures=figures_of(plan),
            document=document,
        )

    def _answered(self, run: str, scenario: Scenario) -> Answer:
        last = self._last.get(run)
        if last is None:
            # A plan that nobody keeps has only to be right; where its room is asked for all of it is looked at.
            brief = not (self.asked.documents or self.asked.room)
            case = replace(case_of(scenario), brief=brief, searched=Memory())
        else:
            case = last.beside(scenario)
        self._last[run] = case
        found, sights = answer_with_sights(case)
        if found.feasible and not self.asked.room:
            return found
        return survey(found, sights)


@cache
def _version() -> str:
    """This version: looked up in files, so once."""
    return version("choreo")


def asked_of(scenario: Scenario, asked: Asked) -> str:
    """Give a hash of all that a row leans on: the scenario, its words, what is asked, this version."""
    meant = fingerprint_of(scenario.meaning())
    words = (scenario.title, scenario.keep, scenario.cheap, sorted(scenario.conditions.items()))
    told = f"{_version()} {asked} {meant} {words}"
    return hashlib.sha256(told.encode()).hexdigest()


def packed(plan: Plan) -> bytes:
    """Give the plan document compressed, in one line: nobody reads it there, and many are written."""
    return zlib.compress(to_text(plan, indent=None).encode(), LEVEL)


def reason_of(plan: Plan) -> str:
    """Say in a line why a plan isn't feasible, may not be driven, or is driven otherwise than usual; else nothing."""
    if plan.collisions:
        return plan.collisions[0].text
    if plan.budgets:
        return _short(min(plan.budgets, key=lambda one: len(one.title)))
    if plan.verdict == "feasible":
        told = list(() if plan.space is None else errors_of(plan.space.failures))
        told += [one for one in plan.warnings if one.code in DEPARTURES]
        return told[0].text if told else ""
    if plan.conflicts:
        miss = plan.conflicts[0]
        by = "" if miss.amount is None else f", missed by {miss.amount:.3f} {miss.unit}"
        return f"no plan found: {miss.name}{by}"
    return "nothing was found that works, and no proof that nothing does"


def _short(budget: Budget) -> str:
    """A budget in a line that stands by itself: what of one mover is short, or which conditions can't all hold."""
    short = f"short by {budget.short_by:.3f} {budget.unit}"
    if budget.mover:
        return f"{budget.title}: {short}"
    needs = [line.what for line in (budget.available, *budget.pieces)]
    if len(needs) == 1:
        what, _, key = needs[0].partition(": ")
        cant = f"can't keep to its `{key}`" if key in RAMP_KEYS else "can't hold"
        return f"{what if key in RAMP_KEYS else needs[0]} {cant}: {short}"
    more = f"; {len(needs) - MOST_NEEDS} more" if len(needs) > MOST_NEEDS else ""
    return f"{budget.title} ({'; '.join(needs[:MOST_NEEDS])}{more}): {short}"


def figures_of(plan: Plan) -> dict[str, float]:
    """Give the figures of a plan by name, in SI; none where it has no motion.

    `runway`: the ways of all movers together from start to rest, in m; `duration`: from go until the last one rests,
    in s; of each mover its start (station), run-up and runway in m; of each trigger its setting.
    """
    if not plan.movers:
        return {}
    moving = {name: mover for name, mover in plan.movers.items() if mover.pieces}
    ends = [mover.pieces[-1].start_s + mover.pieces[-1].duration_s for mover in moving.values()]
    figures = {
        "runway": plan.runway_m,
        "duration": max(ends, default=0.0),
    }
    figures |= {f"{name} start": mover.start.station_m for name, mover in plan.movers.items()}
    figures |= {f"{name} run-up": mover.runway.run_up_m for name, mover in moving.items()}
    figures |= {f"{name} runway": mover.runway.total_m for name, mover in moving.items()}
    figures |= {f"{name} {one.condition}": one.setting for name, one in plan.triggers.items()}
    return figures
