"""What a scenario itself asks of a run: every encounter within its tolerance, nothing else touched, tolerances kept.

Where the subject's own system acts before a contact, that is judged by where the subject was headed then.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

import numpy as np

from choreo.errors.keeping import Window, windows_of
from choreo.errors.meetings import Met, meeting
from choreo.errors.motions import NEVER_S
from choreo.recordings.record import Uncertainty
from choreo.scenario import Contact, Gap, Tolerances
from choreo.scoring.contacts import Touch, headed_at, touch_of
from choreo.scoring.run import RecordedRun
from choreo.scoring.verdicts import Judged, Rule, failed, judge, met, undecided
from choreo.words.kinds import MEASURES, Unit
from choreo.words.records import dataclass

# A contact is looked for up to so long (s) after it was planned.
PATIENCE_S = 5.0
NONE = Uncertainty(0.0, 0.0, 0.0, 0.0)


@dataclass(frozen=True, slots=True)
class Reaction:
    """The subject's system acted: when, by what; touches: of each contact, as the subject was headed for it."""

    mover: str
    time_s: float
    event: str
    touches: Mapping[str, Touch | None]


def sure_of(run: RecordedRun, *, simple: bool) -> Uncertainty:
    """Give what guard bands rest on; simple: none."""
    given = run.recording.uncertainty.given
    return NONE if simple or not given else run.recording.uncertainty


def reaction_of(run: RecordedRun, mover: str, time_s: float, event: str) -> Reaction:
    """Give where the mover was headed when its system acted: no contact is asked of it after that."""
    headed = headed_at(run, mover, time_s)
    touches: dict[str, Touch | None] = {}
    for name, one in run.stage.scenario.encounters.items():
        if isinstance(one, Contact) and mover in (one.of, one.with_):
            found = None if headed is None else touch_of(run, one.of, one.with_, one, headed)
            touches[name] = found
    return Reaction(mover, time_s, event, touches)


def judged(
    run: RecordedRun,
    touches: dict[str, Touch | None],
    sure: Uncertainty,
    reaction: Reaction | None = None,
    clauses: Mapping[str, str] | None = None,
) -> list[Judged]:
    """Judge a run by its scenario. touches: of each contact. sure: what guard bands rest on.

    clauses: which clause a tolerance is of that the scenario leaves to its rule set, by encounter.
    """
    found = [_moved(run, name) for name, actor in run.stage.actors.items() if actor.moves]
    for name, one in run.stage.scenario.encounters.items():
        if isinstance(one, Contact):
            found += _contact(run, name, touches[name], sure, reaction)
        else:
            found.append(_along(run, name, sure))
    found += _others(run)
    for name, tolerances in run.stage.scenario.tolerances.items():
        # Those that the rule set has are judged by its own bands and windows.
        if ("movers", name, "tolerances") in run.stage.scenario.places:
            until = reaction.time_s if reaction is not None and reaction.mover == name else None
            found += _kept(run, name, tolerances, sure, until)
    if clauses:
        found = [_by_clause(one, clauses) for one in found if one is not None]
    return [one for one in found if one is not None]


def _by_clause(one: Judged, clauses: Mapping[str, str]) -> Judged:
    return replace(one, source=clauses.get(one.rule.partition(":")[0], one.source))


def touches_of(run: RecordedRun) -> dict[str, Touch | None]:
    """Give what became of each contact, and keep it as the run's own."""
    found = {}
    for name, one in run.stage.scenario.encounters.items():
        if isinstance(one, Contact):
            touch = touch_of(run, one.of, one.with_, one)
            found[name] = touch
            run.performed.met[name] = _met(one, touch)
        else:
            performed = run.performed
            run.performed.met[name] = meeting(
                run.stage, name, performed.motions, performed.spans, performed.acts_s
            )
    _end_holds(run)
    return found


def _end_holds(run: RecordedRun) -> None:
    """A hold up to an encounter ends with that, however its next phase was found."""
    for name, actor in run.stage.actors.items():
        for step in actor.steps:
            met = None if step.until is None else run.performed.met[step.until]
            if met is not None and met.time_s[0] < NEVER_S / 2:
                begins, ends = run.performed.spans[name][step.index]
                run.performed.spans[name][step.index] = (begins, np.minimum(ends, met.time_s))


def _met(one: Contact, touch: Touch | None) -> Met:
    """A touch as an encounter of one run."""
    missed = touch is None or touch.time_s is None
    time_s = NEVER_S if touch is None or touch.time_s is None else touch.time_s
    nan = np.full(1, math.nan)
    if touch is None or missed:
        return Met(nan, np.full(1, NEVER_S), nan, nan, nan, np.zeros(1, dtype=bool), nan, nan)
    value = touch.left_m if one.face == "front" else touch.from_rear_m
    right = touch.front if one.face == "front" else touch.side
    return Met(
        np.array([value]),
        np.array([time_s]),
        np.array([touch.of_mps]),
        np.array([touch.with_mps]),
        np.array([touch.closing_mps]),
        np.array([right]),
        nan,
        nan,
    )


def _line(run: RecordedRun, *keys: str) -> str:
    origin = run.stage.scenario.origin(*keys)
    return f"scenario, line {origin.line}"


def _moved(run: RecordedRun, name: str) -> Judged | None:
    """A mover that should move and never does, or of which nothing was recorded."""
    rule = Rule(f"{name} is driven", None, None, None, _line(run, "movers", name))
    if name in run.missing:
        return undecided(rule, f"{name} was not recorded")
    if float(np.nanmax(run.movers[name].track.speed_mps, initial=0.0)) < 0.1:
        return failed(rule, f"{name} never moves")
    return None


def _contact(
    run: RecordedRun,
    name: str,
    touch: Touch | None,
    sure: Uncertainty,
    reaction: Reaction | None,
) -> Iterator[Judged]:
    planned, one = run.stage.plan.encounters[name], run.stage.scenario.encounters[name]
    if not isinstance(one, Contact):
        return
    low, high = planned.wanted
    rule = Rule(
        f"{name}: impact point on the {one.face} of {one.of}",
        "m",
        low - one.tolerance_m,
        high + one.tolerance_m,
        _line(run, "encounters", name),
    )
    if reaction is not None and name in reaction.touches and not _before(touch, reaction.time_s):
        yield _headed(run, rule, one, reaction, sure, name)
        return
    if touch is None:
        yield undecided(rule, f"{_missing(run, one.of, one.with_)} was not recorded then")
        return
    if touch.already:
        yield failed(rule, "the bodies touch already at go", touch.time_s)
        return
    until = planned.time_s + PATIENCE_S if touch.time_s is None else touch.time_s
    unknown = [
        who for who in (one.of, one.with_) if not run.known(who, 0.0, min(until, planned.time_s))
    ]
    if touch.time_s is None:
        ends = float(run.time_s[-1])
        if ends < planned.time_s:
            yield undecided(
                rule, f"the recording ends {planned.time_s - ends:.2f} s before the planned contact"
            )
        elif unknown:
            yield undecided(rule, f"{unknown[0]} was lost before the contact")
        else:
            near = f"no contact; nearest {touch.least_m:.2f} m at {touch.least_s:.3f} s"
            yield failed(rule, near, touch.least_s)
        return
    if unknown and not run.known(unknown[0], touch.time_s - 0.2, touch.time_s):
        yield undecided(rule, f"{unknown[0]} was lost when the bodies met")
        return
    jumped = run.jumped(touch.time_s, one.of, one.with_)
    if jumped is not None:
        yield undecided(rule, f"{jumped[0]} jumped at {jumped[1]:.3f} s: where it is isn't sure")
        return
    if not (touch.front if one.face == "front" else touch.side):
        yield failed(rule, f"on another face than the {one.face}", touch.time_s)
        return
    value = touch.left_m if one.face == "front" else touch.from_rear_m
    yield judge(rule, value, touch.time_s, _impact_u(run, one, sure))


def _before(touch: Touch | None, time_s: float) -> bool:
    return touch is not None and touch.time_s is not None and touch.time_s <= time_s


def _headed(
    run: RecordedRun, rule: Rule, one: Contact, reaction: Reaction, sure: Uncertainty, name: str
) -> Judged:
    """Where the subject was headed for when its system acted: what comes after is what the test is about."""
    rule = replace(rule, words=f"{rule.words}, as headed for at {reaction.event}")
    touch = reaction.touches[name]
    if touch is None:
        return undecided(rule, f"{_missing(run, one.of, one.with_)} was not recorded then")
    if touch.time_s is None or touch.already:
        return undecided(rule, "what is recorded after that doesn't reach the contact")
    if not (touch.front if one.face == "front" else touch.side):
        return failed(rule, f"on another face than the {one.face}", touch.time_s)
    value = touch.left_m if one.face == "front" else touch.from_rear_m
    return judge(rule, value, reaction.time_s, _impact_u(run, one, sure))


def _impact_u(run: RecordedRun, one: Contact, sure: Uncertainty) -> float:
    """Of an impact point: the places of both bodies, and the heading over the way to the front."""
    reach = run.stage.actors[one.of].mover.body.front_m
    return math.hypot(math.sqrt(2.0) * sure.position_m, sure.heading_rad * reach)


def _missing(run: RecordedRun, *names: str) -> str:
    return next((name for name in names if name in run.missing), names[0])


def _along(run: RecordedRun, name: str, sure: Uncertainty) -> Judged:
    """A gap or a pass."""
    one, planned = run.stage.scenario.encounters[name], run.stage.plan.encounters[name]
    found = run.performed.met[name]
    low, high = planned.wanted
    words = f"{name}: {planned.measure} of {one.of} to {one.with_}"
    line = _line(run, "encounters", name)
    rule = Rule(
        words, MEASURES[planned.measure], low - planned.tolerance, high + planned.tolerance, line
    )
    at = float(found.time_s[0])
    lost = [who for who in (one.of, one.with_) if who in run.missing]
    if lost:
        return undecided(rule, f"{lost[0]} was not recorded")
    if at >= NEVER_S / 2 or not math.isfinite(found.value[0]):
        ends = float(run.time_s[-1])
        if ends < planned.time_s:
            return undecided(rule, f"the recording ends {planned.time_s - ends:.2f} s before it")
        return failed(rule, "it never happens")
    lost = [who for who in (one.of, one.with_) if not run.known(who, at - 0.1, at + 0.1)]
    if lost:
        return undecided(rule, f"{lost[0]} was lost then")
    values = [float(found.value[0])]
    if isinstance(one, Gap) and one.held_until is not None:
        values += [float(found.least[0]), float(found.most[0])]
    worst = min(
        values, key=lambda value: min(value - (rule.lower or 0.0), (rule.upper or 0.0) - value)
    )
    return judge(
        rule, worst, at, _along_u(float(found.closing_mps[0]), found, planned.measure, sure)
    )


def _along_u(closing_mps: float, found: Met, measure: str, sure: Uncertainty) -> float:
    """Of a gap or a pass: both places; of a time also the speed that it is divided by."""
    places = math.sqrt(2.0) * sure.position_m
    if measure in ("distance", "room"):
        return places
    rate = closing_mps if measure == "time to collision" else float(found.of_mps[0])
    if not rate > 0.1:
        return 0.0
    value = float(found.value[0])
    speed = sure.speed_mps * (math.sqrt(2.0) if measure == "time to collision" else 1.0)
    return math.hypot(places, value * speed) / rate


def _others(run: RecordedRun) -> Iterator[Judged]:
    """Bodies that aren't to touch."""
    for pair in run.stage.bystanders:
        rule = Rule(
            f"{pair.a} and {pair.b} don't touch", "m", None, None, "scenario: no such encounter"
        )
        touch = touch_of(run, pair.a, pair.b)
        if touch is None:
            yield undecided(rule, f"{_missing(run, pair.a, pair.b)} was not recorded")
        elif touch.time_s is not None:
            yield failed(rule, "they touch", touch.time_s)
        else:
            yield met(rule, f"nearest {touch.least_m:.2f} m")


def _kept(
    run: RecordedRun, name: str, tolerances: Tolerances, sure: Uncertainty, until_s: float | None
) -> Iterator[Judged]:
    """Speed and path of one mover inside its tolerances. until_s: no longer than that."""
    if name in run.missing or name not in run.movers:
        return
    steady, meets = windows_of(run.stage, run.performed, name, tolerances)
    one = run.movers[name]
    for what, band, u in (
        ("speed", tolerances.speed_mps, sure.speed_mps),
        ("beside", tolerances.beside_m, sure.position_m),
    ):
        if band is None:
            continue
        unit: Unit = "m/s" if what == "speed" else "m"
        words = f"{name}: {'speed off its plan' if what == 'speed' else 'beside its path'}"
        rule = Rule(words, unit, band[0], band[1], _line(run, "movers", name, "tolerances", what))
        values, times, unknown = [], [], False
        for window in _cut((*steady, *meets), until_s):
            during, off = _off(run, name, window, one.track.speed_mps if what == "speed" else None)
            unknown |= not during.any() or not run.known(name, *_ends(window))
            values += off.tolist()
            times += run.time_s[during].tolist()
        if not values or not np.isfinite(values).any():
            yield undecided(rule, f"{name} was not recorded then")
            continue
        margins = [min(value - band[0], band[1] - value) for value in values]
        worst = int(np.nanargmin(margins))
        signal = "speed" if what == "speed" else "lateral deviation"
        found = replace(
            judge(rule, values[worst], times[worst], u),
            signal=signal,
            owner=name,
            from_s=min(times),
            until_s=max(times),
        )
        yield (
            undecided(rule, f"{name} was lost for a part of it")
            if unknown and found.ruling != "invalid"
            else found
        )


def _cut(windows: Sequence[Window], until_s: float | None) -> Iterator[Window]:
    for one in windows:
        if until_s is None:
            yield one
        elif one.from_s[0] <= until_s:
            yield replace(one, until_s=np.minimum(one.until_s, until_s))


def _ends(window: Window) -> tuple[float, float]:
    return float(window.from_s[0]), float(window.until_s[0])


def _off(
    run: RecordedRun, name: str, window: Window, speed_mps: np.ndarray | None
) -> tuple[np.ndarray, np.ndarray]:
    """The samples of a window, and by how much speed (or path) is off at each; a moment is its nearest sample."""
    begins, ends = _ends(window)
    during = (run.time_s >= begins - 1e-9) & (run.time_s <= ends + 1e-9)
    if not during.any() and run.time_s[0] <= begins <= run.time_s[-1]:
        # A moment: the sample before it, since with an encounter the next phase begins.
        during[int(np.searchsorted(run.time_s, begins, side="right")) - 1] = True
    off = run.movers[name].beside_m if speed_mps is None else speed_mps - window.held_mps
    return during, off[during]
