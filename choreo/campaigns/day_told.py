"""Which facts of a day are told, in which words; the same as a table and as a document."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator
from itertools import groupby
from typing import Any

from choreo.campaigns.day.hours import DAY_S
from choreo.campaigns.day.planned import worked_s
from choreo.campaigns.day.records import Entry
from choreo.campaigns.whole_day import CampaignDay
from choreo.plans.message import Message
from choreo.report import Content
from choreo.report.sections import Notes, Section, Table
from choreo.words.display import degrees, plain
from choreo.words.kinds import Verdict

DAY_FORMAT = "choreo day 1"
# Rows of the timetable that are shown without --all.
SHOWN = 40
# Reasons of variants that are left out that are shown without --all.
SHOWN_REASONS = 8
# Sides of a rectangle that lie against the directions in which places are counted.
AGAINST = ("behind", "right")


def letter(index: int) -> str:
    """Give a staging's name: A to Z, then AA."""
    return (letter(index // 26 - 1) if index >= 26 else "") + chr(ord("A") + index % 26)


def clock(time_s: float, days: int) -> str:
    """'09:05', or with its day where there are several: 'day 2, 09:05'. Seconds count as begun minutes."""
    minutes = int(-(-(time_s % DAY_S) // 60))
    text = f"{minutes // 60:02d}:{minutes % 60:02d}"
    return text if days == 1 and time_s < DAY_S else f"day {int(time_s // DAY_S) + 1}, {text}"


def minutes(time_s: float) -> str:
    """'1 h 05 min', '12 min'."""
    whole = round(time_s / 60.0)
    return f"{whole // 60} h {whole % 60:02d} min" if whole >= 60 else f"{whole} min"


def content_of_day(day: CampaignDay, *, full: bool = False) -> Content:
    """Choose what to tell of a day; full: the whole timetable and all reasons."""
    plan = day.plan
    sections: list[Section] = []
    if day.variants:
        sections += [*_stagings(day), *_timetable(day, full=full)]
        sections += _not_fitting(day)
        sections += _helps(day)
        sections.append(_runways(day))
        sections += _rectangles(day)
        sections += _warnings(day, full=full)
    sections += _left_out(day, full=full)
    verdict, headline = _headline(day)
    days = plan.spec.days
    hours = plan.spec.rules.hours
    told = f"{days} days" if days > 1 else "one day"
    title = f"{day.campaign.title} ({told} from {clock(hours.from_s, 1)} to {clock(hours.to_s, 1)})"
    return Content(verdict, headline, title, _summary(day), tuple(sections))


def _headline(day: CampaignDay) -> tuple[Verdict, str]:
    if not day.variants:
        return "infeasible", "NO RUNS"
    if day.plan.left or day.plan.too_long:
        return "infeasible", "DOES NOT FIT"
    late = day.plan.cautious_end_s >= day.plan.spec.days * DAY_S
    without = f", {len(day.left_out)} LEFT OUT" if day.left_out else ""
    return ("undecided", f"FITS, WITH LUCK{without}") if late else ("feasible", f"FITS{without}")


def _summary(day: CampaignDay) -> str:
    plan, stagings = day.plan, day.stagings
    if not day.variants:
        return "No variant of this campaign can be run."
    if not plan.jobs:
        return "No run can be done: the reasons stand below, under what doesn't fit."
    wanted, days = sum(plan.needed), plan.spec.days
    count = len(stagings.stagings)
    fewer = "no fewer do" if count == stagings.at_least else f"at least {stagings.at_least} needed"
    tries = len(plan.timetable.entries)
    valid = f"{100 * plan.spec.valid:.3g} %"
    source = " (errors of the scenarios)" if plan.spec.by_errors else ""
    runs = f"{_count(wanted, 'valid run')} of {_variants(day)}"
    words = [
        f"{runs} from {_count(count, 'staging')} ({fewer}).",
        f"{tries} tries are expected at {valid} valid runs{source}: the last is back at "
        f"{clock(plan.timetable.end_s, days)}; {plan.cautious_tries} tries are enough with 95 %: "
        f"{clock(plan.cautious_end_s, days)}."
        if plan.spec.valid < 1.0
        else f"The last is back at {clock(plan.timetable.end_s, days)}; every run counts as valid.",
    ]
    if plan.spec.spacing_by:
        least, most = plan.spec.rules.least_gap_s, plan.spec.rules.most_gap_s
        to = f"{least:g} s" if most is None else f"{least:g}..{most:g} s"
        words.append(f"Between runs: {to} ({plan.spec.spacing_by}).")
    gap_s = worked_s(plan.spec.rules.hours, plan.timetable.end_s)
    gap_s -= worked_s(plan.spec.rules.hours, max(plan.timetable.at_least_s, 0.0))
    if plan.timetable.exact:
        words.append("No order of the stagings ends sooner, to half a minute.")
    else:
        words.append(f"Another order could end at most {minutes(gap_s)} sooner.")
    return " ".join(words)


def _variants(day: CampaignDay) -> str:
    """'18 variants', and how many more there are that can't be run."""
    out = len(day.left_out)
    return _count(len(day.variants), "variant") + (f" ({out} more can't be run)" if out else "")


def _count(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def _stagings(day: CampaignDay) -> list[Section]:
    rows = []
    for index, one in enumerate(day.stagings.stagings):
        for number, (name, mark) in enumerate(one.marks.items()):
            head = (letter(index), str(len(one.variants))) if number == 0 else ("", "")
            # What stands has no station.
            stands = day.members[one.variants[0]].case.scenario.movers[name].stand is not None
            rows.append(
                (
                    *head, name, "-" if stands else plain(mark.station_m), plain(mark.x_m), plain(mark.y_m),
                    degrees(mark.heading_deg),
                )
            )  # fmt: skip
    header = ("staging", "variants", "mover", "station\nm", "x\nm", "y\nm", "heading\ndeg")
    found: list[Section] = [
        Table("stagings: start marks (site frame)", header, tuple(rows), frozenset({1, 3, 4, 5, 6}))
    ]
    if day.stagings.unsure:
        line = (
            f"Of {_count(day.stagings.unsure, 'variant')} it isn't known from where else they could start: they count "
            "with their own marks, and the least number of stagings doesn't count them."
        )
        found.append(Notes("stagings that aren't known to be fewest", (line,)))
    return found


def _timetable(day: CampaignDay, *, full: bool) -> Iterator[Table]:
    """A table for each day; one row for all tries of a variant that follow each other with nothing between them."""
    plan = day.plan
    groups: list[list[Entry]] = []
    for entry in plan.fits:
        same = groups and groups[-1][-1].job == entry.job and not entry.before and not entry.late
        if same and entry.start_s // DAY_S == groups[-1][-1].start_s // DAY_S:
            groups[-1].append(entry)
        else:
            groups.append([entry])
    shown = groups if full else groups[:SHOWN]
    more = len(groups) - len(shown)
    header = ("go", "back", "staging", "variant", "tries", "before it")
    for number, rows in groupby(shown, key=lambda group: int(group[0].start_s // DAY_S)):
        of = f", day {number + 1}" if plan.spec.days > 1 else ""
        last = more and number == int(shown[-1][0].start_s // DAY_S)
        yield Table(
            f"timetable{of}{f'; {more} more rows: --all' if last else ''}",
            header,
            tuple(_row(day, group) for group in rows),
            frozenset({4}),
        )


def _row(day: CampaignDay, group: list[Entry]) -> tuple[str, ...]:
    first, job = group[0], day.plan.jobs[group[0].job]
    before = ", ".join((*first.before, *(("longer pause",) if first.late else ())))
    ends = (clock(first.start_s % DAY_S, 1), clock(group[-1].back_s % DAY_S, 1))
    return (*ends, letter(job.staging), job.name, str(len(group)), before)


def _not_fitting(day: CampaignDay) -> list[Section]:
    plan = day.plan
    lines = [
        f"{plan.jobs[job].name}: {_count(count, 'try').replace('trys', 'tries')}"
        for job, count in plan.left.items()
    ]
    if lines:
        more = int(plan.timetable.end_s // DAY_S) + 1
        lines.append(f"It takes {more} days of this kind: `days: {more}`.")
    lines += [f"{name}: {why}" for name, why in plan.too_long.items()]
    return [Notes("what doesn't fit", tuple(lines))] if lines else []


def _helps(day: CampaignDay) -> list[Section]:
    lines = tuple(f"{one.what}: {minutes(one.saves_s)} less" for one in day.plan.helps)
    return [Notes("what would help most", lines)] if lines else []


def _runways(day: CampaignDay) -> Table:
    rows = tuple(
        (
            one.mover, one.path, plain(one.from_m), plain(one.to_m), plain(one.length_m),
            day.variants[one.first].name, day.variants[one.last].name,
        )
        for one in day.runways
    )  # fmt: skip
    header = (
        "mover",
        "path",
        "from\nm",
        "to\nm",
        "length\nm",
        "its beginning is of",
        "its end is of",
    )
    return Table(
        "runways that serve every variant, along each path", header, rows, frozenset({2, 3, 4})
    )


def _rectangles(day: CampaignDay) -> Iterator[Table]:
    for one in day.rectangles:
        rows = tuple(
            (
                side.name,
                plain(-side.at_m if side.name in AGAINST else side.at_m),
                day.variants[side.variant].name,
            )
            for side in one.sides
        )
        on = f" on {one.site}" if one.site else ""
        title = (
            f"rectangle of all keep-out zones{on}: {plain(one.length_m, 1)} m by {plain(one.width_m, 1)} m, "
            f"heading {degrees(one.heading_deg)} deg"
        )
        header = ("side", "from the origin, + ahead and left\nm", "is of")
        yield Table(title, header, rows, frozenset({1}))


def _warned(day: CampaignDay) -> Iterator[tuple[str, Message]]:
    """The warnings of the plans from their stagings' marks, each with its variant."""
    for index, variant in day.variants.items():
        for one in day.plan_of(index).warnings:
            if one.severity == "warning":
                yield variant.name, one


def _warnings(day: CampaignDay, *, full: bool) -> list[Section]:
    """Warnings of one kind in a line, as they are told of the first variant that has one; full: of each variant."""
    groups: dict[object, list[tuple[str, Message]]] = {}
    for name, one in _warned(day):
        groups.setdefault(one.text if full else one.code, []).append((name, one))
    lines = []
    for group in groups.values():
        names = list(dict.fromkeys(name for name, _ in group))
        more = f" and {len(names) - 1} more" if len(names) > 1 else ""
        lines.append(f"{names[0]}{more}: {group[0][1].text}. {group[0][1].advice}".strip())
    return [Notes("warnings of the plans", tuple(lines))] if lines else []


def _left_out(day: CampaignDay, *, full: bool) -> list[Section]:
    names_of: dict[str, list[str]] = {}
    for one in day.left_out:
        names_of.setdefault(one.reason, []).append(one.variant.name)
    reasons = list(names_of.items())
    lines = [
        f"{names[0]}{f' and {len(names) - 1} more' if len(names) > 1 else ''}: {reason}"
        for reason, names in (reasons if full else reasons[:SHOWN_REASONS])
    ]
    if len(reasons) > len(lines):
        lines.append(f"{len(reasons) - len(lines)} more reasons: --all")
    title = f"left out: {_count(len(day.left_out), 'variant')} that can't be run"
    return [Notes(title, tuple(lines))] if lines else []


def day_csv(day: CampaignDay) -> str:
    """Write the timetable as CSV, a row for each try; clock times as hh:mm:ss, `fits` no beyond the last day."""
    out = io.StringIO()
    write = csv.writer(out, lineterminator="\n").writerow
    write(
        ("day", "go", "rest", "back", "staging", "variant", "try", "before", "longer_pause", "fits")
    )
    plan = day.plan
    for one in plan.timetable.entries:
        job = plan.jobs[one.job]
        fits = one.start_s < plan.spec.days * DAY_S
        write(
            (
                int(one.start_s // DAY_S) + 1, _precise(one.start_s), _precise(one.end_s),
                _precise(one.back_s), letter(job.staging), job.name, one.number,
                "; ".join(one.before), "yes" if one.late else "no", "yes" if fits else "no",
            )
        )  # fmt: skip
    return out.getvalue()


def _precise(time_s: float) -> str:
    whole = int(time_s % DAY_S)
    return f"{whole // 3600:02d}:{whole // 60 % 60:02d}:{whole % 60:02d}"


def day_text(day: CampaignDay) -> str:
    """Write the day as one JSON document; times in s from the first day's midnight, lengths in m."""
    plan = day.plan
    document: dict[str, Any] = {
        "format": DAY_FORMAT,
        "title": day.campaign.title,
        "days": plan.spec.days,
        "fits": not plan.left and not plan.too_long and bool(day.variants),
        "needed": sum(plan.needed),
        "expected_tries": plan.expected_tries,
        "cautious_tries": plan.cautious_tries,
        "expected_end_s": plan.timetable.end_s,
        "cautious_end_s": plan.cautious_end_s,
        "no_order_ends_before_s": plan.timetable.at_least_s,
        "order_is_exact": plan.timetable.exact,
        "stagings_at_least": day.stagings.at_least,
        "stagings": [
            {
                "name": letter(index),
                "marks": {
                    name: {
                        "station_m": mark.station_m, "x_m": mark.x_m, "y_m": mark.y_m,
                        "heading_deg": mark.heading_deg,
                    }
                    for name, mark in one.marks.items()
                },
                "variants": [day.variants[number].name for number in one.variants],
            }
            for index, one in enumerate(day.stagings.stagings)
        ],
        "timetable": [
            {
                "variant": plan.jobs[one.job].name, "try": one.number,
                "staging": letter(plan.jobs[one.job].staging), "go_s": one.start_s,
                "rest_s": one.end_s, "back_s": one.back_s, "before": list(one.before),
                "longer_pause": one.late,
            }
            for one in plan.timetable.entries
        ],
        "left": {plan.jobs[job].name: count for job, count in plan.left.items()},
        "too_long": list(plan.too_long),
        "helps": [{"what": one.what, "saves_s": one.saves_s} for one in plan.helps],
        "warnings": [{"variant": name, "code": one.code, "text": one.text} for name, one in _warned(day)],
        "left_out": [{"variant": one.variant.name, "reason": one.reason} for one in day.left_out],
        "runways": [
            {
                "mover": one.mover, "path": one.path, "from_m": one.from_m, "to_m": one.to_m,
                "beginning_is_of": day.variants[one.first].name,
                "end_is_of": day.variants[one.last].name,
            }
            for one in day.runways
        ],
        "rectangles": [
            {
                "site": one.site, "heading_deg": one.heading_deg, "length_m": one.length_m,
                "width_m": one.width_m, "corners_m": one.corners,
                "sides": {side.name: day.variants[side.variant].name for side in one.sides},
            }
            for one in day.rectangles
        ],
    }  # fmt: skip
    return json.dumps(document, indent=2, ensure_ascii=False) + "\n"
