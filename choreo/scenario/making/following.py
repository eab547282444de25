"""A phase `follow` written out: a ramp to the lead's speed, a hold at it, and a gap that holds meanwhile.

The ramp is there only where the speed before differs. It stays tied to the ramp that gives the lead its speed, so that
whoever changes that one changes both.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

from choreo.scenario.making.draft import Draft
from choreo.scenario.making.in_step import check_laws, move_ramp_places, stepping_of
from choreo.scenario.making.programme import phase_names
from choreo.scenario.records.in_step import InStep
from choreo.scenario.records.scenario import Mover, Span
from choreo.scenario.text.document import Document, Keys
from choreo.scenario.written import scenario as w
from choreo.scenario.written.events import EdgeOf, PartOf
from choreo.words.display import short_kmh
from choreo.words.records import dataclass

# The ramp of a mover (its name and the phase's) that gives a speed.
Source = tuple[str, str]


@dataclass(frozen=True)
class Following:
    """A file without follow phases.

    sources: by mover and phase index of an implied ramp, the lead's ramp. laws: by mover who goes in step.
    """

    written: w.FileWritten
    sources: Mapping[tuple[str, int], Source]
    laws: Mapping[str, InStep]

    def linked(self, movers: Mapping[str, Mover]) -> dict[str, Mover]:
        """Give the movers with every implied ramp tied to its lead's, and with whom they go in step."""
        made = {
            name: replace(one, in_step=self.laws[name]) if name in self.laws else one
            for name, one in movers.items()
        }
        for (name, index), source in self.sources.items():
            if name in made and index < len(made[name].programme):
                programme = list(made[name].programme)
                programme[index] = replace(programme[index], follows=source)
                made[name] = replace(made[name], programme=tuple(programme))
        return made


@dataclass(frozen=True)
class _Held:
    """A hold of a lead: its name, its speed, the ramp that gives it (None: it starts with it)."""

    name: str
    speed: Span
    source: Source | None


# In place of one whose fault has been told: what comes after it is in order then.
_FAULTY = _Held("", Span(1.0, 1.0), None)


def write_out_following(draft: Draft, written: w.FileWritten) -> Following:
    """Put a ramp, a hold and a gap in place of every follow phase; faults go to the draft."""
    lowering = _Lowering(draft, written)
    for name in written.movers:
        lowering.mover(name, ())
    return lowering.done()


class _Lowering:
    def __init__(self, draft: Draft, written: w.FileWritten) -> None:
        self.draft = draft
        self.written = written
        self.movers: dict[str, w.MoverWritten] = {}
        self.gaps: dict[str, w.GapWritten] = {}
        self.sources: dict[tuple[str, int], Source] = {}
        self.laws: dict[str, tuple[Keys, InStep]] = {}
        self.faulty: set[str] = set()

    def done(self) -> Following:
        movers = {name: self.movers[name] for name in self.written.movers}
        update = {"movers": movers, "encounters": {**self.written.encounters, **self.gaps}}
        check_laws(self.draft, self.written, self.laws)
        laws = {name: law for name, (_, law) in self.laws.items()}
        return Following(self.written.model_copy(update=update), self.sources, laws)

    def mover(self, name: str, asked_by: tuple[str, ...]) -> None:
        """Write out one mover, after those that it follows. asked_by: who follows it, in a row."""
        if name in self.movers:
            return
        mover = self.written.movers[name]
        if all(phase.follow is None for phase in mover.programme):
            self.movers[name] = mover
            return
        names = phase_names(mover.programme)
        phases: list[w.PhaseWritten] = []
        old: list[int] = []
        ramps: list[int] = []  # of those who go in step
        for index, phase in enumerate(mover.programme):
            follow = phase.follow
            if follow is None:
                phases.append(phase)
                old.append(index)
                continue
            keys: Keys = ("movers", name, "programme", index)
            if any(block is not None for block in (*phase.by_kind().values(), phase.drive)):
                self.draft.fault(
                    "scenario.not-together",
                    keys,
                    where=f"phase `{names[index]}`",
                    first="`follow`",
                    second="another kind of phase",
                )
            if any(value is not None for value in follow.in_step.values()):
                stepping = self._in_step(keys, names[index], follow, _speed_after(mover, phases))
                ramps += [len(phases)] if len(stepping) > 1 else []
                phases += stepping
                old += [index] * len(stepping)
                continue
            made = self._followed(name, names[index], follow, keys, (*asked_by, name))
            if made is None:
                made = _FAULTY
                self.faulty.add(name)
            ramp, hold = self._phases(mover, phases, names[index], follow, made)
            for one in (ramp, hold):
                if one is not None:
                    phases.append(one)
                    old.append(index)
            if ramp is not None and made.source is not None:
                self.sources[name, len(phases) - 2] = made.source
        if old != list(range(len(mover.programme))) or phases != list(mover.programme):
            _move_places(self.draft.document, ("movers", name, "programme"), old)
        for index in ramps:
            move_ramp_places(self.draft.document, ("movers", name, "programme", index))
        self.movers[name] = mover.model_copy(update={"programme": tuple(phases)})

    def _in_step(
        self, keys: Keys, named: str, follow: w.FollowWritten, speed: Span
    ) -> tuple[w.PhaseWritten, ...]:
        stepping = stepping_of(self.draft, keys, named, follow, speed)
        name, inside = str(keys[1]), (*keys, "follow")
        if name in self.laws:
            why, instead = "it goes in step in an earlier phase", "Keep one phase in step."
            self._fault(inside, name, follow.mover, why, instead)
        self.laws[name] = (inside, stepping.law)
        return stepping.phases

    def _phases(
        self,
        mover: w.MoverWritten,
        before: list[w.PhaseWritten],
        name: str,
        follow: w.FollowWritten,
        held: _Held,
    ) -> tuple[w.PhaseWritten | None, w.PhaseWritten]:
        until = follow.until
        if until is None and follow.for_what is None and held is not _FAULTY:
            until = EdgeOf("end", follow.mover, held.name)
        hold = w.HoldWritten.model_construct(
            settle=follow.settle,
            settled_by=follow.settled_by,
            for_what=follow.for_what,
            until=until,
        )
        ramp = None
        if _speed_after(mover, before) != held.speed:
            ramp = w.PhaseWritten.model_construct(
                ramp=w.RampWritten.model_construct(to=held.speed), name=f"{name} ramp"
            )
        return ramp, w.PhaseWritten.model_construct(hold=hold, name=name)

    def _followed(
        self,
        name: str,
        phase: str,
        follow: w.FollowWritten,
        keys: Keys,
        asked_by: tuple[str, ...],
    ) -> _Held | None:
        """The hold of the lead that is followed, and the gap that holds meanwhile."""
        lead, inside = follow.mover, (*keys, "follow")
        chosen = self.draft.one_of(
            inside, f"phase `{phase}`", {"distance": follow.distance, "time gap": follow.time_gap}
        )
        if lead not in self.written.movers:
            self.draft.unknown((*inside, "mover"), "mover", lead, self.written.movers)
            return None
        if lead == name:
            self._fault(inside, name, lead, "it is itself", "Name another mover.")
            return None
        if lead in asked_by:
            round_about = " -> ".join([*asked_by[asked_by.index(lead) :], lead])
            why = f"each follows the other: {round_about}"
            self._fault(inside, name, lead, why, "Give one of them its own `ramp` and `hold`.")
            return None
        self.mover(lead, asked_by)
        if lead in self.faulty:
            return None
        held = self._hold_of(name, follow, inside)
        if held is None or chosen is None:
            return held
        gap = f"{name}_follows_{lead}"
        number = 2
        while gap in self.written.encounters or gap in self.gaps:
            gap, number = f"{name}_follows_{lead}_{number}", number + 1
        self.gaps[gap] = w.GapWritten.model_construct(
            kind="gap",
            of=name,
            with_=lead,
            distance=follow.distance,
            time_gap=follow.time_gap,
            time_to_collision=None,
            at=None,
            during=PartOf(name, phase),
            tolerance=follow.tolerance,
        )
        document = self.draft.document
        section = document.data.setdefault("encounters", {})
        if isinstance(section, dict):
            section[gap] = {}
        document.places["encounters", gap] = document.origin(inside)
        for key in (chosen[0], "tolerance"):
            if (*inside, key) in document.places:
                document.places["encounters", gap, key] = document.places[(*inside, key)]
        return held

    def _hold_of(self, name: str, follow: w.FollowWritten, keys: Keys) -> _Held | None:
        """The lead's hold: the one named, or the only one that there is."""
        lead = follow.mover
        holds = list(self._holds(lead))
        if follow.during is not None:
            named = [one for one in holds if one.name == follow.during]
            if not named:
                known = [one.name for one in holds]
                self.draft.unknown((*keys, "during"), f"hold of {lead}", follow.during, known)
                return None
            holds = named
        why = instead = None
        if not holds:
            why = f"{lead} holds no speed"
            instead = f"Give {lead} a `hold` in its programme."
        elif len(holds) > 1 and len({one.speed for one in holds}) > 1:
            why = f"{lead} holds several speeds"
            instead = f"Say which: `during: {holds[0].name}` or `during: {holds[-1].name}`."
        elif len(holds) > 1 and follow.until is None and follow.for_what is None:
            why = f"{lead} has several holds"
            instead = f"Say in which: `during: {holds[0].name}`, or until when: `until: ...`."
        elif not holds[0].speed.fixed:
            low, high = (short_kmh(one) for one in (holds[0].speed.lo, holds[0].speed.hi))
            why = f"{lead} has no one speed in {holds[0].name}, it is {low} to {high} or free"
            instead = f"Give {lead} one speed, or write `ramp`, `hold` and a gap with `during`."
        if why is not None and instead is not None:
            self._fault(keys, name, lead, why, instead)
            return None
        return holds[0]

    def _holds(self, lead: str) -> Iterator[_Held]:
        mover = self.movers.get(lead, self.written.movers[lead])
        start = 0.0 if mover.start is None else mover.start.speed
        speed, source = Span(start, start), None
        for index, (name, phase) in enumerate(
            zip(phase_names(mover.programme), mover.programme, strict=True)
        ):
            if phase.ramp is not None:
                speed = phase.ramp.speed
                source = self.sources.get((lead, index), (lead, name))
            elif phase.stop is not None:
                speed, source = Span(0.0, 0.0), None
            elif phase.hold is not None and speed.hi > 0.0:
                yield _Held(name, speed, source)

    def _fault(self, keys: Keys, name: str, lead: str, why: str, instead: str) -> None:
        self.draft.fault(
            "scenario.cannot-follow", keys, mover=name, lead=lead, why=why, instead=instead
        )


def _speed_after(mover: w.MoverWritten, phases: list[w.PhaseWritten]) -> Span:
    start = 0.0 if mover.start is None else mover.start.speed
    speed = Span(start, start)
    for phase in phases:
        if phase.ramp is not None:
            speed = phase.ramp.speed
        elif phase.stop is not None:
            speed = Span(0.0, 0.0)
    return speed


def _move_places(document: Document, keys: Keys, old: list[int]) -> None:
    """Put the places of a list's entries where they are now. old: the index that each entry had."""
    depth = len(keys)
    known: tuple[dict[Keys, Any], ...] = (document.places, document.key_places, document.passes)
    for places in known:
        below: dict[int | str, list[tuple[Keys, Any]]] = {}
        for place in [one for one in places if one[:depth] == keys and len(one) > depth]:
            below.setdefault(place[depth], []).append((place[depth + 1 :], places.pop(place)))
        for index, was in enumerate(old):
            for rest, value in below.get(was, ()):
                places[(*keys, index, *rest)] = value
                if rest[:1] == ("follow",):
                    places[(*keys, index, "hold", *rest[1:])] = value
