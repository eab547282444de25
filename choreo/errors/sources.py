"""All that may be off in one scenario: what its author says, and defaults for what nobody says."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import get_args

from choreo.scenario import ErrorSource, Mover, Scenario, Spread
from choreo.words.kinds import ERRORS, ErrorKind

KINDS: tuple[ErrorKind, ...] = get_args(ErrorKind)

# Common practice, no source: what path-following robots and target carriers in good order do.
DEFAULTS: Mapping[ErrorKind, Spread] = {
    "speed held": Spread("normal", 0.0, 0.2 / 3.6),
    "start along": Spread("normal", 0.0, 0.03),
    "path offset": Spread("normal", 0.0, 0.03),
    "position": Spread("normal", 0.0, 0.02),
    "achieved acceleration": Spread("normal", 1.0, 0.02),
    "achieved braking": Spread("normal", 1.0, 0.02),
    "launch": Spread("normal", 0.0, 0.01),
    "latency": Spread("normal", 0.0, 0.005),
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
        elif source is None and kind in DEFAULTS and not only_given:
            source = ErrorSource(kind, owner, _default(scenario, kind, owner), given=False)
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
    if not any(phase.kind in ("ramp", "hold", "stop") for phase in mover.programme):
        return False
    if kind == "launch":
        return mover.programme[0].for_trigger is None
    return True


def _default(scenario: Scenario, kind: ErrorKind, owner: str) -> Spread:
    spread = DEFAULTS[kind]
    if kind != "latency":
        return spread
    return Spread(spread.shape, spread.middle, spread.size, -scenario.triggers[owner].latency_s)


def _perfect(source: ErrorSource) -> ErrorSource:
    """The same source as it is when nothing is ever off."""
    middle = 1.0 if ERRORS[source.kind].unit is None else 0.0
    spread = Spread(source.spread.shape, middle, 0.0, source.spread.least)
    return ErrorSource(source.kind, source.owner, spread, source.over, source.given)
