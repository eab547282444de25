"""One recording scored: the ruling with each rule's worst value, what happened, what was off the plan."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field

import numpy as np

from choreo.errors.stage import Stage
from choreo.recordings.record import Recording, Remark, Uncertainty
from choreo.rules.applied import Rules
from choreo.rules.asked import encounter_tolerance
from choreo.rules.records import Band, Instant, Settle, Shape
from choreo.scenario import Contact, Encounter
from choreo.scoring.against import Off, against_plan
from choreo.scoring.by_rules import Asked, judged_by_rules
from choreo.scoring.contacts import Touch
from choreo.scoring.curves import Likeness, speeds_alike
from choreo.scoring.judging import Reaction, judged, reaction_of, sure_of, touches_of
from choreo.scoring.meant import allowed_impact
from choreo.scoring.moments import Moment, Moments, bare_moments, moments_of, unknown_events
from choreo.scoring.onsets import Reading
from choreo.scoring.pairs import pair_of
from choreo.scoring.reacting import left_to_its_drive
from choreo.scoring.run import RecordedRun, run_of
from choreo.scoring.signals import signals_of
from choreo.scoring.verdicts import Judged, Ruling, overall
from choreo.words import Origin
from choreo.words.display import seconds
from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class Happened:
    """What became of one encounter, SI; touch: of a contact. value: in the encounter's unit, nan where it is missed.

    speed_lost_mps: how much slower than before the first was at the contact: than at `before`, T0 or a hold. headed:
    the value as the subject was headed for when its system acted, None: it didn't before that. nearest: where a contact
    was avoided the least time to collision and when that was, None where they pass each other.
    """

    encounter: str
    of: str
    with_: str
    face: str
    touch: Touch | None
    time_s: float
    value: float
    speed_lost_mps: float
    before: str = ""
    unit: str = ""
    headed: float | None = None
    nearest: tuple[float, float] | None = None

    @property
    def judged_value(self) -> float:
        """Give the value that counts: as headed for, where the subject's system acted before."""
        return self.value if self.headed is None else self.headed


@dataclass(frozen=True, slots=True)
class Options:
    """How runs are judged. simple: without a guard band. reading: what a filter's cut-off is that of.

    without: ids of rules that are left out.
    """

    simple: bool = False
    reading: Reading = "each pass"
    without: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class RunScore:
    """One run as scored. aligned_by: what time counts from, in words. moments: what happened when.

    filters: what was filtered, and how. apart: rules of the set of which a recording says nothing, and `without`: those
    that were left out. set: what it was judged by, empty without a rule set. go_s: go after the first sample.
    allowed: how fast the impact may be by the rule set, in words. alike: how each mover drove beside its plan.
    """

    name: str
    simulated: bool
    ruling: Ruling
    judged: tuple[Judged, ...]
    happened: tuple[Happened, ...]
    off: tuple[Off, ...]
    remarks: tuple[Remark, ...]
    aligned_by: str
    moments: tuple[Moment, ...] = ()
    filters: tuple[str, ...] = ()
    apart: tuple[str, ...] = ()
    without: tuple[str, ...] = ()
    unclear: tuple[str, ...] = ()
    set: str = ""
    go_s: float = 0.0
    allowed: str = ""
    alike: Mapping[str, Likeness] = field(default_factory=dict)

    def value_of(self, encounter: str) -> float:
        """Give the value of an encounter that counts, nan where it is missed."""
        return next(one.judged_value for one in self.happened if one.encounter == encounter)


def score(
    stage: Stage,
    recording: Recording,
    place: Origin,
    rules: Rules | None = None,
    options: Options | None = None,
) -> tuple[RunScore, RecordedRun]:
    """Score one recording of a plan; give the run too. place: of its description, for faults. rules: of its scenario.

    Raises ChoreoError: another mover, another place, no launch to count from.
    """
    options = options or Options()
    run = run_of(stage, recording, place)
    touches = touches_of(run)
    sure = sure_of(run, simple=options.simple)
    found: list[Judged] = []
    if rules is None:
        moments = bare_moments(run)
        subject = _subject_of(stage)
        touch = next((touches[key] for key in touches if subject in _pair(stage, key)), None)
        reaction = _reaction(run, subject, moments, touch)
        apart: tuple[str, ...] = ()
        filters: tuple[str, ...] = ()
    else:
        signals = signals_of(run, rules.cast, sure)
        contact = rules.cast.contact()
        touch = None if contact is None else touches.get(contact[0])
        moments = moments_of(run, rules, signals, touch, options.reading)
        reaction = _reaction(run, rules.cast.movers.get("subject"), moments, touch)
        if contact is not None and reaction is not None:
            touch = reaction.touches.get(contact[0])
        asked = Asked(sure, options.reading, options.without)
        held = judged_by_rules(run, rules, signals, moments, touch, asked)
        apart, filters = held.apart, held.filters
        found += held.judged
    clauses = {} if rules is None else _clauses(stage, rules)
    found = [*judged(run, touches, sure, reaction, clauses), *found]
    if reaction is not None:
        run = left_to_its_drive(run, reaction.mover, reaction.time_s)
    happened = tuple(
        _happened(run, name, touches.get(name), moments, reaction)
        for name in stage.scenario.encounters
    )
    told = RunScore(
        recording.name,
        recording.simulated,
        overall(found),
        tuple(found),
        happened,
        tuple(against_plan(run)),
        (*run.remarks, *_acted(reaction), *_strange(run), *_empty(rules)),
        run.aligned_by,
        moments.told,
        filters,
        apart,
        options.without,
        moments.unclear,
        "" if rules is None else f"{rules.set.named}, {rules.cast.family.name}",
        -float(run.time_s[0]),
        "" if rules is None else allowed_impact(stage, rules),
        speeds_alike(run),
    )
    return told, run


def _subject_of(stage: Stage) -> str | None:
    """The mover under test, where there is just one."""
    found = [name for name, one in stage.scenario.movers.items() if one.kind == "subject"]
    return found[0] if len(found) == 1 else None


def _pair(stage: Stage, encounter: str) -> frozenset[str]:
    return stage.plan.encounters[encounter].pair


def _reaction(
    run: RecordedRun, subject: str | None, moments: Moments, touch: Touch | None
) -> Reaction | None:
    """The subject's system, where it acted before anything was touched. touch: of the subject."""
    at = moments.reacted_s
    if at is None or subject is None:
        return None
    if touch is not None and touch.time_s is not None and touch.time_s <= at:
        return None
    event = next(one.event for one in moments.told if one.time_s == at)
    return reaction_of(run, subject, at, event)


def _clauses(stage: Stage, rules: Rules) -> dict[str, str]:
    """Which clause the tolerance of an encounter is of that the scenario leaves to its rule set."""
    found = {}
    for name, one in stage.scenario.encounters.items():
        if ("encounters", name, "tolerance") in stage.scenario.places:
            continue
        asked = encounter_tolerance(rules.cast, name, one)
        if asked is not None:
            found[name] = asked[1].words
    return found


def _acted(reaction: Reaction | None) -> tuple[Remark, ...]:
    if reaction is None:
        return ()
    words = (
        f"{reaction.event} at {seconds(reaction.time_s)}: what {reaction.mover} did from then on is its own system's, "
        "no error of its drive, and nothing is learnt of it"
    )
    return (Remark(words),)


def _strange(run: RecordedRun) -> tuple[Remark, ...]:
    return tuple(
        Remark(f"event {name}: neither go, nor a trigger, nor a moment that rules know", odd=True)
        for name in unknown_events(run)
    )


def _empty(rules: Rules | None) -> tuple[Remark, ...]:
    """A family that asks nothing of a recording, so that nobody takes its silence for a valid run."""
    kinds = Band | Instant | Shape | Settle
    if rules is None or rules.cast.family.impact is not None:
        return ()
    if any(isinstance(rule, kinds) for rule in rules.cast.family.rules):
        return ()
    words = (
        f"{rules.set.named}, {rules.cast.family.name}: no rule there says how a run is to be driven"
    )
    return (Remark(words, odd=True),)


def _happened(
    run: RecordedRun,
    name: str,
    touch: Touch | None,
    moments: Moments,
    reaction: Reaction | None,
) -> Happened:
    one, found = run.stage.scenario.encounters[name], run.performed.met[name]
    face = one.face if isinstance(one, Contact) else ""
    planned = run.stage.plan.encounters[name]
    before, when = float("nan"), ""
    at = moments.times_s.get("T0")
    if at is not None and one.of in run.movers and at <= float(found.time_s[0]):
        before = float(np.interp(at, run.time_s, run.movers[one.of].track.speed_mps))
        when = "at T0"
    elif run.held_mps.get(one.of):
        before, when = max(run.held_mps[one.of].values()), "in its hold"
    lost = before - float(found.of_mps[0]) if planned.touches else float("nan")
    return Happened(
        name,
        one.of,
        one.with_,
        face,
        touch,
        float(found.time_s[0]),
        float(found.value[0]),
        lost,
        when,
        planned.unit,
        _headed(name, one, reaction),
        _nearest(run, one.of, one.with_) if touch is not None and touch.time_s is None else None,
    )


def _nearest(run: RecordedRun, of: str, other: str) -> tuple[float, float] | None:
    """The least time to collision of two that didn't meet, and when; None where it isn't known or they pass."""
    pair = None if of not in run.movers else pair_of(run, of, other, Uncertainty())
    if pair is None:
        return None
    known = np.isfinite(pair.left_s) & (pair.time_s >= 0.0)
    if not known.any() or (pair.gap_m[pair.time_s >= 0.0] < 0.0).any():
        return None
    least = int(np.argmin(np.where(known, pair.left_s, np.inf)))
    return float(pair.left_s[least]), float(pair.time_s[least])


def _headed(name: str, one: Encounter, reaction: Reaction | None) -> float | None:
    """Where a contact would have been; nan where that isn't known; None where nothing acted before it."""
    if reaction is None or name not in reaction.touches or not isinstance(one, Contact):
        return None
    touch = reaction.touches[name]
    if touch is None or touch.time_s is None:
        return float("nan")
    return touch.left_m if one.face == "front" else touch.from_rear_m
