"""A campaign's day for its page and its sheets: every variant with its verdict, figures and plan."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from choreo.campaigns.day_told import content_of_day, letter
from choreo.campaigns.whole_day import CampaignDay
from choreo.case import with_sights_of
from choreo.page import Planned, Shown, campaign_page, campaign_sheets
from choreo.track.motion import motion_of


def page_of_day(day: CampaignDay) -> str:
    """Write the page of a campaign as one HTML file."""
    return campaign_page(content_of_day(day, full=True), day.campaign.about, list(_shown(day)))


def sheets_of_day(day: CampaignDay) -> str:
    """Write the run sheets of a day as one HTML file, in the order in which the variants are first driven."""
    jobs = list(dict.fromkeys(one.job for one in day.plan.timetable.entries))
    names = {variant.name: index for index, variant in day.variants.items()}
    indices = [names[day.plan.jobs[job].name] for job in jobs]
    return campaign_sheets(
        content_of_day(day, full=True), [_planned(day, index) for index in indices]
    )


def _planned(day: CampaignDay, index: int) -> Planned:
    """A variant's plan under the variant's name: the scenario's title tells of other values, perhaps."""
    plan = day.plan_of(index)
    case = with_sights_of(day.members[index].case, plan)
    title = f"{day.variants[index].name}, staging {letter(day.stagings.of(index))}"
    return Planned(case.scenario, replace(plan, title=title), case.paths, case.ground)


def _shown(day: CampaignDay) -> Iterator[Shown]:
    """Every variant in the order of the campaign."""
    by_name = {variant.name: index for index, variant in day.variants.items()}
    reasons = {one.variant.name: one for one in day.left_out}
    for variant in day.campaign.variants():
        values = dict(variant.values)
        if variant.name not in by_name:
            out = reasons[variant.name]
            yield Shown(variant.name, variant.run, values, out.verdict, out.reason)
            continue
        index = by_name[variant.name]
        planned = _planned(day, index)
        staging = letter(day.stagings.of(index))
        moving = {n: one for n, one in planned.plan.movers.items() if one.pieces}
        figures: dict[str, float | str] = {
            "runway, m": planned.plan.runway_m,
            "duration, s": max((motion_of(one).end_s for one in moving.values()), default=0.0),
            "staging": staging,
        }
        figures |= {f"runway of {name}, m": one.runway.total_m for name, one in moving.items()}
        space = planned.plan.space
        if space is not None:
            figures["keep-out zone, m2"] = 0.0 if space.keep_out is None else space.keep_out.area_m2
        times = "once" if variant.repeats == 1 else f"{variant.repeats} times"
        told = f"feasible, from staging {staging}; to be driven {times}."
        yield Shown(variant.name, variant.run, values, "feasible", told, figures, planned)
