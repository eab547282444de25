"""A whole campaign's day: which variants can be run, from which stagings, in which order, on how much room."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace

from choreo.campaigns.day.jobs import job_of
from choreo.campaigns.day.planned import DayPlan, day_of
from choreo.campaigns.day.spec import DEFAULT, DaySpec
from choreo.campaigns.needed_room import Rectangle, Runway, rectangles, runways
from choreo.campaigns.records import Campaign, Variant
from choreo.campaigns.solving import reason_of
from choreo.campaigns.staging.member import Member
from choreo.campaigns.staging.planning import Planning, here
from choreo.campaigns.staging.records import Stagings
from choreo.campaigns.staging.search import fewest_stagings
from choreo.campaigns.staging.standing import standing_together
from choreo.errors.asking import Asked, errors_of_plan
from choreo.plans import Plan
from choreo.words.records import dataclass

Progress = Callable[[str], None]

# Of each variant whose scenario says what may be off so many runs are drawn; a chance below the least is told as that.
RUNS = 2_000
LEAST_CHANCE = 0.01


@dataclass(frozen=True)
class LeftOut:
    """A variant that can't be run, and why.

    verdict: 'not clear', 'infeasible', 'undecided', or 'faulty' where its values make no scenario.
    """

    variant: Variant
    verdict: str
    reason: str


@dataclass(frozen=True)
class CampaignDay:
    """The day of a campaign.

    variants: those that can be run, by index; left_out: all others, in order. subject: the mover along whose heading
    the rectangle lies.
    """

    campaign: Campaign
    variants: Mapping[int, Variant]
    members: Mapping[int, Member]
    left_out: tuple[LeftOut, ...]
    stagings: Stagings
    plan: DayPlan
    runways: tuple[Runway, ...]
    rectangles: tuple[Rectangle, ...]

    def plan_of(self, index: int) -> Plan:
        """Give the plan of a variant from its staging's marks."""
        return self.stagings.plans[index]


def campaign_day(
    campaign: Campaign,
    answered: Iterable[tuple[Variant, Member] | LeftOut],
    spec: DaySpec | None = None,
    *,
    planning: Planning = here,
    progress: Progress = lambda _step: None,
) -> CampaignDay:
    """Plan a campaign's day.

    answered: each variant in order with its plan, or left out; a member's index is its place there. spec: in place of
    the campaign's own. planning: plans variants from shared marks.
    """
    spec = spec or campaign.day or DEFAULT
    variants: dict[int, Variant] = {}
    members: dict[int, Member] = {}
    left_out: dict[int, LeftOut] = {}
    for index, one in enumerate(answered):
        if isinstance(one, LeftOut):
            left_out[index] = one
        else:
            variants[index], members[index] = one
    if any(one.moved for one in members.values()):
        progress("places that sights leave open")
    members = {one.index: one for one in standing_together(list(members.values()))}
    stagings = fewest_stagings(list(members.values()), planning, progress)
    for index, refused in stagings.out.items():
        verdict = "not clear" if refused.verdict == "feasible" else refused.verdict
        left_out[index] = LeftOut(variants.pop(index), verdict, reason_of(refused))
        del members[index]
    spec = _with_chance(spec, variants, members, stagings.plans, progress)
    progress("the order of the runs")
    jobs = [
        job_of(
            variant.name,
            members[index].case.scenario,
            stagings.plans[index],
            stagings.of(index),
            spec,
            first=variant.run in spec.first or variant.name in spec.first,
        )
        for index, variant in variants.items()
    ]
    plan = day_of(spec, jobs, [variant.repeats for variant in variants.values()])
    return CampaignDay(
        campaign,
        variants,
        members,
        tuple(left_out[index] for index in sorted(left_out)),
        stagings,
        plan,
        runways(members, stagings.plans),
        rectangles(members, stagings.plans, _subject(members)),
    )


def _with_chance(
    spec: DaySpec,
    variants: Mapping[int, Variant],
    members: Mapping[int, Member],
    plans: Mapping[int, Plan],
    progress: Progress,
) -> DaySpec:
    """The chance of a valid run that the block leaves out, where scenarios say what may be off."""
    if not spec.by_errors:
        return spec
    tries, needed, told = 0.0, 0, False
    for index, variant in variants.items():
        needed += variant.repeats
        chance, case = 1.0, members[index].case
        if case.scenario.errors:
            told = True
            progress(f"errors of {variant.name}")
            found = errors_of_plan(case.scenario, case.paths, plans[index], Asked(RUNS))
            chance = max(found.chance.ratio, LEAST_CHANCE)
        tries += variant.repeats / chance
    return replace(spec, valid=needed / tries) if told else spec


def _subject(members: Mapping[int, Member]) -> str:
    """The vehicle under test, of the first variant that has one, else its first mover."""
    for member in members.values():
        movers = member.case.scenario.movers
        return next(
            (name for name, one in movers.items() if one.kind == "subject"), next(iter(movers))
        )
    return ""
