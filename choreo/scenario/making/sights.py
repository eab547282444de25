"""Sight lines as written -> records, and whether what they name is there and fits."""

from __future__ import annotations

from collections.abc import Mapping

from choreo.scenario.making.draft import Draft
from choreo.scenario.records.scenario import Contact, Encounter, Mover
from choreo.scenario.records.sights import WITHIN_M, Sight
from choreo.scenario.text.document import Keys
from choreo.scenario.written.sights import SightWritten

# Searching farther costs time for nothing: what stands there hides nobody here.
MOST_WITHIN_M = 200.0


def sights_of(
    draft: Draft,
    written: Mapping[str, SightWritten],
    movers: Mapping[str, Mover],
    encounters: Mapping[str, Encounter],
) -> dict[str, Sight]:
    """Make all sights and check them against the movers and the encounters; faults are gathered."""
    sights = {}
    movings: dict[str, str] = {}
    whole = len(encounters) == len(draft.named("encounter"))
    for name, one in written.items():
        wanted_s, tolerance_s = one.first_seen or (None, None)
        within_m = WITHIN_M if one.within is None else one.within
        if within_m > MOST_WITHIN_M:
            draft.fault(
                "scenario.bad-value",
                ("sights", name, "within"),
                where=_where(name),
                what=f"nothing is moved as far as {within_m:g} m for a sight",
                instead=f"Write a length up to `{MOST_WITHIN_M:g} m`.",
            )
        sight = Sight(
            one.from_,
            one.to,
            one.share,
            one.sensor,
            wanted_s,
            tolerance_s,
            one.moving,
            within_m,
        )
        sights[name] = sight
        keys: Keys = ("sights", name)
        _check_pair(draft, keys, name, sight)
        if wanted_s is not None and whole:
            _check_contact(draft, keys, sight, encounters)
        if one.moving is None:
            if one.within is not None:
                draft.fault("scenario.missing-key", keys, key="moving", where=_where(name))
            continue
        _check_moving(draft, keys, name, sight, movers, encounters)
        other = movings.setdefault(one.moving, name)
        if other != name:
            _bad_moving(
                draft,
                keys,
                f"sight `{other}` moves {one.moving} already",
                "Let one of the two move another thing.",
            )
    return sights


def _where(name: str) -> str:
    return f"sights > {name}"


def _check_pair(draft: Draft, keys: Keys, name: str, sight: Sight) -> None:
    for key, mover in (("from", sight.from_), ("to", sight.to)):
        if mover not in draft.movers:
            draft.unknown((*keys, key), "mover", mover, draft.movers)
    if sight.from_ == sight.to:
        draft.fault("scenario.itself", keys, what="sight", name=name, mover=sight.to)


def _check_contact(
    draft: Draft, keys: Keys, sight: Sight, encounters: Mapping[str, Encounter]
) -> None:
    """A time to collision counts down to a contact of the two."""
    pair = {sight.from_, sight.to}
    if len(pair) < 2 or not pair <= set(draft.movers):
        return  # reported already
    if any(isinstance(one, Contact) and {one.of, one.with_} == pair for one in encounters.values()):
        return
    draft.fault(
        "scenario.bad-value",
        (*keys, "first seen at"),
        where=f"sights > {keys[1]} > first seen at",
        what=f"{sight.from_} and {sight.to} have no contact that it could count down to",
        instead="Add their contact to `encounters`, or leave `first seen at` out.",
    )


def _check_moving(
    draft: Draft,
    keys: Keys,
    name: str,
    sight: Sight,
    movers: Mapping[str, Mover],
    encounters: Mapping[str, Encounter],
) -> None:
    """Only a thing that stands, that nobody meets and that is not looked at or from, may be moved."""
    moving = str(sight.moving)
    if sight.wanted_s is None:
        draft.fault("scenario.missing-key", keys, key="first seen at", where=_where(name))
    if moving not in draft.movers:
        draft.unknown((*keys, "moving"), "mover", moving, draft.movers)
        return
    met = [key for key, one in encounters.items() if moving in (one.of, one.with_)]
    mover = movers.get(moving)
    if moving in (sight.from_, sight.to):
        _bad_moving(
            draft, keys, f"{moving} is one of the two of this sight", "Name what hides the other."
        )
    elif mover is not None and mover.stand is None:
        _bad_moving(
            draft,
            keys,
            f"{moving} follows a path",
            "Name a mover with `stand: {at: ..., heading: ...}`.",
        )
    elif met:
        _bad_moving(
            draft,
            keys,
            f"{moving} is met by encounter `{met[0]}`",
            "Name a mover that is in no encounter.",
        )


def _bad_moving(draft: Draft, keys: Keys, what: str, instead: str) -> None:
    draft.fault(
        "scenario.bad-value",
        (*keys, "moving"),
        where=f"sights > {keys[1]} > moving",
        what=what,
        instead=instead,
    )
