"""A phase `follow` in step with another mover's progress, written out: a ramp, a hold, and the law that drives them.

By plan it is an ordinary ramp and hold; the law says what becomes of it when the other one is not where it is by plan.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from choreo.scenario.making.draft import Draft
from choreo.scenario.records.in_step import InStep
from choreo.scenario.records.scenario import Span
from choreo.scenario.text.document import Document, Keys
from choreo.scenario.written import scenario as w
from choreo.words.records import dataclass

# What holds where a file says nothing: common practice, no source.
CORRECTION_RATIO = 0.10
SAMPLING_HZ = 100.0
RAMP_KEYS = ("to", "accelerate", "brake", "within")


@dataclass(frozen=True)
class Stepping:
    """What a phase is written out as: its phases in order, and the law."""

    phases: tuple[w.PhaseWritten, ...]
    law: InStep


def stepping_of(
    draft: Draft, keys: Keys, named: str, follow: w.FollowWritten, speed: Span
) -> Stepping:
    """Write out one phase; faults go to the draft.

    keys: of the phase. named: what it is called. speed: of its mover before it.
    """
    inside = (*keys, "follow")
    for key, value in follow.behind.items():
        if value is not None:
            draft.fault(
                "scenario.not-together",
                (*inside, key),
                where=f"phase `{named}`",
                first=f"`{key}`, which is of a gap behind the other one,",
                second=f"`{_first(follow)}`, which is of going in step with it,",
            )
    if follow.to is None and speed.hi <= 0.0:
        _fault(draft, inside, follow.mover, "from rest it needs a speed", "Write `to: 5 km/h`.")
    ramp = follow.to is not None and follow.to != speed
    if not ramp:
        for key in RAMP_KEYS[1:]:
            if follow.in_step[key] is not None:
                why = f"`{key}` is of a ramp, and its speed doesn't change"
                _fault(draft, (*inside, key), follow.mover, why, f"Leave out `{key}`.")
    if follow.correction is not None and not 0.0 < follow.correction < 1.0:
        why = "its speed can be corrected by more than 0 % and less than 100 %"
        _fault(draft, (*inside, "correction"), follow.mover, why, "Write `correction: 10 %`.")
    _check_frozen(draft, inside, follow)
    phases = tuple(_phases(named, follow, ramp=ramp))
    law = InStep(
        mover=follow.mover,
        phases=tuple(one.name or "" for one in phases),
        correction_ratio=CORRECTION_RATIO if follow.correction is None else follow.correction,
        link_s=follow.link or 0.0,
        sampling_hz=follow.sampling or SAMPLING_HZ,
        frozen_s=None if follow.frozen is None else follow.frozen.by_s,
    )
    return Stepping(phases, law)


def check_laws(
    draft: Draft, written: w.FileWritten, laws: Mapping[str, tuple[Keys, InStep]]
) -> None:
    """Whom each one goes in step with must be there, move, and not go in step with it."""
    for name, (keys, law) in laws.items():
        lead = law.mover
        if lead not in written.movers:
            draft.unknown((*keys, "mover"), "mover", lead, written.movers)
        elif lead == name:
            _fault(draft, keys, lead, "it is itself", "Name another mover.")
        elif not written.movers[lead].programme:
            _fault(draft, keys, lead, f"{lead} stands", f"Give {lead} a `programme`.")
        else:
            chain = [name]
            while chain[-1] in laws and chain[-1] not in chain[:-1]:
                chain.append(laws[chain[-1]][1].mover)
            if chain[-1] == name:
                why = f"each goes in step with the other: {' -> '.join(chain)}"
                _fault(draft, keys, lead, why, "Let one of them go by the clock.")


def move_ramp_places(document: Document, keys: Keys) -> None:
    """Let the keys of a ramp be found where they are written: in the follow phase after it. keys: of the ramp."""
    hold = (*keys[:-1], int(keys[-1]) + 1)
    for key in RAMP_KEYS:
        for places in (document.places, document.key_places):
            if (*hold, "follow", key) in places:
                places[(*keys, "ramp", key)] = places[(*hold, "follow", key)]
    document.places[keys] = document.places[(*keys, "ramp")] = document.origin(hold)


def _first(follow: w.FollowWritten) -> str:
    return next(key for key, value in follow.in_step.items() if value is not None)


def _check_frozen(draft: Draft, keys: Keys, follow: w.FollowWritten) -> None:
    if follow.frozen is not None and follow.frozen.before != follow.until:
        why = "it is frozen before the event that ends the phase"
        instead = "Write the same event after `frozen: ... before` and `until`."
        _fault(draft, (*keys, "frozen"), follow.mover, why, instead)


def _phases(named: str, follow: w.FollowWritten, *, ramp: bool) -> Iterator[w.PhaseWritten]:
    if ramp:
        block = w.RampWritten.model_construct(
            to=follow.to, accelerate=follow.accelerate, brake=follow.brake, within=follow.within
        )
        yield w.PhaseWritten.model_construct(ramp=block, name=f"{named} ramp")
    hold = w.HoldWritten.model_construct(
        settle=follow.settle,
        settled_by=follow.settled_by,
        for_what=follow.for_what,
        until=follow.until,
    )
    yield w.PhaseWritten.model_construct(hold=hold, name=named)


def _fault(draft: Draft, keys: Keys, lead: str, why: str, instead: str) -> None:
    mover = str(keys[1])
    draft.fault("scenario.cannot-follow", keys, mover=mover, lead=lead, why=why, instead=instead)
