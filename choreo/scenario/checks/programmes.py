"""Cross-checks between the parts of a scenario: who refers to what, and whether it is there."""

from __future__ import annotations

from collections.abc import Mapping

from choreo.scenario.making.making import Making
from choreo.scenario.records.scenario import Contact, Encounter, Gap, Mover, Pass, PathSpec, Trigger


def check_encounters(making: Making, encounters: Mapping[str, Encounter], movers: set[str]) -> None:
    """Both movers exist and differ; the first of a pass is one of them."""
    for name, encounter in encounters.items():
        keys = ("encounters", name)
        for key, mover in (("of", encounter.of), ("with", encounter.with_)):
            if mover not in movers:
                making.unknown((*keys, key), "mover", mover, movers)
        if encounter.of == encounter.with_:
            making.fault("scenario.itself", keys, what="encounter", name=name, mover=encounter.of)
        if isinstance(encounter, Pass) and encounter.first not in (encounter.of, encounter.with_):
            making.fault(
                "scenario.first-not-there",
                (*keys, "first"),
                first=encounter.first,
                of=encounter.of,
                with_=encounter.with_,
            )


def check_triggers(
    making: Making,
    triggers: Mapping[str, Trigger],
    encounters: Mapping[str, Encounter],
    movers: Mapping[str, Mover],
) -> dict[str, Trigger]:
    """Fill in who waits for each trigger and which encounter it counts down to."""
    from_names = {}
    waiting = _waiting(movers)
    for name, trigger in triggers.items():
        keys = ("triggers", name)
        acts_on = tuple(waiting.get(name, ()))
        if not acts_on:
            making.fault("scenario.unused-trigger", keys, severity="warning", trigger=name)
        watched = movers.get(trigger.watch)
        if watched is None and trigger.watch not in making.movers:
            making.unknown((*keys, "watch"), "mover", trigger.watch, making.movers)
        if watched is not None and trigger.during is not None:
            phases = [phase.name for phase in watched.programme if phase.kind == "hold"]
            if trigger.during not in phases and making.movers[trigger.watch].whole:
                making.unknown(
                    (*keys, "during"), f"hold of {trigger.watch}", trigger.during, phases
                )
        if watched is not None and trigger.condition == "speed":
            _check_speed(making, name, trigger, watched)
        to = trigger.to
        if trigger.watch in making.movers:
            to = _counts_down_to(making, name, trigger, encounters)
        from_names[name] = Trigger(
            trigger.watch,
            trigger.condition,
            trigger.setting,
            to,
            trigger.latency_s,
            trigger.sampling_hz,
            trigger.during,
            acts_on,
        )
    return from_names


def _check_speed(making: Making, name: str, trigger: Trigger, watched: Mover) -> None:
    """A speed is passed only if the watched mover's programme goes from one side of it to the other."""
    keys = ("triggers", name, "when", "speed")
    start, setting = watched.start.speed_mps, trigger.setting
    ends = [phase.to for phase in watched.programme if phase.kind == "ramp"]
    fastest = max([start, *(min(to.hi, watched.limits.speed_mps) for to in ends)])
    why = None
    if setting.lo > fastest:
        why = f"{trigger.watch} never goes faster than {_kmh(fastest)}"
    elif setting.hi <= 0:
        why = f"{trigger.watch} has it while it stands"
    elif setting.fixed and setting.lo == start:
        why = f"{trigger.watch} starts with it"
    if why is not None:
        told = _kmh(setting.lo if setting.lo > fastest else setting.hi)
        making.fault("scenario.speed-not-passed", keys, trigger=name, setting=told, why=why)
    elif setting.fixed and any(to.fixed and to.lo == setting.lo for to in ends):
        making.fault(
            "scenario.speed-at-end",
            keys,
            severity="warning",
            trigger=name,
            setting=_kmh(setting.lo),
            mover=trigger.watch,
        )


def _kmh(speed_mps: float) -> str:
    return f"{speed_mps * 3.6:.4g} km/h"


def _waiting(movers: Mapping[str, Mover]) -> dict[str, list[str]]:
    """Who waits for each trigger, or holds until it."""
    waiting: dict[str, list[str]] = {}
    for name, mover in movers.items():
        awaited = {phase.for_trigger for phase in mover.programme}
        awaited |= {
            phase.until.name
            for phase in mover.programme
            if phase.until is not None and phase.until.kind == "trigger"
        }
        for trigger in awaited - {None}:
            waiting.setdefault(str(trigger), []).append(name)
    return waiting


def _counts_down_to(
    making: Making, name: str, trigger: Trigger, encounters: Mapping[str, Encounter]
) -> str | None:
    if trigger.to is not None and making.names.get(trigger.to) != "encounter":
        known = [key for key, kind in making.names.items() if kind == "encounter"]
        making.unknown(("triggers", name, "to"), "encounter", trigger.to, known)
        return None
    if trigger.condition not in ("distance", "time to collision"):
        return trigger.to
    if trigger.to not in encounters and len(encounters) < list(making.names.values()).count(
        "encounter"
    ):
        return None  # a faulty encounter may be the one
    own = [key for key, one in encounters.items() if trigger.watch in (one.of, one.with_)]
    keys = ("triggers", name)
    if trigger.to is not None:
        if trigger.to not in own:
            making.unknown((*keys, "to"), f"encounter of {trigger.watch}", trigger.to, own)
            return None
        return trigger.to
    if len(own) == 1:
        return own[0]
    if not own:
        making.fault(
            "scenario.unknown-name",
            keys,
            what=f"encounter of {trigger.watch}",
            name="(any)",
            suggestion=f"Give {trigger.watch} an encounter, or use `station`, `speed` or `time`.",
        )
    else:
        making.fault(
            "scenario.missing-key", keys, key="to", where=f"trigger {name} (several encounters)"
        )
    return None


def check_movers(
    making: Making,
    movers: Mapping[str, Mover],
    paths: Mapping[str, PathSpec],
    encounters: Mapping[str, Encounter],
) -> None:
    """Paths exist; a thing that only stands has no programme; an open standing place is placed by something."""
    for name, mover in movers.items():
        keys = ("movers", name)
        if mover.path is None and mover.stand is None:
            making.fault("scenario.no-path", keys, mover=name)
        elif mover.path is not None and mover.stand is not None:
            making.fault(
                "scenario.not-together", keys, where=name, first="`path`", second="`stand`"
            )
        elif mover.path is not None and mover.path not in making.paths and making.paths_known:
            making.unknown((*keys, "path"), "path", mover.path, making.paths)
        if mover.stand is not None and mover.programme:
            making.fault("scenario.stands-but-moves", (*keys, "programme"), mover=name)
        if mover.start.speed_mps > 0 and not mover.programme:
            making.fault("scenario.rolls-without-programme", (*keys, "start", "speed"), mover=name)
        if not mover.programme and mover.path is not None and not mover.start.station.fixed:
            met = any(
                name in (one.of, one.with_) and isinstance(one, (Contact, Gap))
                for one in encounters.values()
            )
            if not met:
                making.fault("scenario.start-not-fixed", keys, mover=name)
