"""One mover of a plan: start mark, launch, events, pieces, runway and peaks."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

from choreo.geometry import cusps_of
from choreo.plans.in_step_record import InStepPlan
from choreo.plans.record import (
    CommandPlan,
    MoverPlan,
    Peak,
    PhasePlan,
    Piece,
    PlanEvent,
    Runway,
    StartMark,
)
from choreo.problem.records import Hold, MoverProblem, Ramp, Wait
from choreo.solve.peaks import peak_of
from choreo.solve.plan_source import Source
from choreo.solve.reading import MoverReading
from choreo.words.kinds import PlanEventKind

# A launch within this (s) of go is at go: the barrier leaves it a few microseconds away.
GO_TIE_S = 1 / 100_000


NO_PEAK = Peak(0.0, 0.0, 0.0, 0.0, 0.0)


def mover_plan(source: Source, mover: MoverProblem, *, peaks: bool = True) -> MoverPlan:
    """Write one mover's motion; without its peaks where they aren't wanted."""
    motion = source.reading.movers[mover.name]
    # The programme as written; the problem leaves out ramps that change nothing.
    programme = source.scenario.movers[mover.name].programme
    phases = tuple(PhasePlan(phase.name, phase.kind) for phase in programme)
    index_of = {phase.name: index for index, phase in enumerate(phases)}
    pieces = _pieces(source, mover, motion, index_of)
    return MoverPlan(
        start=_start_mark(source, mover, motion),
        launch_s=motion.launch_s - source.zero_s if mover.phases else 0.0,
        launched_by=_launched_by(source, mover, motion),
        events=_events(source, mover, motion, index_of),
        pieces=pieces,
        runway=_runway(source, mover, motion),
        peak=peak_of(pieces, source.paths[mover.name], mover.start_speed_mps) if peaks else NO_PEAK,
        ended_by={
            phase.name: phase.until.name or ""
            for phase in mover.phases
            if isinstance(phase, Hold) and phase.until is not None and phase.until.kind == "trigger"
        },
        phases=phases,
        commands=tuple(_commands(source, mover, motion)),
        backwards=source.scenario.movers[mover.name].body.backwards,
        in_step=_in_step(source, mover, motion),
        turns_m=cusps_of(source.paths[mover.name]),
    )


def _in_step(source: Source, mover: MoverProblem, motion: MoverReading) -> InStepPlan | None:
    law = source.scenario.movers[mover.name].in_step
    if law is None:
        return None
    spans = {phase.name: ends for phase, ends in zip(mover.phases, motion.phases, strict=True)}
    names = [name for name in law.phases if name in spans]
    begins_s, ends_s = spans[names[0]].start_s, spans[names[-1]].end_s
    by_progress = mover.phases[0].name == names[0]
    lead_m, _ = source.reading.movers[law.mover].at(begins_s)
    return InStepPlan(
        lead=law.mover,
        begins_s=begins_s - source.zero_s,
        ends_s=ends_s - source.zero_s,
        frozen_s=None if law.frozen_s is None else ends_s - law.frozen_s - source.zero_s,
        launched_at_m=lead_m if by_progress else None,
        correction_ratio=law.correction_ratio,
        link_s=law.link_s,
        sampling_hz=law.sampling_hz,
    )


def _start_mark(source: Source, mover: MoverProblem, motion: MoverReading) -> StartMark:
    place, body = source.place(mover.name, motion.start_m), source.scenario.movers[mover.name].body
    return StartMark(
        station_m=motion.start_m,
        x_m=place.x_m,
        y_m=place.y_m,
        heading_deg=math.degrees(place.heading_rad + body.points_rad),
        speed_mps=mover.start_speed_mps,
    )


def _pieces(
    source: Source, mover: MoverProblem, motion: MoverReading, index_of: Mapping[str, int]
) -> tuple[Piece, ...]:
    return tuple(
        Piece(
            phase=mover.phases[piece.phase].name,
            start_s=piece.start_s - source.zero_s,
            duration_s=piece.duration_s,
            station_m=piece.station_m,
            speed_mps=piece.speed_mps,
            # Adding 0 turns a negative zero into a plain one.
            accel_mps2=piece.accel_mps2 + 0.0,
            jerk_mps3=piece.jerk_mps3 + 0.0,
            phase_index=index_of[mover.phases[piece.phase].name],
        )
        for piece in motion.pieces
        if piece.duration_s > 0
    )


def _launched_by(source: Source, mover: MoverProblem, motion: MoverReading) -> str:
    if mover.phases and isinstance(mover.phases[0], Wait) and not _at_go(source, mover):
        return mover.launch_trigger or "time"
    command_s = motion.launch_s - mover.launch_latency_s - source.zero_s
    return "go" if not mover.phases or command_s < GO_TIE_S else "time"


def _commands(source: Source, mover: MoverProblem, motion: MoverReading) -> Iterator[CommandPlan]:
    """Launches and brakings of a drive that is late."""
    for index, (phase, ends) in enumerate(zip(mover.phases, motion.phases, strict=True)):
        moves_s = ends.start_s - source.zero_s
        starts = index == 0 or isinstance(mover.phases[index - 1], Wait)
        if isinstance(phase, Ramp) and phase.direction > 0 and starts and mover.launched_late:
            yield CommandPlan(phase.name, moves_s - mover.launch_latency_s, moves_s)
        if isinstance(phase, Ramp) and phase.direction < 0 and mover.braked_late:
            yield CommandPlan(phase.name, moves_s - mover.brake_latency_s, moves_s)


def _at_go(source: Source, mover: MoverProblem) -> bool:
    return source.scenario.movers[mover.name].start.at_go


def _events(
    source: Source, mover: MoverProblem, motion: MoverReading, index_of: Mapping[str, int]
) -> tuple[PlanEvent, ...]:
    found: list[tuple[float, str, PlanEventKind, int | None]] = []

    def add(time_s: float, name: str, kind: PlanEventKind, phase: int | None = None) -> None:
        found.append((time_s, name, kind, phase))

    if mover.phases:
        add(motion.launch_s, "launch", "launch")
    for index, (phase, ends) in enumerate(zip(mover.phases, motion.phases, strict=True)):
        # The end of a wait at the beginning is the launch.
        if index > 0 or not isinstance(phase, Wait):
            add(ends.end_s, f"end of {phase.name}", "phase end", index_of[phase.name])
    for name, moment in source.reading.moments.items():
        if mover.name in source.problem.encounter(name).pair:
            add(moment.time_s, name, "encounter")
    for trigger in source.problem.triggers:
        if trigger.watch == mover.name:
            crossing_s = source.reading.triggers[trigger.name].crossing_s
            add(crossing_s, f"trigger {trigger.name}", "trigger")
    states = [motion.at(time_s) for time_s, _, _, _ in found]
    places = source.places_m(mover.name, [station for station, _ in states])
    events = [
        PlanEvent(
            name=name,
            time_s=time_s - source.zero_s,
            station_m=station,
            x_m=x,
            y_m=y,
            speed_mps=speed,
            kind=kind,
            phase=phase,
        )
        for (time_s, name, kind, phase), (station, speed), (x, y) in zip(
            found, states, places, strict=True
        )
    ]
    return tuple(sorted(events, key=lambda event: (event.time_s, event.name)))


def _runway(source: Source, mover: MoverProblem, motion: MoverReading) -> Runway:
    end = motion.phases[-1].end_m if motion.phases else motion.start_m
    total = end - motion.start_m
    times_s = [
        time_s
        for name, moment in source.reading.moments.items()
        if mover.name in source.problem.encounter(name).pair
        for time_s in (moment.time_s, source.until_s(name))
        if time_s is not None
    ]
    met = [motion.at(time_s)[0] for time_s in times_s]
    if not met:
        stops = [
            ends.start_m
            for phase, ends in zip(mover.phases, motion.phases, strict=True)
            if isinstance(phase, Ramp) and phase.is_stop
        ]
        braking = stops[-1] if stops else end
        return Runway(braking - motion.start_m, 0.0, end - braking, total)
    return Runway(min(met) - motion.start_m, max(met) - min(met), end - max(met), total)
