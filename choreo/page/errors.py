"""Errors on the page: where the impacts fall on the body that is hit, what decides it, how the two stand then."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from itertools import pairwise
from typing import Any

from choreo.page.authority import authority_html
from choreo.page.markup import notes_html, section_html, text
from choreo.page.sketch import scale_bar
from choreo.plans.allowed_record import AllowedPlan
from choreo.plans.authority_record import Authority
from choreo.plans.errors_record import (
    Cloud,
    Distribution,
    EncounterTold,
    ErrorsPlan,
    FirstOrderTold,
)
from choreo.plans.record import Plan
from choreo.report.allowed import allowed_sections
from choreo.report.effects import OUTCOMES, per_cent, small, source_words
from choreo.report.errors import ASSUMED, errors_content
from choreo.report.sections import Notes, Table
from choreo.scenario import Body, Scenario
from choreo.words.kinds import ENCOUNTERS, MEASURES, Unit
from choreo.words.records import dataclass

# In px of the drawings: width, room beside an axis, height of bars and of all.
WIDE, EDGE, TOP, BARS, HIGH = 460.0, 22.0, 16.0, 110.0, 176.0
BODY_HIGH = 16.0
# Of the bars of shares: a line's height, where bars begin, their longest; how many there are.
LINE, BEGIN, LONGEST, MOST_SHARES = 22.0, 232.0, 160.0, 8
CLOUD_HIGH, CLOUD_ROOM = 260.0, 1.2
LETTERS = 34
Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Seen:
    """What many runs of a plan gave, how movers stand at encounters in some of them, what can be made good.

    allowed: by what all errors may be multiplied, and each where that was asked.
    """

    told: ErrorsPlan
    clouds: tuple[Cloud, ...] = ()
    authorities: tuple[Authority, ...] = ()
    allowed: AllowedPlan | None = None


def errors_html(scenario: Scenario, plan: Plan, all_seen: Seen) -> str:
    """Draw what many runs of a plan gave."""
    told = all_seen.told
    content = errors_content(plan, told)
    parts = [
        f"<h2>With errors: {text(content.headline.lower())}</h2><p>{text(content.summary)}</p>"
    ]
    seen = {one.encounter: one for one in all_seen.clouds}
    for name, one in told.encounters.items():
        parts.append('<div class="error-figures">')
        if one.values is not None:
            parts.append(_figure(_impacts(scenario, one, one.values), _impacts_words(told, one)))
        if name in told.first_order:
            first = told.first_order[name]
            words = f"What moves the {OUTCOMES[one.measure].words} of {name}: shares of its spread."
            parts.append(_figure(_bars(told, first), words))
        if name in seen and seen[name].of_poses:
            drawn = _cloud(scenario, seen[name])
            words = f"{name} in {len(seen[name].of_poses)} runs, from above, seen from {one.of}."
            parts.append(_figure(drawn, words))
        parts += [authority_html(each) for each in all_seen.authorities if each.encounter == name]
        parts.append("</div>")
    tables = [one for one in content.sections if isinstance(one, Table)]
    notes = [
        Notes(one.title, one.lines)
        for one in content.sections
        if isinstance(one, Notes)
        and one.key is None
        and one.title.split(":")[0] not in told.encounters
    ]
    if all_seen.allowed is not None:
        asked = allowed_sections(all_seen.allowed, told.sources)
        tables += [one for one in asked if isinstance(one, Table) and one.rows]
        notes += [one for one in asked if isinstance(one, Notes)]
    parts += [section_html(one) for one in tables]
    parts += [notes_html(one) for one in notes]
    return f'<section class="errors" aria-label="With errors">{"".join(parts)}</section>'


def cloud_data(clouds: Iterable[Cloud]) -> list[dict[str, Any]]:
    """Give the poses that the plan view draws, to a centimetre and a milliradian."""

    def short(poses: Iterable[tuple[float, float, float]]) -> list[list[float]]:
        return [[round(x, 2), round(y, 2), round(h, 3)] for x, y, h in poses]

    return [
        {"movers": [one.of, one.with_], "poses": [short(one.of_poses), short(one.with_poses)]}
        for one in clouds
    ]


def _figure(drawing: str, words: str) -> str:
    return f"<figure>{drawing}<figcaption>{text(words)}</figcaption></figure>"


def _impacts_words(told: ErrorsPlan, one: EncounterTold) -> str:
    words = OUTCOMES[one.measure]
    where = ""
    if ENCOUNTERS[one.kind].touches:
        where = f" on the {'side' if one.measure == 'side' else 'front'} of {one.of}"
    return (
        f"Where the {words.words} of {one.encounter} lies{where}: inside its tolerance (the band) in "
        f"{per_cent(one.within / told.runs)} of runs."
    )


def _impacts(scenario: Scenario, one: EncounterTold, values: Distribution) -> str:
    """The distribution over the body's own front or side, or over a plain axis."""
    body = scenario.movers[one.of].body
    low, high = _ends(one, body, values)
    scale = (WIDE - 2 * EDGE) / (high - low)
    # On a front, left is left; else more is to the right.
    turned = ENCOUNTERS[one.kind].touches and one.measure != "side"

    def across(value: float) -> float:
        x = EDGE + (value - low) * scale
        return WIDE - x if turned else x

    foot, most = TOP + BARS, max(values.counts)
    band = sorted(
        across(value) for value in (one.wanted[0] - one.tolerance, one.wanted[1] + one.tolerance)
    )
    drawn = [
        f'<rect class="band" x="{band[0]:.1f}" y="{TOP:.1f}" width="{band[1] - band[0]:.1f}" '
        f'height="{BARS:.1f}"/>'
    ]
    for (begin, end), count in zip(pairwise(values.edges), values.counts, strict=True):
        if not count:
            continue
        x0, x1 = sorted((across(begin), across(end)))
        tall = BARS * count / most
        middle = (begin + end) / 2
        inside = one.wanted[0] - one.tolerance <= middle <= one.wanted[1] + one.tolerance
        drawn.append(
            f'<rect class="{"inside" if inside else "outside"}" x="{x0:.1f}" y="{foot - tall:.1f}" '
            f'width="{max(x1 - x0 - 0.5, 0.5):.1f}" height="{tall:.1f}"/>'
        )
    drawn += _axis(one, body, across, foot)
    middle = across((one.wanted[0] + one.wanted[1]) / 2)
    drawn.append(f'<path class="wanted" d="M{middle:.1f} {TOP - 6:.1f}V{foot:.1f}"/>')
    label = _impacts_label(one, values)
    return (
        f'<svg class="errors-drawn" viewBox="0 0 {WIDE:.0f} {HIGH:.0f}" role="img" '
        f'aria-label="{text(label)}">{"".join(drawn)}</svg>'
    )


def _impacts_label(one: EncounterTold, values: Distribution) -> str:
    return (
        f"{one.encounter}: mean {small(values.mean, values.unit)}, spread {small(values.spread, values.unit)}, "
        f"wanted within {small(one.tolerance, values.unit)}"
    )


def _ends(one: EncounterTold, body: Body, values: Distribution) -> tuple[float, float]:
    """From where to where the axis goes."""
    low, high = values.edges[0], values.edges[-1]
    if ENCOUNTERS[one.kind].touches:
        face = (0.0, body.length_m) if one.measure == "side" else _front(body)
        low, high = min(low, face[0]), max(high, face[1])
    low = min(low, one.wanted[0] - 1.2 * one.tolerance)
    high = max(high, one.wanted[1] + 1.2 * one.tolerance)
    return low, high


def _front(body: Body) -> tuple[float, float]:
    return -body.width_m / 2, body.width_m / 2


def _axis(
    one: EncounterTold, body: Body, across: Callable[[float], float], foot: float
) -> list[str]:
    """The body's face below the bars with its shares, or a plain axis with its ends."""
    y = foot + BODY_HIGH + 14
    if not ENCOUNTERS[one.kind].touches:
        ends = [one.wanted[0] - one.tolerance, one.wanted[1] + one.tolerance]
        unit: Unit = MEASURES[one.measure]
        line = f'<path class="face" d="M{EDGE:g} {foot:g}H{WIDE - EDGE:g}"/>'
        return [line, *(_number(across(at), y - 8, small(at, unit)) for at in ends)]
    side = one.measure == "side"
    low, high = (0.0, body.length_m) if side else _front(body)
    x0, x1 = sorted((across(low), across(high)))
    drawn = [
        f'<rect class="face" x="{x0:.1f}" y="{foot:.1f}" width="{x1 - x0:.1f}" height="{BODY_HIGH:g}"/>'
    ]
    for share in (0.0, 0.25, 0.5, 0.75, 1.0):
        at = body.from_rear_of_side(share) if side else body.offset_of_overlap(share)
        drawn.append(_number(across(at), y, f"{100 * share:g} %"))
    names = ("rear", "front") if side else ("left edge", "right edge")
    drawn.append(_number(x0, y + 16, names[0], "start"))
    drawn.append(_number(x1, y + 16, names[1], "end"))
    return drawn


def _number(x: float, y: float, words: str, anchor: str = "middle") -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}">{text(words)}</text>'


def _bars(told: ErrorsPlan, first: FirstOrderTold) -> str:
    """Shares of the spread, the largest first."""
    shown = [one for one in first.shares if one.share_ratio > 0.0][:MOST_SHARES]
    drawn = []
    for index, one in enumerate(shown):
        y = TOP + LINE * index
        source = told.sources[one.source]
        words = source_words(source)
        words = words if len(words) <= LETTERS else f"{words[: LETTERS - 1]}\u2026"
        star = "" if source.given else ASSUMED
        drawn.append(_number(BEGIN - 8, y + 12, f"{star}{words}", "end"))
        long = max(LONGEST * one.share_ratio, 0.5)
        drawn.append(
            f'<rect class="share" x="{BEGIN:g}" y="{y:.1f}" width="{long:.1f}" height="{LINE - 7:g}"/>'
        )
        drawn.append(_number(BEGIN + long + 6, y + 12, per_cent(one.share_ratio), "start"))
    high = TOP + LINE * max(len(shown), 1) + 6
    label = ", ".join(
        f"{source_words(told.sources[one.source])} {per_cent(one.share_ratio)}" for one in shown
    )
    return (
        f'<svg class="errors-drawn" viewBox="0 0 {WIDE:.0f} {high:.0f}" role="img" '
        f'aria-label="{text(label)}">{"".join(drawn)}</svg>'
    )


def _cloud(scenario: Scenario, cloud: Cloud) -> str:
    """The other's outlines in all runs, as the first mover has them; its own way is upwards."""
    of, other = scenario.movers[cloud.of].body, scenario.movers[cloud.with_].body
    outlines = [
        _seen(a, b, other.corners_m) for a, b in zip(cloud.of_poses, cloud.with_poses, strict=True)
    ]
    flat = [point for outline in outlines for point in outline]
    along = [x for x, _ in flat]
    # The end of the first body that is near them; all of a long one would leave little of the cloud.
    near = [
        (max(min(x, max(along) + CLOUD_ROOM), min(along) - CLOUD_ROOM), y) for x, y in of.corners_m
    ]
    xs, ys = [*along, *(x for x, _ in near)], [*(y for _, y in flat), *(y for _, y in near)]
    wide, high = max(ys) - min(ys), max(xs) - min(xs)
    scale = min((WIDE - 2 * EDGE) / wide, (CLOUD_HIGH - 3 * EDGE) / high)
    middle = (max(xs) + min(xs)) / 2, (max(ys) + min(ys)) / 2

    def put(point: Point) -> str:
        x, y = point
        return f"{WIDE / 2 - (y - middle[1]) * scale:.1f},{CLOUD_HIGH / 2 - (x - middle[0]) * scale:.1f}"

    def polygon(points: Iterable[Point], kind: str) -> str:
        return f'<polygon class="{kind}" points="{" ".join(put(one) for one in points)}"/>'

    drawn = [polygon(of.corners_m, "of"), *(polygon(one, "with") for one in outlines)]
    bar = scale_bar(60.0 / scale, scale, CLOUD_HIGH)
    label = f"{cloud.with_} as {cloud.of} has it at {cloud.encounter}, in {len(outlines)} runs"
    return (
        f'<svg class="errors-drawn" viewBox="0 0 {WIDE:.0f} {CLOUD_HIGH:.0f}" role="img" '
        f'aria-label="{text(label)}">{"".join(drawn)}{bar}</svg>'
    )


def _seen(
    here: tuple[float, float, float], there: tuple[float, float, float], corners: Iterable[Point]
) -> list[Point]:
    """A body's corners at one pose in the frame of another, m."""
    dx, dy = there[0] - here[0], there[1] - here[1]
    cos, sin = math.cos(here[2]), math.sin(here[2])
    turn = there[2] - here[2]
    ahead, left = cos * dx + sin * dy, cos * dy - sin * dx
    return [
        (
            ahead + math.cos(turn) * x - math.sin(turn) * y,
            left + math.sin(turn) * x + math.cos(turn) * y,
        )
        for x, y in corners
    ]
