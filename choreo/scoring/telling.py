"""What `choreo score` says, of one run and of several, as sections."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from choreo.report.content import Content, caution_notes
from choreo.report.effects import per_cent, small
from choreo.report.sections import Notes, Section, Table
from choreo.rules.numbers import told, told_bounds
from choreo.scoring.against import Off
from choreo.scoring.chances import Wald
from choreo.scoring.correcting import NextRun
from choreo.scoring.score import Happened, RunScore
from choreo.scoring.series import SeriesTold, ValueTold
from choreo.scoring.verdicts import Judged, Ruling
from choreo.words.display import how_many, kmh, quantity, seconds
from choreo.words.kinds import Unit, Verdict

VERDICTS: dict[Ruling, Verdict] = {
    "valid": "feasible",
    "invalid": "infeasible",
    "not decidable": "undecided",
}
SIMULATED = "Simulated: no measurement."
# Offs are told where they are more than this (SI; of a ratio in shares of 1).
WORTH: dict[Unit | None, float] = {"m": 0.005, "s": 0.002, "m/s": 0.02 / 3.6, None: 0.002}


def run_content(title: str, one: RunScore, after: NextRun | None) -> Content:
    """Choose what to say of one run."""
    without = f" without {', '.join(one.without)}" if one.without else ""
    judged = f"By {one.set}{without}. " if one.set else ""
    summary = f"{one.name}. {SIMULATED + ' ' if one.simulated else ''}{judged}Time counts from {one.aligned_by}."
    sections: list[Section] = [_rules(one.judged), *_reasons(one.judged)]
    sections += [Notes("what happened", (*_happened(one.happened), *_moments(one)))]
    sections += _apart(one)
    sections += [_against(one.off), *_alike(one), *_next(after), *_remarks(one)]
    return Content(
        VERDICTS[one.ruling], one.ruling.upper(), title, summary, (*sections, caution_notes())
    )


def series_content(
    title: str, told: SeriesTold, scores: Sequence[RunScore], after: NextRun | None
) -> Content:
    """Choose what to say of several runs."""
    ruling: Ruling = "valid"
    if told.invalid:
        ruling = "invalid"
    elif told.undecided:
        ruling = "not decidable"
    headline = f"VALID {told.valid} OF {told.runs}"
    sections: list[Section] = [_runs(scores), *_values(told.values), *_offs(scores), *_next(after)]
    odd = [f"{one.name}: {remark.words}" for one in scores for remark in one.remarks if remark.odd]
    if odd:
        more = (
            ()
            if len(odd) <= 20
            else (f"and {len(odd) - 20} more: `--run FILE` tells all of a run",)
        )
        clock = "times here count from each file's first sample"
        sections.append(Notes("odd in the recordings", (clock, *odd[:20], *more)))
    sections += _remarks(scores[0])
    return Content(
        VERDICTS[ruling], headline, title, _summary(told, scores), (*sections, caution_notes())
    )


def _summary(told: SeriesTold, scores: Sequence[RunScore]) -> str:
    words = f"{told.invalid} invalid, {told.undecided} not decidable."
    if told.chance is not None:
        low, high = per_cent(told.chance.low), per_cent(told.chance.high)
        words += f" A run is valid with a chance of {low} to {high} (95 %, Clopper-Pearson)."
    if told.decision is not None:
        test = Wald()
        what, after = told.decision
        verdict = {
            "accepted": f"accepted after {how_many(after, 'run')}",
            "rejected": f"rejected after {how_many(after, 'run')}",
            "goes on": f"open after {how_many(after, 'run')}",
        }[what]
        words += f" Wald's test of {per_cent(test.good)} valid runs against {per_cent(test.bad)}: {verdict}."
    if told.extra is not None and told.invalid:
        words += (
            f" After a failed run {told.extra[0]} more must be valid: with this share they all are in "
            f"{per_cent(told.extra[1])}."
        )
    acted = sum(any(one.headed is not None for one in score.happened) for score in scores)
    if acted:
        words += f" In {how_many(acted, 'run')} the subject's own system acted: contacts are told as headed for then."
    words += f" Time counts from {scores[0].aligned_by}."
    return f"{words} {SIMULATED}" if any(one.simulated for one in scores) else words


def _off(value: float, unit: Unit | None) -> str:
    """By how much something is off, with its sign; none where it rounds to nothing."""
    text = small(abs(value), unit)
    sign = "" if float(text.split()[0]) == 0.0 else "+" if value > 0.0 else "-"
    return f"{sign}{text}"


def shown(value: float | None, unit: Unit | None) -> str:
    """Give a value as people read it; a dash where there is none."""
    if value is None or not math.isfinite(value):
        return "-"
    return f"{100 * value:.1f} %" if unit is None else quantity(value, unit)


def _shown(one: Judged, value: float | None) -> str:
    """A value of what a rule is of, in the unit that its rule set has for it."""
    if one.rule_unit is None or value is None:
        return shown(value, one.unit)
    return told(round(value, 7), one.rule_unit, one.signal)


def _bounds(one: Judged) -> str:
    if one.rule_unit is not None:
        bounds = told_bounds(one.lower, one.upper, one.rule_unit, one.signal)
        return "" if bounds == "no bound" else bounds
    if one.lower is None and one.upper is None:
        return ""
    if one.lower is None:
        return f"up to {shown(one.upper, one.unit)}"
    if one.upper is None:
        return f"from {shown(one.lower, one.unit)}"
    return f"{shown(one.lower, one.unit).rsplit(' ', 1)[0]}..{shown(one.upper, one.unit)}"


def _rules(judged: Sequence[Judged]) -> Table:
    rows = tuple(
        (
            one.ruling,
            one.rule,
            _shown(one, one.worst),
            _bounds(one),
            _shown(one, one.margin),
            "-" if one.at_s is None else seconds(one.at_s),
            one.source,
        )
        for one in judged
    )
    header = ("ruling", "rule", "worst", "allowed", "margin", "at", "by")
    return Table("rules", header, rows, frozenset({2, 4, 5}))


def _reasons(judged: Sequence[Judged]) -> Iterator[Section]:
    lines = [
        f"{one.rule}: {one.why}" + (f" ({_guard(one)})" if one.guard else "")
        for one in judged
        if one.why
    ]
    if lines:
        yield Notes("why", tuple(lines))


def _guard(one: Judged) -> str:
    band = small(one.guard, one.unit) if one.rule_unit is None else _shown(one, one.guard)
    return f"guard band {band}, 1.65 times the uncertainty; `--simple` compares without"


def _happened(happened: Sequence[Happened]) -> Iterator[str]:
    for one in happened:
        touch = one.touch
        if touch is None:
            if math.isfinite(one.value):
                yield f"{one.encounter}: {_in_words(one)} at {seconds(one.time_s)}"
            else:
                yield f"{one.encounter}: not seen"
        elif touch.time_s is None:
            left = ""
            if one.nearest is not None:
                left = f"; least time to collision {seconds(one.nearest[0])}, at {seconds(one.nearest[1])}"
            yield (
                f"{one.encounter}: no contact; {one.of} and {one.with_} were nearest at {seconds(touch.least_s)}, "
                f"{touch.least_m:.2f} m{left}"
            )
        else:
            on = "front" if touch.front else "side" if touch.side else "rear"
            place = (
                f"{100 * abs(touch.left_m):.1f} cm {'left' if touch.left_m >= 0 else 'right'} of the middle"
                if touch.front
                else f"{touch.from_rear_m:.2f} m from the rear"
            )
            yield (
                f"{one.encounter}: {one.with_} meets the {on} of {one.of} at {seconds(touch.time_s)}, {place}; "
                f"{one.of} at {kmh(touch.of_mps)}, {one.with_} at {kmh(touch.with_mps)}, closing at "
                f"{kmh(touch.closing_mps)}"
            )
            if touch.times > 1:
                yield f"{one.encounter}: they part and touch again, {touch.times} contacts in all; the first counts"
            if one.speed_lost_mps > 0.5 / 3.6:
                yield f"{one.encounter}: {one.of} was {kmh(one.speed_lost_mps)} slower than {one.before}"


def _in_words(one: Happened) -> str:
    unit: Unit = "s" if one.unit == "s" else "m"
    return shown(one.value, unit)


def _moments(one: RunScore) -> Iterator[str]:
    for moment in one.moments:
        left = "" if moment.left_s is None else f", time to collision {seconds(moment.left_s)}"
        yield f"{moment.event} at {seconds(moment.time_s)}{left}: {moment.by}"
        if moment.note:
            yield f"{moment.event}: {moment.note}"
    if one.allowed:
        yield f"impact speed at most, {one.allowed}"
    for why in one.unclear:
        yield f"not found: {why}"


def _apart(one: RunScore) -> Iterator[Section]:
    """What the set asks for besides, and how signals were filtered."""
    lines = [f"filter of {words}" for words in one.filters]
    if one.without:
        lines.append(f"left out as asked: {', '.join(one.without)}; the ruling is without them")
    if one.apart:
        lines.append(f"a recording doesn't say: {', '.join(one.apart)}")
    if lines:
        yield Notes(f"judged by {one.set}", tuple(lines))


def _told_beside(off: Sequence[Off]) -> set[str]:
    """Whose start mark is as far beside its path as it then drives: that is one thing, and told as that."""
    beside = {one.owner: one.off for one in off if one.aspect == "path offset"}
    return {
        one.owner
        for one in off
        if one.aspect == "start beside"
        and abs(one.off - beside.get(one.owner, math.inf)) < WORTH["m"]
    }


def _against(off: Sequence[Off]) -> Table:
    rows = []
    twice = _told_beside(off)
    for one in off:
        if one.aspect == "start beside" and one.owner in twice:
            continue
        if abs(one.off) < WORTH.get(one.unit, 0.0):
            continue
        rows.append(
            (
                one.owner,
                one.what,
                shown(one.planned, one.unit),
                shown(one.recorded, one.unit),
                _off(one.off, one.unit),
                one.points_to,
            )
        )
    header = ("of", "what", "plan", "run", "off", "points to")
    return Table("against the plan", header, tuple(rows), frozenset({2, 3, 4}))


def _alike(one: RunScore) -> Iterator[Section]:
    """How each drove beside its plan, by one number, and by what that is made of."""
    rows = tuple(
        (
            name,
            f"{like.whole:.3f}",
            like.grade,
            *(f"{part:.3f}" for part in (like.corridor, like.phase, like.magnitude, like.slope)),
            seconds(abs(like.late_s)) + (" early" if like.late_s < 0.0 else " late"),
        )
        for name, like in one.alike.items()
    )
    if rows:
        header = ("of", "alike", "grade", "corridor", "phase", "magnitude", "slope", "by phase")
        title = "speed over time beside the plan: how, not when; 1 is the same"
        yield Table(title, header, rows, frozenset({1, 3, 4, 5, 6}))


def _runs(scores: Sequence[RunScore]) -> Table:
    names = [one.encounter for one in scores[0].happened]
    rows = []
    for score in scores:
        worst = [one for one in score.judged if one.ruling == score.ruling != "valid"]
        why = (
            "" if not worst else f"{worst[0].rule}" + (f": {worst[0].why}" if worst[0].why else "")
        )
        values = [_value(one, score) for one in score.happened]
        rows.append((score.name, score.ruling, *values, why))
    header = ("run", "ruling", *names, "first rule that isn't met")
    return Table("runs", header, tuple(rows), frozenset(range(2, 2 + len(names))))


def _value(one: Happened, score: RunScore) -> str:
    unit: Unit | None = next(
        (rule.unit for rule in score.judged if rule.rule.startswith(f"{one.encounter}:")), "m"
    )
    return shown(one.judged_value, unit)


def _values(values: Sequence[ValueTold]) -> Iterator[Section]:
    for one in values:
        unit: Unit = "s" if one.unit == "s" else "m"
        lines = [
            f"mean {shown(one.found.mean, unit)}, median {shown(one.found.median, unit)}, {one.found.count} runs"
        ]
        if one.found.spread is None or one.found.mean_half is None or one.found.next_half is None:
            lines.append("fewer than three runs: no spread is claimed")
        else:
            lines[0] += f", spread {small(one.found.spread, unit)}"
            low, high = (
                shown(one.found.mean + sign * one.found.next_half, unit) for sign in (-1, 1)
            )
            lines.append(
                f"mean to +/- {small(one.found.mean_half, unit)}; the next run from {low} to {high} (95 %)"
            )
        if one.trend is not None:
            clear = "more than chance" if one.trend.clear else "no more than chance"
            lines.append(
                f"from run to run {small(one.trend.slope, unit)}, +/- {small(one.trend.half, unit)}: {clear}"
            )
        if one.outliers:
            lines.append(f"stand out: {', '.join(one.outliers)}")
        if one.foreseen is not None:
            fits = "as foreseen" if one.foreseen_fits else "not what these runs show"
            lines.append(f"stress foresaw a spread of {small(one.foreseen, unit)}: {fits}")
        yield Notes(f"{one.encounter} over the runs", tuple(lines))


def _offs(scores: Sequence[RunScore]) -> Iterator[Section]:
    """What was off, over the runs: mean and extremes."""
    groups: dict[tuple[str, str], list[Off]] = {}
    for score in scores:
        twice = _told_beside(score.off)
        for one in score.off:
            if one.aspect == "start beside" and one.owner in twice:
                continue
            groups.setdefault((one.owner, one.what), []).append(one)
    rows = []
    for (owner, what), found in groups.items():
        unit, values = found[0].unit, [one.off for one in found]
        mean = sum(values) / len(values)
        if max(abs(min(values)), abs(max(values))) < WORTH.get(unit, 0.0):
            continue
        texts = [_off(one, unit) for one in (mean, min(values), max(values))]
        rows.append((owner, what, *texts, found[0].points_to))
    header = ("of", "what", "mean", "least", "most", "points to")
    yield Table("against the plan, off by", header, tuple(rows), frozenset({2, 3, 4}))


def _next(after: NextRun | None) -> Iterator[Section]:
    if after is None:
        return
    if after.verdict != "feasible":
        yield Notes(
            "next run",
            (
                "No setting puts it right from these marks and latencies: `choreo why` says what doesn't fit.",
            ),
        )
        return
    lines = [
        f"{one.what}: set {quantity(one.to_set, one.unit)} (plan {quantity(one.planned, one.unit)}, wholly corrected "
        f"{quantity(one.corrected, one.unit)})"
        for one in after.settings
    ]
    if not lines:
        lines = ["no mark and no setting to change"]
    lines.append(
        f"damped: {per_cent(after.share)} of the correction, since the plan counts as one run beside "
        f"{how_many(after.runs, 'run')}; "
        f"planned anew with {', '.join(f'{what} {quantity(value, unit)}' for what, value, unit in after.measured)}"
    )
    if after.settings and any(what.startswith("latency") for what, _, _ in after.measured):
        lines.append(
            "runs driven so are scored by a plan that has it: write the latencies that `choreo learn` gives into the "
            "scenario and plan it anew"
        )
    yield Notes("next run", tuple(lines))


def _remarks(one: RunScore) -> Iterator[Section]:
    if one.remarks:
        clock = f"times here count from its first sample; go is {one.go_s:.3f} s after that"
        lines = (
            clock,
            *(f"{'ODD: ' if remark.odd else ''}{remark.words}" for remark in one.remarks),
        )
        yield Notes(f"what was inferred of {one.name}", lines)
