"""Who of a scenario has which role, and where in its programmes the moments of rules are."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from choreo.rules.records import EventRef, Family, Role
from choreo.scenario import Contact, Encounter, Event, Instant, Mover, Phase, Scenario
from choreo.words.kinds import MoverKind
from choreo.words.records import dataclass

ROLES_OF: Mapping[MoverKind, Role | None] = {
    "subject": "subject",
    "vehicle": "target",
    "motorcycle": "motorcyclist",
    "bicycle": "cyclist",
    "pedestrian": "walker",
    "obstacle": None,
}


@dataclass(frozen=True)
class Cast:
    """A scenario as a family sees it. movers: by role; who meets the subject comes before others of its kind."""

    scenario: Scenario
    family: Family
    movers: Mapping[Role, str]

    def of(self, role: Role) -> Mover:
        """Give the mover of a role."""
        return self.scenario.movers[self.movers[role]]

    def encounters(self) -> Iterator[tuple[str, Encounter, Role]]:
        """Give the encounters of the subject with a role of the family."""
        roles = {name: role for role, name in self.movers.items()}
        subject = self.movers.get("subject")
        for name, one in self.scenario.encounters.items():
            if subject in (one.of, one.with_):
                other = one.with_ if one.of == subject else one.of
                if other in roles and other != subject:
                    yield name, one, roles[other]

    def contact(self) -> tuple[str, Contact] | None:
        """Give the contact of the subject with one of them."""
        found = ((name, one) for name, one, _ in self.encounters() if isinstance(one, Contact))
        return next(found, None)

    def lead(self) -> tuple[str, Phase, int] | None:
        """Give the mover that brakes ahead, the phase in which it does, and its index."""
        for role in ("target", "motorcyclist"):
            name = self.movers.get(role)
            phases = () if name is None else self.scenario.movers[name].programme
            for index, phase in enumerate(phases):
                if name is not None and index and _brakes(phase, phases[index - 1]):
                    return name, phase, index
        return None

    def others(self) -> dict[Role, str]:
        """Give all but the subject."""
        return {role: name for role, name in self.movers.items() if role != "subject"}


def cast_of(scenario: Scenario, family: Family) -> Cast:
    """Find out who has which role of a family; roles that nobody has are left out."""
    movers: dict[Role, str] = {}
    for role in family.roles:
        names = [n for n, one in scenario.movers.items() if ROLES_OF[one.kind] == role]
        moving = [name for name in names if scenario.movers[name].programme]
        met = [name for name in names if _meets_subject(scenario, name)]
        chosen = [name for name in met if name in moving] or met or moving or names
        if chosen:
            movers[role] = chosen[0]
    return Cast(scenario, family, movers)


def start_of_test(cast: Cast) -> Instant | None:
    """Give the family's start of test as an instant of the scenario; None where the scenario has no such moment."""
    t0 = cast.family.t0
    if t0 is None:
        return None
    if t0.value_s is not None:
        found = cast.contact()
        return (
            None
            if found is None
            else Instant(Event("encounter", found[0]), t0.value_s - t0.offset_s)
        )
    event = _event(t0, cast)
    return None if event is None else Instant(event, -t0.offset_s)


def last_ramp(mover: Mover) -> tuple[int, Phase] | None:
    """Give the phase that brings a mover to the speed of its test: its last ramp before it stops or brakes."""
    found = None
    for index, phase in enumerate(mover.programme):
        if phase.kind == "ramp" and not (index and _brakes(phase, mover.programme[index - 1])):
            found = index, phase
    return found


def speed_in_test(mover: Mover) -> float | None:
    """Give the speed in m/s that a mover has in its test; 0 for one that stands, None where it isn't given."""
    if not mover.programme:
        return 0.0
    ramp = last_ramp(mover)
    if ramp is None:
        return mover.start.speed_mps
    to = ramp[1].to
    return to.lo if to.fixed and ramp[1].lateral_mps2 is None else None


def _event(t0: EventRef, cast: Cast) -> Event | None:
    match t0.event:
        case "lead brakes":
            lead = cast.lead()
            return None if lead is None else Event("phase start", lead[1].name, lead[0])
        case "target steady":
            for _, name in cast.others().items():
                mover = cast.scenario.movers[name]
                ramp = last_ramp(mover)
                if ramp is not None:
                    return Event("phase end", ramp[1].name, name)
            return None
        case "steering begins":
            return _steering(cast)
        case _:
            return None


def _steering(cast: Cast) -> Event | None:
    """The first piece of the subject's path that bends, where it has a name."""
    name = cast.movers.get("subject")
    path = None if name is None else cast.scenario.movers[name].path
    if path is None or path not in cast.scenario.paths:
        return None
    for piece in cast.scenario.paths[path].pieces:
        if piece.kind != "line":
            return None if piece.name is None else Event("mark start", piece.name, name)
    return None


def _brakes(phase: Phase, before: Phase) -> bool:
    """Whether a phase slows down from the speed that was held before."""
    if before.kind != "hold":
        return False
    return phase.kind == "stop" or (phase.kind == "ramp" and phase.brake_mps2 is not None)


def _meets_subject(scenario: Scenario, name: str) -> bool:
    return any(
        name in (one.of, one.with_)
        and any(scenario.movers[who].kind == "subject" for who in (one.of, one.with_))
        for one in scenario.encounters.values()
        if one.of in scenario.movers and one.with_ in scenario.movers
    )
