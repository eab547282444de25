"""Cross-checks between the parts of a scenario: who refers to what, and whether it is there."""

from __future__ import annotations

from collections.abc import Mapping

from choreo.scenario.making.draft import Draft
from choreo.scenario.records.scenario import Contact, Encounter, Gap, Mover, PathSpec, Trigger
from choreo.scenario.written.scenario import EncounterWritten, PassWritten
from choreo.words.display import short_kmh
from choreo.words.kinds import CONDITIONS


def check_encounters(draft: Draft, written: Mapping[str, EncounterWritten]) -> None:
    """Both movers exist and differ; the first of a pass is one of them.

    written: as its author wrote them, since one of a mover that isn't there can't be made.
    """
    for name, encounter in written.items():
        keys = ("encounters", name)
        for key, mover in (("of", encounter.of), ("with", encounter.with_)):
            if mover not in draft.movers:
                draft.unknown((*keys, key), "mover", mover, draft.movers)
        if encounter.of == encounter.with_:
            draft.fault("scenario.itself", keys, what="encounter", name=name, mover=encounter.of)
        pair = (encounter.of, encounter.with_)
        known = all(mover in draft.movers for mover in pair)
        if isinstance(encounter, PassWritten) and known and encounter.first not in pair:
            draft.fault(
                "scenario.first-not-there",
                (*keys, "first"),
                first=encounter.first,
                of=encounter.of,
                with_=encounter.with_,
            )


def check_triggers(
    draft: Draft,
    triggers: Mapping[str, Trigger],
    encounters: Mapping[str, Encounter],
    movers: Mapping[str, Mover],
) -> dict[str, Trigger]:
    """Fill in who waits for each trigger and what it counts to."""
    from_names = {}
    waiting = _waiting(movers)
    for name, trigger in triggers.items():
        keys = ("triggers", name)
        acts_on = tuple(waiting.get(name, ()))
        if not acts_on:
            draft.fault("scenario.unused-trigger", keys, severity="warning", trigger=name)
        watched = movers.get(trigger.watch)
        if watched is None and trigger.watch not in draft.movers:
            draft.unknown((*keys, "watch"), "mover", trigger.watch, draft.movers)
        if watched is not None and trigger.during is not None:
            # What needn't be settled may be looked for in a ramp too.
            moving = CONDITIONS[trigger.condition].anywhere
            kinds = ("hold", "ramp", "stop") if moving else ("hold",)
            phases = [phase.name for phase in watched.programme if phase.kind in kinds]
            if trigger.during not in phases and draft.movers[trigger.watch].whole:
                what = f"{'hold, ramp or stop' if moving else 'hold'} of {trigger.watch}"
                draft.unknown((*keys, "during"), what, trigger.during, phases)
        if watched is not None and trigger.condition == "speed":
            _check_speed(draft, name, trigger, watched)
        to = trigger.to
        if CONDITIONS[trigger.condition].to_mover:
            _check_measured_to(draft, name, trigger)
        elif trigger.watch in draft.movers:
            to = _counts_down_to(draft, name, trigger, encounters)
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


def _check_speed(draft: Draft, name: str, trigger: Trigger, watched: Mover) -> None:
    """A speed is passed only if the watched mover's programme goes from one side of it to the other."""
    keys = ("triggers", name, "when", "speed")
    start, setting = watched.start.speed_mps, trigger.setting
    ends = [phase.to for phase in watched.programme if phase.kind == "ramp"]
    fastest = max([start, *(min(to.hi, watched.limits.speed_mps) for to in ends)])
    why = None
    if setting.lo > fastest:
        why = f"{trigger.watch} never goes faster than {short_kmh(fastest)}"
    elif setting.hi <= 0:
        why = f"{trigger.watch} has it while it stands"
    elif setting.fixed and setting.lo == start:
        why = f"{trigger.watch} starts with it"
    if why is not None:
        shown = short_kmh(setting.lo if setting.lo > fastest else setting.hi)
        draft.fault("scenario.speed-not-passed", keys, trigger=name, setting=shown, why=why)
    elif setting.fixed and any(to.fixed and to.lo == setting.lo for to in ends):
        draft.fault(
            "scenario.speed-at-end",
            keys,
            severity="warning",
            trigger=name,
            setting=short_kmh(setting.lo),
            mover=trigger.watch,
        )


def _check_measured_to(draft: Draft, name: str, trigger: Trigger) -> None:
    """The mover that a gap is measured to exists, and is another than the watched one."""
    keys = ("triggers", name, "when", "to")
    if trigger.to == trigger.watch:
        draft.fault("scenario.itself", keys, what="trigger", name=name, mover=trigger.watch)
    elif trigger.to is not None and trigger.to not in draft.movers:
        draft.unknown(keys, "mover", trigger.to, draft.movers)


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
    draft: Draft, name: str, trigger: Trigger, encounters: Mapping[str, Encounter]
) -> str | None:
    if trigger.to is not None and draft.names.get(trigger.to) != "encounter":
        draft.unknown(("triggers", name, "to"), "encounter", trigger.to, draft.named("encounter"))
        return None
    if not CONDITIONS[trigger.condition].to_encounter:
        return trigger.to
    if trigger.to not in encounters and len(encounters) < len(draft.named("encounter")):
        return None  # a faulty encounter may be the one
    own = [key for key, one in encounters.items() if trigger.watch in (one.of, one.with_)]
    keys = ("triggers", name)
    if trigger.to is not None:
        if trigger.to not in own:
            draft.unknown((*keys, "to"), f"encounter of {trigger.watch}", trigger.to, own)
            return None
        return trigger.to
    if len(own) == 1:
        return own[0]
    if not own:
        draft.fault(
            "scenario.unknown-name",
            keys,
            what=f"encounter of {trigger.watch}",
            name="(any)",
            suggestion=f"Give {trigger.watch} an encounter, or use `station`, `speed` or `time`.",
        )
    else:
        draft.fault(
            "scenario.missing-key", keys, key="to", where=f"trigger {name} (several encounters)"
        )
    return None


def check_movers(
    draft: Draft,
    movers: Mapping[str, Mover],
    paths: Mapping[str, PathSpec],
    encounters: Mapping[str, Encounter],
) -> None:
    """Somebody is there; paths exist; what only stands has no programme; an open place is placed by something."""
    if draft.document.data.get("movers") == {}:
        draft.fault(
            "scenario.bad-value",
            ("movers",),
            where="movers",
            what="there is nobody in it",
            instead="Write at least one mover, `subject: {...}`.",
        )
    for name, mover in movers.items():
        keys = ("movers", name)
        if mover.path is None and mover.stand is None:
            draft.fault("scenario.no-path", keys, mover=name)
        elif mover.path is not None and mover.stand is not None:
            draft.fault("scenario.not-together", keys, where=name, first="`path`", second="`stand`")
        elif mover.path is not None and mover.path not in draft.paths and draft.paths_known:
            draft.unknown((*keys, "path"), "path", mover.path, draft.paths)
        if mover.stand is not None and mover.programme:
            draft.fault("scenario.stands-but-moves", (*keys, "programme"), mover=name)
        if mover.start.speed_mps > 0 and not mover.programme:
            draft.fault("scenario.rolls-without-programme", (*keys, "start", "speed"), mover=name)
        if not mover.programme and mover.path is not None and not mover.start.station.fixed:
            met = any(
                name in (one.of, one.with_) and isinstance(one, (Contact, Gap))
                for one in encounters.values()
            )
            if not met:
                draft.fault("scenario.start-not-fixed", keys, mover=name)
