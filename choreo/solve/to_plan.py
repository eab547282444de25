"""A solution told as a Plan: marks, events, pieces, triggers, encounters, instants, runway, peaks."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import assert_never

import numpy as np

from choreo.geometry import GapTrack, Path, gap_track
from choreo.motion.cubic import gained, travelled
from choreo.plans.record import (
    PLAN_FORMAT,
    EncounterPlan,
    InstantPlan,
    InstantState,
    MoverPlan,
    Peak,
    PhasePlan,
    Piece,
    Plan,
    PlanEvent,
    Runway,
    StartMark,
    TriggerPlan,
)
from choreo.problem.records import Hold, MoverProblem, Problem, Ramp, Wait
from choreo.scenario import Contact, Gap, Pass, Scenario
from choreo.solve.attempts import Solved
from choreo.solve.reading import MoverReading, Reading
from choreo.words.kinds import CONDITIONS, MEASURES, EncounterKind, Measure, PlanEventKind, Unit

PEAK_SAMPLES = 80
# An approach that turns by less than this is straight; two headings within 30 deg are of one lane.
STRAIGHT_RAD = 1 / 50
ONE_LANE_SINE = 0.5
# A launch within this of go is at go: the barrier leaves it a few microseconds away.
GO_TIE_S = 1 / 100_000


def plan_of(scenario: Scenario, staged: Solved, fingerprint: str) -> Plan:
    """Tell a solution as a plan without verdict: the verdict stays 'undecided' until verified.

    fingerprint: of the scenario. The predicted values are the solver's own here.
    """
    return _Teller(scenario, staged).plan(fingerprint)


class _Teller:
    def __init__(self, scenario: Scenario, staged: Solved) -> None:
        self.scenario = scenario
        self.problem: Problem = staged.staging.problem
        self.paths: Mapping[str, Path] = staged.staging.paths
        self.reading: Reading = staged.solution.reading
        self.zero_s = self._go_s()

    def _go_s(self) -> float:
        """Go is the first launch, unless something waits for a time after go."""
        anchored = any(trigger.condition == "time" for trigger in self.problem.triggers) or any(
            isinstance(phase, Wait) and phase.until_s is not None
            for mover in self.problem.movers
            for phase in mover.phases
        )
        launches = [self.reading.movers[m.name].launch_s for m in self.problem.movers if m.phases]
        return 0.0 if anchored or not launches else min(launches)

    def plan(self, fingerprint: str) -> Plan:
        return Plan(
            format=PLAN_FORMAT,
            verdict="undecided",
            title=self.scenario.title,
            prefer=self.scenario.prefer,
            fingerprint=fingerprint,
            movers={mover.name: self._mover(mover) for mover in self.problem.movers},
            triggers={
                trigger.name: self._trigger(trigger.name) for trigger in self.problem.triggers
            },
            encounters={name: self._encounter(name) for name in self.scenario.encounters},
            instants={
                instant.name: self._instant(instant.name) for instant in self.problem.instants
            },
        )

    def _mover(self, mover: MoverProblem) -> MoverPlan:
        motion, path = self.reading.movers[mover.name], self.paths[mover.name]
        poses = path.pose(np.array([motion.start_m]))
        phases = self._phases(mover.name)
        index_of = {phase.name: index for index, phase in enumerate(phases)}
        pieces = tuple(
            Piece(
                phase=mover.phases[q.phase].name,
                start_s=q.start_s - self.zero_s,
                duration_s=q.duration_s,
                station_m=q.station_m,
                speed_mps=q.speed_mps,
                accel_mps2=q.accel_mps2 + 0.0,
                jerk_mps3=q.jerk_mps3 + 0.0,
                phase_index=index_of[mover.phases[q.phase].name],
            )
            for q in motion.pieces
            if q.duration_s > 0
        )
        start = StartMark(
            station_m=motion.start_m,
            x_m=float(poses.x_m[0]),
            y_m=float(poses.y_m[0]),
            heading_deg=math.degrees(float(poses.heading_rad[0])),
            speed_mps=mover.start_speed_mps,
        )
        return MoverPlan(
            start=start,
            launch_s=motion.launch_s - self.zero_s if mover.phases else 0.0,
            launched_by=self._launched_by(mover, motion),
            events=self._events(mover, motion, index_of),
            pieces=pieces,
            runway=self._runway(mover, motion),
            peak=_peak(pieces, path, mover.start_speed_mps),
            ended_by={
                phase.name: phase.until.name or ""
                for phase in mover.phases
                if isinstance(phase, Hold)
                and phase.until is not None
                and phase.until.kind == "trigger"
            },
            phases=phases,
        )

    def _phases(self, mover: str) -> tuple[PhasePlan, ...]:
        """The programme as written; the problem leaves out ramps that change nothing."""
        programme = self.scenario.movers[mover].programme
        return tuple(PhasePlan(phase.name, phase.kind) for phase in programme)

    def _launched_by(self, mover: MoverProblem, motion: MoverReading) -> str:
        if mover.phases and isinstance(mover.phases[0], Wait):
            return mover.launch_trigger or "time"
        return "go" if not mover.phases or motion.launch_s - self.zero_s < GO_TIE_S else "time"

    def _events(
        self, mover: MoverProblem, motion: MoverReading, index_of: Mapping[str, int]
    ) -> tuple[PlanEvent, ...]:
        events: list[PlanEvent] = []

        def add(time_s: float, name: str, kind: PlanEventKind, phase: int | None = None) -> None:
            events.append(self._event(mover.name, motion, time_s, name, kind, phase))

        if mover.phases:
            add(motion.launch_s, "launch", "launch")
        for phase, ends in zip(mover.phases, motion.phases, strict=True):
            if not isinstance(phase, Wait):
                add(ends.end_s, f"end of {phase.name}", "phase end", index_of[phase.name])
        for name, moment in self.reading.moments.items():
            encounter = self.scenario.encounters[name]
            if mover.name in (encounter.of, encounter.with_):
                add(moment.time_s, name, "encounter")
        for trigger in self.problem.triggers:
            if trigger.watch == mover.name:
                reading = self.reading.triggers[trigger.name]
                add(reading.crossing_s, f"trigger {trigger.name}", "trigger")
        return tuple(sorted(events, key=lambda event: (event.time_s, event.name)))

    def _event(
        self,
        mover: str,
        motion: MoverReading,
        time_s: float,
        name: str,
        kind: PlanEventKind,
        phase: int | None,
    ) -> PlanEvent:
        station, speed = motion.at(time_s)
        poses = self.paths[mover].pose(np.array([station]))
        return PlanEvent(
            name=name,
            time_s=time_s - self.zero_s,
            station_m=station,
            x_m=float(poses.x_m[0]),
            y_m=float(poses.y_m[0]),
            speed_mps=speed,
            kind=kind,
            phase=phase,
        )

    def _runway(self, mover: MoverProblem, motion: MoverReading) -> Runway:
        end = motion.phases[-1].end_m if motion.phases else motion.start_m
        total = end - motion.start_m
        met = [
            motion.at(moment.time_s)[0]
            for name, moment in self.reading.moments.items()
            if mover.name
            in (self.scenario.encounters[name].of, self.scenario.encounters[name].with_)
        ]
        if not met:
            stops = [
                (ends.start_m, ends.end_m)
                for phase, ends in zip(mover.phases, motion.phases, strict=True)
                if isinstance(phase, Ramp) and phase.is_stop
            ]
            first = stops[-1][0] if stops else end
            return Runway(first - motion.start_m, 0.0, end - first, total)
        return Runway(min(met) - motion.start_m, max(met) - min(met), end - max(met), total)

    def _trigger(self, name: str) -> TriggerPlan:
        trigger = self.scenario.triggers[name]
        reading = self.reading.triggers[name]
        shift = self.zero_s if trigger.condition == "time" else 0.0
        return TriggerPlan(
            watch=trigger.watch,
            condition=trigger.condition,
            setting=reading.setting - shift,
            setting_unit=CONDITIONS[trigger.condition].unit,
            station_m=None if trigger.condition == "time" else reading.station_m,
            time_s=reading.crossing_s - self.zero_s,
            latency_s=trigger.latency_s,
            sampling_hz=trigger.sampling_hz,
            acts_at_s=reading.acts_s - self.zero_s,
            acts_on=trigger.acts_on,
            to=trigger.to,
        )

    def _encounter(self, name: str) -> EncounterPlan:
        encounter = self.scenario.encounters[name]
        moment = self.reading.moments[name]
        of, with_ = encounter.of, encounter.with_
        s_of, v_of = self.reading.movers[of].at(moment.time_s)
        s_with, v_with = self.reading.movers[with_].at(moment.time_s)
        closing = self._closing(of, s_of, v_of, with_, s_with, v_with)
        kind, measure, wanted, unit = _kind(encounter)
        predicted = self._predicted(encounter, name, wanted)
        return EncounterPlan(
            kind=kind,
            measure=measure,
            of=of,
            with_=with_,
            time_s=moment.time_s - self.zero_s,
            wanted=wanted,
            predicted=predicted,
            unit=unit,
            tolerance=encounter.tolerance_m
            if isinstance(encounter, Contact)
            else encounter.tolerance,
            within=False,
            station_of_m=s_of,
            station_with_m=s_with,
            closing_mps=closing,
            place=self._place(encounter, s_of),
        )

    def _predicted(
        self, encounter: Contact | Gap | Pass, name: str, wanted: tuple[float, float]
    ) -> float:
        """The solver's own value; the verifier's replaces it."""
        if wanted[0] == wanted[1]:
            return wanted[0]
        finite = [value for value in wanted if math.isfinite(value)]
        return finite[0] if finite else 0.0

    def _closing(
        self, of: str, s_of: float, v_of: float, with_: str, s_with: float, v_with: float
    ) -> float:
        """Speed at which `of` closes on `with`, along the heading of `of`."""
        heading_of = float(self.paths[of].pose(np.array([s_of])).heading_rad[0])
        heading_with = float(self.paths[with_].pose(np.array([s_with])).heading_rad[0])
        return v_of - v_with * math.cos(heading_with - heading_of)

    def _place(self, encounter: Contact | Gap | Pass, s_of: float) -> tuple[float, float]:
        poses = self.paths[encounter.of].pose(np.array([s_of]))
        body = self.scenario.movers[encounter.of].body
        forward, left = body.front_m, 0.0
        if isinstance(encounter, Contact) and encounter.face == "front":
            left = encounter.impact_m
        elif isinstance(encounter, Contact):
            forward = encounter.impact_m - body.rear_m
            left = math.copysign(body.width_m / 2, self._side_of(encounter, s_of))
        heading = float(poses.heading_rad[0])
        return (
            float(poses.x_m[0]) + forward * math.cos(heading) - left * math.sin(heading),
            float(poses.y_m[0]) + forward * math.sin(heading) + left * math.cos(heading),
        )

    def _side_of(self, contact: Contact, s_of: float) -> float:
        """Positive when the other comes to the left flank."""
        name = next(key for key, one in self.scenario.encounters.items() if one is contact)
        of = self.paths[contact.of].pose(np.array([s_of]))
        other = self.paths[contact.with_].pose(np.array([self.reading.moments[name].station_b_m]))
        heading = float(of.heading_rad[0])
        dx, dy = float(other.x_m[0] - of.x_m[0]), float(other.y_m[0] - of.y_m[0])
        return -dx * math.sin(heading) + dy * math.cos(heading)

    def _instant(self, name: str) -> InstantPlan:
        time = self.reading.instants[name]
        states = {}
        for mover in self.problem.movers:
            station, speed = self.reading.movers[mover.name].at(time)
            poses = self.paths[mover.name].pose(np.array([station]))
            states[mover.name] = InstantState(
                station, speed, float(poses.x_m[0]), float(poses.y_m[0])
            )
        gaps, collisions = self._gaps(states)
        left = {
            key: moment.time_s - time
            for key, moment in self.reading.moments.items()
            if moment.time_s > time
        }
        return InstantPlan(time - self.zero_s, states, gaps, collisions, left)

    def _gaps(
        self, states: Mapping[str, InstantState]
    ) -> tuple[dict[str, float], dict[str, float]]:
        """Room left before each encounter, bumper to bumper along the path of `of`, where it has a meaning."""
        gaps, collisions = {}, {}
        for name, encounter in self.scenario.encounters.items():
            if isinstance(encounter, Pass) or not self._along(name, encounter, states):
                continue
            track = self._gap_tracks(encounter)
            facing, slope = track.at(states[encounter.with_].station_m)
            front = self.scenario.movers[encounter.of].body.front_m
            gap = float(facing) - states[encounter.of].station_m - front
            closing = states[encounter.of].speed_mps - slope * states[encounter.with_].speed_mps
            gaps[name] = gap
            if closing > 0 and gap > 0:
                collisions[name] = gap / float(closing)
        return gaps, collisions

    def _along(
        self, name: str, encounter: Contact | Gap, states: Mapping[str, InstantState]
    ) -> bool:
        """A gap along the path means something in one lane, or when the approach is straight to the front."""
        if isinstance(encounter, Gap):
            return True
        if encounter.face != "front":
            return False
        now = states[encounter.of].station_m
        then = self.reading.moments[name].station_a_m
        turned = self._heading(encounter.of, then) - self._heading(encounter.of, now)
        across = self._heading(encounter.with_, states[encounter.with_].station_m) - self._heading(
            encounter.of, now
        )
        return abs(turned) < STRAIGHT_RAD or abs(math.sin(across)) < ONE_LANE_SINE

    def _heading(self, mover: str, station_m: float) -> float:
        return float(self.paths[mover].pose(np.array([station_m])).heading_rad[0])

    def _gap_tracks(self, encounter: Contact | Gap) -> GapTrack:
        return gap_track(
            self.paths[encounter.of],
            self.scenario.movers[encounter.of].body,
            self.paths[encounter.with_],
            self.scenario.movers[encounter.with_].body,
        )


def _kind(
    encounter: Contact | Gap | Pass,
) -> tuple[EncounterKind, Measure, tuple[float, float], Unit]:
    """What is met, what is measured of it, the least and most that is wanted, in which unit."""
    match encounter:
        case Contact():
            measure: Measure = "overlap" if encounter.face == "front" else "side"
            return "contact", measure, (encounter.impact_m, encounter.impact_m), MEASURES[measure]
        case Gap():
            wanted = (encounter.wanted.lo, encounter.wanted.hi)
            return "gap", encounter.measure, wanted, MEASURES[encounter.measure]
        case Pass():
            wanted = (encounter.wanted.lo, encounter.wanted.hi)
            return "pass", encounter.measure, wanted, MEASURES[encounter.measure]
        case _:
            assert_never(encounter)


def _peak(pieces: tuple[Piece, ...], path: Path, start_mps: float) -> Peak:
    accels, jerks, speeds, laterals = [0.0], [0.0], [start_mps], [0.0]
    for piece in pieces:
        u = np.linspace(0.0, piece.duration_s, PEAK_SAMPLES)
        accel = piece.accel_mps2 + u * piece.jerk_mps3
        speed = piece.speed_mps + gained(u, piece.accel_mps2, piece.jerk_mps3)
        station = piece.station_m + travelled(u, piece.speed_mps, piece.accel_mps2, piece.jerk_mps3)
        curvature = path.pose(station).curvature_per_m
        accels += [float(accel.min()), float(accel.max())]
        speeds.append(float(speed.max()))
        jerks.append(abs(piece.jerk_mps3))
        laterals.append(float(np.max(speed**2 * np.abs(curvature))))
    return Peak(max(accels), abs(min(accels)), max(jerks), max(laterals), max(speeds))
