"""A phase `return` taken out of its programme: the way back to the start is no part of the timed run."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from choreo.scenario.making.draft import Draft
from choreo.scenario.records.scenario import Mover, Return
from choreo.scenario.text.document import Keys
from choreo.scenario.written import scenario as w
from choreo.words.display import short_kmh
from choreo.words.records import dataclass


@dataclass(frozen=True)
class Returning:
    """A file without return phases. returns: by mover, where it was written and what."""

    written: w.FileWritten
    returns: Mapping[str, tuple[Keys, w.ReturnWritten]]

    def linked(self, draft: Draft, movers: Mapping[str, Mover]) -> dict[str, Mover]:
        """Give the movers with their ways back; what is wrong with one goes to the draft."""
        made = dict(movers)
        for name, (keys, one) in self.returns.items():
            if one.path is not None and draft.paths_known and one.path not in draft.paths:
                draft.unknown((*keys, "path"), "path", one.path, draft.paths)
            if one.path is not None and one.distance is not None:
                draft.fault(
                    "scenario.not-together",
                    keys,
                    where="return",
                    first="`path`",
                    second="`distance`",
                )
            if name not in made:
                continue
            limit_mps = made[name].limits.speed_mps
            if one.at > limit_mps:
                draft.fault(
                    "scenario.too-fast",
                    (*keys, "at"),
                    related=[("movers", name, "limits", "speed")],
                    mover=name,
                    wanted=short_kmh(one.at),
                    limit=short_kmh(limit_mps),
                )
            made[name] = replace(made[name], back=Return(one.at, one.path, one.distance))
        return made


def without_returns(draft: Draft, written: w.FileWritten) -> Returning:
    """Take every return phase out of its programme; one that isn't the last, or has no run before it, is a fault."""
    movers: dict[str, w.MoverWritten] = {}
    returns: dict[str, tuple[Keys, w.ReturnWritten]] = {}
    for name, mover in written.movers.items():
        kept = []
        for index, phase in enumerate(mover.programme):
            if phase.return_ is None:
                kept.append(phase)
                continue
            keys: Keys = ("movers", name, "programme", index, "return")
            _check_place(draft, keys, mover, index)
            returns[name] = (keys, phase.return_)
        back = len(kept) < len(mover.programme)
        movers[name] = mover.model_copy(update={"programme": tuple(kept)}) if back else mover
    return Returning(written.model_copy(update={"movers": movers}), returns)


def _check_place(draft: Draft, keys: Keys, mover: w.MoverWritten, index: int) -> None:
    phase, before = mover.programme[index], mover.programme[:index]
    others = (*phase.by_kind().values(), phase.follow, phase.drive)
    if any(block is not None for block in others):
        draft.fault(
            "scenario.not-together",
            keys,
            where=f"phase {index + 1} of {keys[1]}",
            first="`return`",
            second="another kind of phase",
        )
    if index + 1 < len(mover.programme):
        draft.fault(
            "scenario.bad-value",
            keys,
            where=f"{keys[1]} > programme > return",
            what="the way back comes after the run",
            instead="Write `return` as the last entry of the programme.",
        )
        return
    rolls = mover.start is not None and mover.start.speed > 0
    if not rolls and all(one.ramp is None and one.follow is None for one in before):
        draft.fault(
            "scenario.bad-value",
            keys,
            where=f"{keys[1]} > programme > return",
            what="there is nothing to return from: it doesn't leave its start",
            instead="Write its run before it, or leave `return` out.",
        )
