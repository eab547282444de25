"""One recording scored: the ruling with each rule's worst value, what happened, what was off the plan."""

from __future__ import annotations

from dataclasses import dataclass

from choreo.errors.stage import Stage
from choreo.recordings.record import Recording, Remark
from choreo.scenario import Contact
from choreo.scoring.against import Off, against_plan
from choreo.scoring.contacts import Touch
from choreo.scoring.judging import judged, touches_of
from choreo.scoring.run import RecordedRun, run_of
from choreo.scoring.verdicts import Judged, Ruling, overall
from choreo.words import Origin


@dataclass(frozen=True, slots=True)
class Happened:
    """What became of one encounter, SI; touch: of a contact. value: in the encounter's unit, nan where it is missed."""

    encounter: str
    of: str
    with_: str
    face: str
    touch: Touch | None
    time_s: float
    value: float
    speed_lost_mps: float


@dataclass(frozen=True, eq=False)
class RunScore:
    """One run as scored. aligned_by: what time counts from, in words."""

    name: str
    simulated: bool
    ruling: Ruling
    judged: tuple[Judged, ...]
    happened: tuple[Happened, ...]
    off: tuple[Off, ...]
    remarks: tuple[Remark, ...]
    aligned_by: str

    def value_of(self, encounter: str) -> float:
        """Give the value of an encounter, nan where it is missed."""
        return next(one.value for one in self.happened if one.encounter == encounter)


def score(
    stage: Stage, recording: Recording, place: Origin, *, simple: bool = False
) -> tuple[RunScore, RecordedRun]:
    """Score one recording of a plan; give the run too. place: of its description, for faults.

    Raises ChoreoError: another mover, another place, no launch to count from.
    """
    run = run_of(stage, recording, place)
    touches = touches_of(run)
    found = tuple(judged(run, touches, simple=simple))
    happened = tuple(_happened(run, name, touches.get(name)) for name in stage.scenario.encounters)
    told = RunScore(
        recording.name,
        recording.simulated,
        overall(found),
        found,
        happened,
        tuple(against_plan(run)),
        run.remarks,
        run.aligned_by,
    )
    return told, run


def _happened(run: RecordedRun, name: str, touch: Touch | None) -> Happened:
    one, found = run.stage.scenario.encounters[name], run.performed.met[name]
    face = one.face if isinstance(one, Contact) else ""
    planned = run.stage.plan.encounters[name]
    held = run.held_mps.get(one.of, {})
    before = max(held.values(), default=float("nan"))
    lost = before - float(found.of_mps[0]) if planned.touches else float("nan")
    return Happened(
        name, one.of, one.with_, face, touch, float(found.time_s[0]), float(found.value[0]), lost
    )
