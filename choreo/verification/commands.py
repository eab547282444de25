"""Is the plan a usable record at all: finite, without holes, on its marks, and true to its own commands?"""

from __future__ import annotations

import math
from collections.abc import Mapping

from choreo.geometry import Path
from choreo.plans.record import MoverPlan, Piece, Plan
from choreo.scenario import Mover
from choreo.verification.integration import Motion, integrate
from choreo.verification.ledger import Ledger
from choreo.verification.tolerances import DRIFT, HEADING_DEG, TIME_S

# Nobody stages a run of six hours; simulating one would only exhaust the memory.
LONGEST_S = 6 * 3600.0


def check_usable(ledger: Ledger, plan: Plan) -> bool:
    """Say whether the plan can be run at all; report what is missing, undefined or out of all bounds."""
    before = len(ledger.findings)
    for name in ledger.scenario.movers:
        mover = plan.movers.get(name)
        if mover is None:
            ledger.error("missing", "movers", name, what="mover", name=name)
        else:
            _check_mover_usable(ledger, name, mover)
    for name in ledger.scenario.triggers:
        trigger = plan.triggers.get(name)
        if trigger is None:
            ledger.error("missing", "triggers", name, what="trigger", name=name)
        elif not all(map(math.isfinite, (trigger.setting, trigger.time_s, trigger.acts_at_s))):
            ledger.error("not-finite", "triggers", name, what=f"trigger {name}")
    for name, encounter in ledger.scenario.encounters.items():
        planned = plan.encounters.get(name)
        if planned is None:
            ledger.error("missing", "encounters", name, what="encounter", name=name)
        elif (planned.of, planned.with_) != (encounter.of, encounter.with_):
            ledger.error(
                "encounter-differs",
                "encounters",
                name,
                encounter=name,
                planned=f"{planned.of} and {planned.with_}",
                wanted=f"{encounter.of} and {encounter.with_}",
            )
        elif not all(
            map(math.isfinite, (planned.time_s, planned.station_of_m, planned.station_with_m))
        ):
            ledger.error("not-finite", "encounters", name, what=f"encounter {name}")
    return len(ledger.findings) == before


def _check_mover_usable(ledger: Ledger, name: str, mover: MoverPlan) -> None:
    start = mover.start
    numbers = [start.station_m, start.x_m, start.y_m, start.heading_deg, start.speed_mps]
    numbers.append(mover.launch_s)
    for piece in mover.pieces:
        numbers += [piece.start_s, piece.duration_s, piece.station_m, piece.speed_mps]
        numbers += [piece.accel_mps2, piece.jerk_mps3]
    if not all(map(math.isfinite, numbers)):
        ledger.error("not-finite", "movers", name, what=f"the motion of {name}")
        return
    if any(piece.duration_s < 0 for piece in mover.pieces):
        ledger.error("negative-duration", "movers", name, mover=name)
    lasting_s = abs(mover.launch_s) + sum(abs(piece.duration_s) for piece in mover.pieces)
    if lasting_s > LONGEST_S:
        ledger.error("too-long", "movers", name, mover=name, lasting_s=lasting_s, most_s=LONGEST_S)


def check_commands(ledger: Ledger, paths: Mapping[str, Path], plan: Plan) -> dict[str, Motion]:
    """Check marks, joins and recorded states of every mover.

    Returns each mover's motion integrated on the plan's own timing.
    """
    motions = {}
    for name, mover in ledger.scenario.movers.items():
        planned = plan.movers[name]
        motions[name] = own_motion(planned)
        _check_start(ledger, name, mover, planned, paths[name])
        _check_joins(ledger, name, planned)
        _check_drift(ledger, name, planned, motions[name])
    return motions


def own_motion(planned: MoverPlan) -> Motion:
    """Integrate a mover's commands on the plan's own timing."""
    return integrate(
        planned.start.station_m,
        planned.start.speed_mps,
        planned.launch_s,
        [piece.duration_s for piece in planned.pieces],
        [piece.accel_mps2 for piece in planned.pieces],
        [piece.jerk_mps3 for piece in planned.pieces],
    )


def _check_start(ledger: Ledger, name: str, mover: Mover, planned: MoverPlan, path: Path) -> None:
    start = planned.start
    span = mover.start.station
    if not span.lo - DRIFT <= start.station_m <= span.hi + DRIFT:
        ledger.error(
            "start-station",
            "movers",
            name,
            "start",
            "station",
            mover=name,
            station_m=start.station_m,
            least_m=span.lo,
            most_m=span.hi,
        )
    if abs(start.speed_mps - mover.start.speed_mps) > DRIFT:
        ledger.error(
            "start-speed",
            "movers",
            name,
            "start",
            "speed",
            mover=name,
            speed_mps=start.speed_mps,
            wanted_mps=mover.start.speed_mps,
        )
    x_m, y_m, heading_rad, _ = path.pose_at(start.station_m)
    off_m = math.hypot(x_m - start.x_m, y_m - start.y_m)
    if off_m > DRIFT:
        ledger.error("start-mark", "movers", name, "path", mover=name, off_m=off_m)
    # One that drives backwards points the other way than its path.
    points_deg = 180.0 if mover.body.backwards else 0.0
    turned = math.degrees(heading_rad) + points_deg - start.heading_deg
    turned = math.remainder(turned, 360.0)
    if abs(turned) > HEADING_DEG:
        ledger.error("start-heading", "movers", name, "path", mover=name, off_deg=turned)


def _check_joins(ledger: Ledger, name: str, planned: MoverPlan) -> None:
    now = planned.launch_s
    for piece in planned.pieces:
        if abs(piece.start_s - now) > TIME_S:
            ledger.error(
                "hole",
                "movers",
                name,
                mover=name,
                phase=piece.phase,
                time_s=now,
                missing_s=piece.start_s - now,
            )
            return
        now = piece.start_s + piece.duration_s


def _check_drift(ledger: Ledger, name: str, planned: MoverPlan, motion: Motion) -> None:
    # Own time: the pieces' durations laid end to end, whatever their recorded starts are.
    elapsed_s = 0.0
    for piece in planned.pieces:
        station, speed = motion.state(planned.launch_s + elapsed_s)
        elapsed_s += piece.duration_s
        if _drifts(piece, station, speed):
            ledger.error(
                "drift",
                "movers",
                name,
                mover=name,
                phase=piece.phase,
                time_s=piece.start_s,
                station_m=piece.station_m - station,
                speed_mps=piece.speed_mps - speed,
            )
            return


def _drifts(piece: Piece, station: float, speed: float) -> bool:
    return abs(piece.station_m - station) > DRIFT or abs(piece.speed_mps - speed) > DRIFT
