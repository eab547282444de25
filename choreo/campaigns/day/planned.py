"""A campaign's day: which runs there are, how often each is tried, in which order, and what would shorten it most."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import field, replace
from math import ceil

from choreo.campaigns.day.hours import DAY_S, Hours
from choreo.campaigns.day.order import Block, blocks_in, in_order, timetable
from choreo.campaigns.day.records import Entry, Job, Rules, Timetable
from choreo.campaigns.day.spec import DaySpec
from choreo.campaigns.day.tries import cautious, expected, shared
from choreo.words.records import dataclass

# What saves less than this (s) is not told, and of what helps no more than this many.
WORTH_S = 60.0
MOST_HELPS = 5
FASTER_MPS = 10 / 3.6
SURER = 0.95


@dataclass(frozen=True, slots=True)
class Help:
    """A change of the day's means, and by how much working time the expected end comes earlier."""

    what: str
    saves_s: float


@dataclass(frozen=True)
class DayPlan:
    """The day.

    jobs: with the tries that are expected. needed: valid runs wanted of each. timetable: with the expected tries;
    entries beyond the last day are those that don't fit. cautious_tries: with 95 % enough; cautious_end_s: when those
    are done. too_long: runs that fit between no two pauses or into no battery, and why. helps: what would help most,
    most first.
    """

    spec: DaySpec
    jobs: tuple[Job, ...]
    needed: tuple[int, ...]
    timetable: Timetable
    expected_tries: float
    cautious_tries: int
    cautious_end_s: float
    too_long: Mapping[str, str] = field(default_factory=dict)
    helps: tuple[Help, ...] = ()

    @property
    def fits(self) -> tuple[Entry, ...]:
        """The runs that fit into the days that there are."""
        return tuple(one for one in self.timetable.entries if one.start_s < self.spec.days * DAY_S)

    @property
    def left(self) -> Mapping[int, int]:
        """How many tries of each job don't fit, by its index; jobs that fit whole are left out."""
        counts: dict[int, int] = {}
        for one in self.timetable.entries[len(self.fits) :]:
            counts[one.job] = counts.get(one.job, 0) + 1
        return counts


def day_of(spec: DaySpec, jobs: Sequence[Job], needed: Sequence[int]) -> DayPlan:
    """Plan the day of some runs, each wanted valid so many times.

    Tries are shared among the runs in proportion: where one in six fails, about every sixth run has one more.
    """
    too_long = {}
    for job in jobs:
        why = _too_long(spec.rules, job)
        if why:
            too_long[job.name] = why
    kept = [i for i, job in enumerate(jobs) if job.name not in too_long]
    jobs, needed = [jobs[i] for i in kept], [needed[i] for i in kept]
    total = sum(needed)
    mean, sure = expected(total, spec.valid), cautious(total, spec.valid)
    tried = _tried(jobs, needed, ceil(mean - 1e-9))
    found = timetable(spec.rules, tried)
    blocks = blocks_in(found.entries, tried)
    careful = in_order(spec.rules, _tried(jobs, needed, sure), blocks)
    return DayPlan(
        spec,
        tuple(tried),
        tuple(needed),
        found,
        mean,
        sure,
        careful[-1].back_s if careful else 0.0,
        too_long,
        _helps(spec, tried, needed, blocks, found),
    )


def _too_long(rules: Rules, job: Job) -> str:
    """Say why a run can't be done at all, in words; empty where it can."""
    longest_s = rules.hours.longest_s
    if job.length_s > longest_s:
        return (
            f"with its way back it takes {job.length_s / 60:.1f} min, "
            f"the longest stretch without a pause is {longest_s / 60:.1f} min"
        )
    for name, keep in rules.upkeep.items():
        way_m = job.ways_m.get(name, 0.0)
        if keep.battery_m is not None and way_m > keep.battery_m:
            return (
                f"{name} goes {way_m:.0f} m there and back, a battery lasts {keep.battery_m:.0f} m"
            )
    return ""


def _tried(jobs: Sequence[Job], needed: Sequence[int], total: int) -> list[Job]:
    shares = shared(total, needed)
    return [replace(job, tries=tries) for job, tries in zip(jobs, shares, strict=True)]


def _helps(
    spec: DaySpec,
    jobs: Sequence[Job],
    needed: Sequence[int],
    blocks: Sequence[Block],
    found: Timetable,
) -> tuple[Help, ...]:
    """Changes of means that shorten the day, by the same order of runs."""
    if not found.entries:
        return ()
    hours = spec.rules.hours
    now_s = worked_s(hours, found.end_s)

    def end_s(rules: Rules, changed: Sequence[Job]) -> float:
        return worked_s(rules.hours, in_order(rules, changed, blocks)[-1].back_s)

    helps = [Help(what, now_s - end_s(rules, jobs)) for what, rules in _other_rules(spec.rules)]
    quicker = [
        replace(job, back_s=job.back_s - _saved_s(job, spec)) if job.tries else job for job in jobs
    ]
    speed = f"{round((spec.return_mps + FASTER_MPS) * 3.6)} km/h"
    helps.append(Help(f"driving back at {speed}", now_s - end_s(spec.rules, quicker)))
    if spec.valid < SURER:
        surer = _tried(jobs, needed, ceil(expected(sum(needed), SURER) - 1e-9))
        what = f"{SURER:.0%} valid runs instead of {spec.valid:.0%}".replace("%", " %")
        helps.append(Help(what, now_s - end_s(spec.rules, surer)))
    worth = [one for one in helps if one.saves_s >= WORTH_S]
    return tuple(sorted(worth, key=lambda one: -one.saves_s)[:MOST_HELPS])


def _saved_s(job: Job, spec: DaySpec) -> float:
    """What a quicker way back saves of one run, at most: the way of the mover that drives farthest."""
    way_m = max(job.ways_m.values(), default=0.0) / 2.0
    saved_s = way_m / spec.return_mps - way_m / (spec.return_mps + FASTER_MPS)
    return min(saved_s, job.back_s)


def _other_rules(rules: Rules) -> list[tuple[str, Rules]]:
    found = []
    if rules.restage_s > 0.0:
        found.append(("a second set of marks, ready beforehand", replace(rules, restage_s=0.0)))
    for name, keep in rules.upkeep.items():
        changes = []
        if keep.battery_m is not None or keep.strokes is not None:
            what = f"one more {name}, ready when the first is swapped"
            changes.append((what, replace(keep, swap_s=0.0)))
        if keep.inspect_after is not None:
            changes.append(
                (f"one more {name} while one is inspected", replace(keep, inspection_s=0.0))
            )
        if keep.cool_after is not None:
            changes.append((f"one more {name} while one cools", replace(keep, cool_s=0.0)))
        for what, change in changes:
            found.append((what, replace(rules, upkeep={**rules.upkeep, name: change})))
    return found


def worked_s(hours: Hours, time_s: float) -> float:
    """Give the working time from the first morning until a time, pauses and nights left out."""
    day, rest_s = divmod(time_s, DAY_S)
    whole_s = sum(end - start for start, end in hours.windows)
    today_s = sum(max(min(rest_s, end) - start, 0.0) for start, end in hours.windows)
    return day * whole_s + today_s
