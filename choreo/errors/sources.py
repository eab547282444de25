"""All that may be off in one scenario: what its author says, and defaults for what nobody says."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import get_args

from choreo.scenario import ErrorSource, Mover, Scenario, Spread
from choreo.words.kinds import ERRORS, PHASES, ErrorKind

KINDS: tuple[ErrorKind, ...] = get_args(ErrorKind)

# Common practice, no source: what cars with driving robots and self-propelled carriers in good order do, which control
# their speed while they ramp. None: assumed perfect.
DEFAULTS: Mapping[ErrorKind, Spread | None] = {
    "speed held": Spread("normal", 0.0, 0.1 / 3.6),
    "speed wander": None,
    "start along": Spread("normal", 0.0, 0.03),
    "start beside": None,
    "path offset": Spread("normal", 0.0, 0.03),
    "path wander": None,
    "position": Spread("normal", 0.0, 0.02),
    "achieved acceleration": Spread("normal", 1.0, 0.005),
    "achieved braking": Spread("normal", 1.0, 0.01),
    "launch": Spread("normal", 0.0, 0.01),
    "latency": Spread("normal", 0.0, 0.005),
    "sampling": None,
}
# A dummy on a belt is drawn along rails by a motor with a gear: what it does so better. Common practice, no source.
ON_A_BELT: Mapping[ErrorKind, Spread | None] = {
    "speed held": Spread("normal", 0.0, 0.05 / 3.6),
    "speed wander": None,
    "start along": Spread("normal", 0.0, 0.01),
    "start beside": None,
    "path offset": Spread("normal", 0.0, 0.01),
    "path wander": None,
    "position": Spread("normal", 0.0, 0.01),
    "achieved acceleration": Spread("normal", 1.0, 0.005),
    "achieved braking": Spread("normal", 1.0, 0.01),
    "launch": DEFAULTS["launch"],
    "latency": DEFAULTS["latency"],
    "sampling": None,
}


def sources_of(scenario: Scenario, *, only_given: bool = False) -> tuple[ErrorSource, ...]:
    """Give the sources of error of a scenario: by mover, then by trigger, each in the order of kinds.

    only_given: without defaults. The instant of sampling is always among them: it is known, not assumed. What can't
    happen to its owner (the launch of one that a trigger sets off, a speed of one that stands) is left out.
    """
    given = {(one.kind, one.owner): one for one in scenario.errors}
    found = []
    for kind, owner in _possible(scenario):
        source = given.get((kind, owner))
        if source is None and kind == "sampling":
            half = 0.5 / scenario.triggers[owner].sampling_hz
            source = ErrorSource(kind, owner, Spread("uniform", 0.0, half))
        elif source is None and not only_given:
            source = _default(scenario, kind, owner)
        if (
            source is not None and kind == "latency"
        ):  # none is below zero, whatever it was changed to
            least = -scenario.triggers[owner].latency_s
            source = replace(source, spread=replace(source.spread, least=least))
        if source is not None and source != _perfect(source):
            found.append(source)
    return tuple(found)


def _possible(scenario: Scenario) -> Iterator[tuple[ErrorKind, str]]:
    """Every kind of error that each mover and each trigger can have."""
    for name, mover in scenario.movers.items():
        for kind in KINDS:
            if ERRORS[kind].owner == "mover" and _can_have(mover, kind):
                yield kind, name
    for name in scenario.triggers:
        for kind in KINDS:
            if ERRORS[kind].owner == "trigger":
                yield kind, name


def _can_have(mover: Mover, kind: ErrorKind) -> bool:
    if kind in ("start along", "start beside"):
        return True
    if not any(PHASES[phase.kind].moves for phase in mover.programme):
        return False
    if kind == "launch":
        return mover.programme[0].for_trigger is None
    return True


def _default(scenario: Scenario, kind: ErrorKind, owner: str) -> ErrorSource | None:
    mover = scenario.movers.get(owner)
    spread = DEFAULTS[kind]
    if mover is not None and mover.kind == "pedestrian":
        spread = ON_A_BELT[kind]
    if spread is None:
        return None
    if kind in ("start along", "path offset") and scenario.turning_radius_m(owner) is not None:
        return None  # its hinge holds a door
    if kind == "latency":
        # One that acts at once can't act at once more or less.
        spread = replace(spread, size=min(spread.size, scenario.triggers[owner].latency_s / 3.0))
    return ErrorSource(kind, owner, spread, given=False)


def _perfect(source: ErrorSource) -> ErrorSource:
    """The same source as it is when nothing is ever off."""
    middle = ERRORS[source.kind].perfect
    return replace(source, spread=replace(source.spread, middle=middle, size=0.0))
