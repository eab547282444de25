"""What `choreo stress` says: the chance of a valid run, what decides it, where the impacts fall, why runs fail."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from choreo.plans.errors_record import EncounterTold, ErrorsPlan, FirstOrderTold
from choreo.plans.record import Plan
from choreo.report.content import Content, caution_notes
from choreo.report.effects import (
    OUTCOMES,
    effect_words,
    per_cent,
    reading,
    small,
    source_words,
    spread_words,
)
from choreo.report.histogram import histogram_lines
from choreo.report.room import failed_checks
from choreo.report.sections import Notes, Section, Table
from choreo.words.display import how_many
from choreo.words.kinds import ENCOUNTERS, ERRORS, ErrorKind

# Shares below this are told together.
LEAST_SHARE = 0.0005
# What stands before a source that nobody wrote.
ASSUMED = "*"
# A mark whose share of every spread is below this matters not at all; below the next it hardly does.
NO_SHARE, LITTLE_SHARE = 1e-6, 0.01
# So many sources are told with their share in the runs where first order is not valid.
MOST_IN_RUNS = 4
SPREAD_NOTE = (
    "A spread is a standard deviation; `x +/- y` is normal with the standard deviation y, `a..b` uniform, a lone "
    "quantity a standard deviation round what is planned."
)


def errors_content(
    plan: Plan,
    told: ErrorsPlan,
    *,
    wanted: float | None = None,
    beside: Iterable[Section] = (),
    width: int = 100,
) -> Content:
    """Choose what to say of many runs of a plan.

    wanted: the chance that a valid run should have. beside: what else was asked. width: columns.
    """
    chance = told.chance
    enough = wanted is None or chance.ratio >= wanted
    sections: list[Section] = []
    if plan.space is not None and not plan.space.clear:
        sections += failed_checks(plan.space)
    sections += _tries(told)
    for name, one in told.encounters.items():
        sections.append(_where(told, one, width))
        if name in told.first_order:
            sections.append(_shares(told, told.first_order[name], one))
    sections += _causes(told)
    sections += _marks(told)
    sections += beside
    sections += _assumed(told)
    sections += _warnings(told)
    summary = chance_words(told)
    if wanted is not None:
        summary += f" Wanted: {100 * wanted:g} %{'' if enough else ', which it is too rarely'}."
    if plan.fails_checks:
        summary += " Even without errors it must not be run as it stands: a check failed."
    return Content(
        "feasible" if enough else "infeasible",
        f"VALID IN {per_cent(chance.ratio)}",
        plan.title,
        summary,
        (*sections, caution_notes()),
    )


def chance_words(told: ErrorsPlan) -> str:
    """'Valid in 92.4 % of runs (92.1 to 92.6), 1.08 tries a valid run. 10000 runs drawn, seed 1.'."""
    chance = told.chance
    low, high = 100 * chance.low, 100 * chance.high
    digits = 1 if high - low >= 0.1 else 2
    words = f"Valid in {per_cent(chance.ratio)} of runs ({low:.{digits}f} to {high:.{digits}f})"
    if chance.valid:
        tries = chance.runs / chance.valid
        words += f", {tries:.{2 if tries < 10.0 else 0}f} tries a valid run"
    how = "by points of low discrepancy" if told.quasi else "drawn"
    return f"{words}. {told.runs} runs {how}, seed {told.seed}."


def _tries(told: ErrorsPlan) -> Iterator[Section]:
    rows = tuple(
        (
            how_many(one.valid, "valid run"),
            "never" if one.expected is None else f"{one.expected:.1f}",
            "-" if one.enough is None else str(one.enough),
        )
        for one in told.tries
    )
    if rows:
        header = ("wanted", "on average", "enough with 95 %")
        yield Table("tries", header, rows, frozenset({1, 2}))


def _where(told: ErrorsPlan, one: EncounterTold, width: int) -> Notes:
    """How often it is met, and where it lies."""
    words = OUTCOMES[one.measure]
    title = f"{one.encounter}: {words.words}{_of(one)}"
    if one.values is None:
        return Notes(title, ("Met in none of the runs.",))
    values = one.values
    met = per_cent(one.met / told.runs)
    lines = [
        f"met in {met} of runs, inside its tolerance in {per_cent(one.within / told.runs)}; "
        f"mean {reading(values.mean, values.unit)}, spread {small(values.spread, values.unit)}, "
        f"from {reading(values.least, values.unit)} to {reading(values.most, values.unit)}",
        f"{one.mean_time_s:.3f} s after go, spread {small(one.time_spread_s, 's')}"
        + (
            f"; closing at {3.6 * one.mean_closing_mps:.2f} km/h, spread {small(one.closing_spread_mps, 'm/s')}"
            if ENCOUNTERS[one.kind].touches
            else ""
        ),
        *histogram_lines(one, values, width - 2),
    ]
    return Notes(title, tuple(lines))


def _of(one: EncounterTold) -> str:
    if not ENCOUNTERS[one.kind].touches:
        return f" of {one.of} to {one.with_}"
    if one.measure == "side":
        return f" on the side of {one.of}, from its rear"
    return f" on the front of {one.of}, from its middle, + to the left"


def _shares(told: ErrorsPlan, first: FirstOrderTold, one: EncounterTold) -> Table:
    """What decides it: each source with its share, its spread and what it does, the largest first."""
    words = OUTCOMES[one.measure]
    rows = []
    rest = 0.0
    for share in first.shares:
        source = told.sources[share.source]
        if share.share_ratio < LEAST_SHARE:
            rest += share.share_ratio
            continue
        does = effect_words(source, share.derivative, first, words)
        if not share.smooth:
            does = f"{does} (sampled)".strip()
        rows.append(
            (
                ("" if source.given else ASSUMED) + source_words(source),
                per_cent(share.share_ratio),
                spread_words(source),
                small(share.spread, first.unit),
                does,
            )
        )
    if rest > 0.0:
        rows.append(("all others", per_cent(rest), "", "", ""))
    title = (
        f"what moves the {words.words} of {one.encounter}: spread {small(first.spread, first.unit)} "
        "to first order"
    )
    header = ("source", "share", "its spread", "makes", "what it does")
    return Table(title, header, tuple(rows), frozenset({1, 3}), key="shares")


def _causes(told: ErrorsPlan) -> Iterator[Section]:
    rows = []
    for cause in told.causes:
        main = max(cause.sources.items(), key=lambda item: item[1], default=None)
        words = "" if main is None else f"{source_words(told.sources[main[0]])} ({main[1]} runs)"
        rows.append((cause.condition, str(cause.runs), per_cent(cause.runs / told.runs), words))
    if rows:
        header = ("what failed first", "runs", "of all", "most often by")
        yield Table("why runs were not valid", header, tuple(rows), frozenset({1, 2}), key="causes")


def _marks(told: ErrorsPlan) -> Iterator[Section]:
    """How much care each start mark is worth, along its path and beside it."""
    if not told.encounters:
        return
    lines = []
    for owner in dict.fromkeys(one.owner for one in told.sources if one.kind == "start along"):
        along = _mark_words(told, owner, "start along")
        # One that stands beside its mark drives as far beside its path.
        aside = _mark_words(told, owner, "start beside") or _mark_words(told, owner, "path offset")
        words = (
            f"10 cm of start mark {along}"
            if along
            else "along its path its start mark matters not at all"
        )
        lines.append(f"{owner}: {words}{f'; 10 cm beside it {aside}' if aside else ''}")
    if lines:
        yield Notes("start marks: which to measure with care", tuple(lines))


def _mark_words(told: ErrorsPlan, owner: str, kind: ErrorKind) -> str:
    """What 10 cm of it do where they do most, and what that has of the spread; empty where they do nothing."""
    found = [
        (share.share_ratio, share.derivative, first)
        for first in told.first_order.values()
        for share in first.shares
        if told.sources[share.source].kind == kind and told.sources[share.source].owner == owner
    ]
    share, derivative, first = max(found, key=lambda one: one[0], default=(0.0, 0.0, None))
    if first is None or share < NO_SHARE:
        return ""
    moved = small(abs(derivative) * 0.1, first.unit)
    words = OUTCOMES[told.encounters[first.encounter].measure].words
    does = f"move the {words} of {first.encounter} by {moved}"
    if kind == "path offset":  # nobody has written how far it stands beside
        return does
    return f"{does}, {per_cent(share)} of its spread{', hardly anything' if share < LITTLE_SHARE else ''}"


def _assumed(told: ErrorsPlan) -> Iterator[Section]:
    """What nobody wrote."""
    owners: dict[str, list[str]] = {}
    for one in told.sources:
        if not one.given:
            owners.setdefault(f"{ERRORS[one.kind].words} {spread_words(one)}", []).append(one.owner)
    if owners:
        lines = [f"{words}: {', '.join(names)}" for words, names in owners.items()]
        lines.append("Write your own under `errors:`, or leave these out with --only-given.")
        yield Notes(f"{ASSUMED} assumed, common practice, no source", tuple(lines))


def _in_the_runs(told: ErrorsPlan, name: str, one: EncounterTold) -> Iterator[str]:
    """Shares of the spread as the runs have them, where first order is not valid: alone and with others."""
    totals = one.totals or one.shares
    both = [(alone, max(alone, total)) for alone, total in zip(one.shares, totals, strict=True)]
    order = sorted(range(len(both)), key=lambda index: -both[index][1])
    words = [
        f"{source_words(told.sources[index])} {per_cent(both[index][0])} alone, "
        f"{per_cent(both[index][1])} with others"
        for index in order[:MOST_IN_RUNS]
        if both[index][1] >= LITTLE_SHARE
    ]
    if words:
        rest = per_cent(max(0.0, 1.0 - sum(one.shares)))
        yield f"{name}: of its spread in the runs {'; '.join(words)}. {rest} is done only together, or by what wanders"


def _warnings(told: ErrorsPlan) -> Iterator[Section]:
    lines = []
    for one in told.sources:
        if one.cut_ratio > 0.0:
            lines.append(
                f"{source_words(one)}: {per_cent(one.cut_ratio)} of what is written can't be and was cut off"
            )
    for name, met in told.encounters.items():
        if met.disagree:
            lines.append(
                f"{name}: first order and the runs differ by more than their own errors: the plan is not smooth "
                "there, believe the runs"
            )
            lines += _in_the_runs(told, name, met)
        elif name in told.first_order and not told.first_order[name].smooth:
            lines.append(f"{name}: some of its shares were sampled: the plan is not smooth there")
    if not told.encounters:
        lines.append(
            "there is no encounter: a run is valid when nothing touches and nobody leaves its path"
        )
    lines.append(SPREAD_NOTE)
    yield Notes("notes", tuple(lines))
