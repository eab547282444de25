"""Do the plan's other figures agree with the simulation: events, instants, runway, peaks?"""

from __future__ import annotations

import math
from collections.abc import Mapping

from choreo.geometry import Path
from choreo.plans.record import InstantPlan, MoverPlan, Plan, PlanEvent
from choreo.verification.integration import Motion
from choreo.verification.ledger import Ledger
from choreo.verification.moments import Moments
from choreo.verification.tolerances import DRIFT, GEOMETRIC_TIME_S, PEAK_RATIO, TIME_S


def check_claims(
    ledger: Ledger,
    plan: Plan,
    paths: Mapping[str, Path],
    motions: Mapping[str, Motion],
    moments: Moments,
    *,
    peaks: bool,
) -> None:
    """Compare what the plan records with the motions integrated on the plan's own timing; told peaks if asked."""
    for name, planned in plan.movers.items():
        if name not in motions:
            continue
        for event in planned.events:
            x_m, y_m, _, _ = paths[name].pose_at(event.station_m)
            if _differs(event, motions[name], (x_m, y_m)):
                ledger.error(
                    "event-told", "movers", name, mover=name, event=event.name, time_s=event.time_s
                )
        _check_runway(ledger, name, planned, motions[name])
        if peaks:
            _check_peaks(ledger, name, planned, motions[name])
    for name, instant in ledger.scenario.instants.items():
        if name not in plan.instants:
            ledger.error("missing", "instants", name, what="instant", name=name)
            continue
        recorded = plan.instants[name]
        found_s = moments.event_s(instant.before) - instant.by_s
        if not abs(recorded.time_s - found_s) <= GEOMETRIC_TIME_S:
            ledger.error(
                "instant-told",
                "instants",
                name,
                instant=name,
                planned_s=recorded.time_s,
                found_s=found_s,
            )
            continue
        _check_states(ledger, name, recorded, motions)


def _differs(event: PlanEvent, motion: Motion, place_m: tuple[float, float]) -> bool:
    """place_m: of its station on the path, in the site frame."""
    station_m, speed_mps = motion.state(event.time_s)
    off_m = math.hypot(place_m[0] - event.x_m, place_m[1] - event.y_m)
    slack = TIME_S * max(1.0, speed_mps)
    moved = max(abs(station_m - event.station_m), abs(speed_mps - event.speed_mps))
    return not (moved <= slack and off_m <= slack)


def _check_states(
    ledger: Ledger, name: str, recorded: InstantPlan, motions: Mapping[str, Motion]
) -> None:
    for mover, state in recorded.movers.items():
        if mover not in motions or recorded.time_s < motions[mover].launch_s - TIME_S:
            continue
        station_m, speed_mps = motions[mover].state(recorded.time_s)
        slack = TIME_S * max(1.0, speed_mps)
        if max(abs(station_m - state.station_m), abs(speed_mps - state.speed_mps)) > slack:
            ledger.error(
                "instant-state",
                "instants",
                name,
                instant=name,
                mover=mover,
                planned_m=state.station_m,
                found_m=station_m,
            )


def _check_runway(ledger: Ledger, name: str, planned: MoverPlan, motion: Motion) -> None:
    total_m = motion.last[1] - motion.intervals[0].station_m
    runway = planned.runway
    parts_m = runway.run_up_m + runway.encounter_m + runway.run_out_m
    if max(abs(runway.total_m - total_m), abs(parts_m - total_m)) > DRIFT:
        ledger.error(
            "runway-told", "movers", name, mover=name, planned_m=runway.total_m, found_m=total_m
        )


def _check_peaks(ledger: Ledger, name: str, planned: MoverPlan, motion: Motion) -> None:
    """Only peaks recorded too low matter: someone may buy equipment by them."""
    rise = float(max(motion.accels_from_mps2.max(), motion.accels_to_mps2.max(), 0.0))
    fall = float(max(-motion.accels_from_mps2.min(), -motion.accels_to_mps2.min(), 0.0))
    peak = planned.peak
    for what, recorded, found in (
        ("acceleration", peak.accel_mps2, rise),
        ("braking", peak.brake_mps2, fall),
        ("speed", peak.speed_mps, motion.fastest_mps),
    ):
        if found > recorded * (1.0 + PEAK_RATIO) + PEAK_RATIO:
            ledger.warning(
                "peak-told", "movers", name, mover=name, what=what, planned=recorded, found=found
            )
