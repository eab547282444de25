"""Ramps that a plan drives otherwise than at their limit, or at the usual rate, though nobody asked for it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from choreo.case.record import Case
from choreo.linear import chosen, open_shapes
from choreo.linear.profile import profile_of
from choreo.plans.message import messages_of
from choreo.plans.record import Plan
from choreo.problem import Staging
from choreo.problem.records import Ramp
from choreo.scenario import Span
from choreo.solve.attempts import Solved
from choreo.solve.reading import PieceReading, Reading
from choreo.words import Finding
from choreo.words.display import quantity

# A ramp that lasts as long as at its limit, but for this share, is at its limit.
DEPARTS_RATIO = 1e-6
# ... and one that the nonlinear solver drives, which ends within its own tolerances, but for this.
NEARLY_RATIO = 1e-3
# A steady speed in a ramp that lasts longer (s) is told: plans are told to the millisecond.
PAUSES_S = 1e-3

# What tells that a ramp is driven otherwise than at its limit.
DEPARTURES = frozenset({"plan.gentler", "plan.pauses", "plan.uneven"})


def departed(
    staging: Staging,
    reading: Reading,
    least_ratio: float = DEPARTS_RATIO,
    *,
    proven: bool = True,
) -> Iterator[Finding]:
    """Give a warning for each ramp of no stated rate that differs from its limit, or from its mover's usual rate.

    So does one of a given length or duration that isn't driven evenly. least_ratio: one that lasts longer, or shorter,
    by no more than this share does not. proven: at their limits there is no plan; else none was found.
    """
    for name, index in sorted(open_shapes(staging.problem) - chosen(staging.problem)):
        mover = staging.problem.mover(name)
        ramp = mover.phases[index]
        motion = reading.movers[name]
        lasts = motion.phases[index].end_s - motion.phases[index].start_s
        wanted = None
        if isinstance(ramp, Ramp):
            ends = motion.phases[index]
            if (ends.end_mps - ends.start_mps) * ramp.direction < 0.0:
                continue  # a speed in a range was chosen on the other side: the limit is another one
            wanted = profile_of(replace(ramp, to=Span.at(ends.end_mps)), ends.start_mps)
        if wanted is None or not isinstance(ramp, Ramp):
            continue
        if abs(lasts - wanted.duration_s) <= wanted.duration_s * least_ratio:
            continue
        pieces = [q for q in motion.pieces if q.phase == index]
        longest = max(pieces, key=_pause_s)
        if _pause_s(longest) > PAUSES_S:
            yield Finding(
                "plan.pauses",
                "warning",
                ramp.origin,
                {
                    "mover": name,
                    "phase": ramp.name,
                    "speed": quantity(longest.speed_mps, "m/s"),
                    "time": quantity(longest.duration_s, "s"),
                },
                (),
            )
            continue
        most = max(abs(a) for q in pieces for a in _ends_mps2(q))
        values = {
            "mover": name,
            "phase": ramp.name,
            "now": quantity(most, "m/s2"),
            "limit": quantity(wanted.most_accel_mps2, "m/s2"),
            "what": "its limit" if ramp.limit is None else "its usual rate",
            "none": "there is no plan" if proven else "no plan was found",
            "key": "accelerate" if wanted.rising else "brake",
        }
        code = "plan.gentler"
        if values["now"] == values["limit"]:
            code = "plan.uneven"
            values |= {"now": quantity(lasts, "s"), "limit": quantity(wanted.duration_s, "s")}
        yield Finding(code, "warning", ramp.origin, values, ())


def paused(reading: Reading, ramps: frozenset[tuple[str, int]]) -> frozenset[tuple[str, int]]:
    """Give those of some ramps (mover, phase) that stay at a speed for longer than counts."""
    return frozenset(
        (name, piece.phase)
        for name, motion in reading.movers.items()
        for piece in motion.pieces
        if (name, piece.phase) in ramps and _pause_s(piece) > PAUSES_S
    )


def with_departures(case: Case, plan: Plan, solved: Solved, *, proven: bool = False) -> Plan:
    """Give the plan of the nonlinear stage with these warnings.

    Where ramps are wanted as gentle as can be, that is what was asked for. proven: that there is none at the limits.
    """
    if case.scenario.prefer == "gentlest ramps":
        return plan
    reading = solved.solution.reading
    changed = messages_of(tuple(departed(case.staging, reading, NEARLY_RATIO, proven=proven)))
    return replace(plan, warnings=(*changed, *plan.warnings))


def _pause_s(piece: PieceReading) -> float:
    """How long a piece of a ramp stays at its speed."""
    return 0.0 if piece.accel_mps2 or piece.jerk_mps3 else piece.duration_s


def _ends_mps2(piece: PieceReading) -> tuple[float, float]:
    return piece.accel_mps2, piece.accel_mps2 + piece.duration_s * piece.jerk_mps3
